//! Memory does not grow with the number of samples.
#![allow(missing_docs, clippy::expect_used, clippy::unwrap_used, reason = "a test")]
#![cfg(target_os = "linux")]

use std::fs;
use std::process::Child;
use std::thread::sleep;
use std::time::Duration;

use crate::support::{command, folder_with};

/// Two phases: quickly solved. The data are invented.
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");
/// Samples from which on all stores have their final size: more than the 32 768 that are kept as
/// they are, more than a row group.
const SETTLED: u64 = 40_000;
/// By how much a run of ten times as many samples may grow. The lists of row groups in the footers
/// of the Parquet files take 7 MB for each million samples more: here 5 %. Stores that went on
/// growing took 33 %.
const SHARE: f64 = 0.15;

/// Waits for a child that must succeed, and gives the highest resident memory that it had, in
/// kilobytes (`VmHWM` of proc(5)): read every few milliseconds, so that what the last of them add
/// is missed.
fn peak(mut child: Child) -> f64 {
    let status = format!("/proc/{}/status", child.id());
    let mut highest = 0.0;
    loop {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        if let Some(kilobytes) = line.and_then(|rest| rest.split_whitespace().next()) {
            highest = kilobytes.parse().unwrap();
        }
        if let Some(status) = child.try_wait().unwrap() {
            assert!(status.success());
            return highest;
        }
        sleep(Duration::from_millis(3));
    }
}

#[test]
fn ten_times_the_samples_take_no_more_memory() {
    let folder = folder_with(&[("pump.toml", PUMP)]);
    let run = |samples: u64| {
        let options = "--solver averaged --threads 2 --quiet --out out";
        let arguments = format!("run pump.toml --samples {samples} {options}");
        peak(command(folder.path(), &arguments).spawn().unwrap())
    };
    let few = run(1000);
    let settled = run(SETTLED);
    assert!(settled > few + 10_000.0, "the peaks are measured: {few} kB, {settled} kB");
    let more = run(10 * SETTLED);
    assert!(more <= (1.0 + SHARE) * settled, "{settled} kB have become {more} kB");
}
