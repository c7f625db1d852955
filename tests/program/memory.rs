//! Memory does not grow with the number of samples, and little with the number of operating points.
#![allow(missing_docs, clippy::expect_used, clippy::unwrap_used, reason = "a test")]
#![cfg(target_os = "linux")]

use std::fs;
use std::process::Child;
use std::thread::sleep;
use std::time::Duration;

use crate::support::{SHELF, command, folder_with};

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

/// The shelf with so many operating points; invented.
fn with_points(points: u32) -> String {
    let (head, rest) = SHELF.split_once("[[operating_point]]").unwrap();
    let tables = &rest[rest.find("\n[tolerance").unwrap()..];
    let point = |n: u32| {
        let share = f64::from(n) / f64::from(points);
        format!(
            "[[operating_point]]\nname = \"p{n}\"\ninput_voltage = \"380 V\"\noutput_voltage = \
             \"{} V\"\noutput_current = \"{} A\"\ndrive = \"full-bridge\"\nrectifier = \
             \"full-bridge\"\n",
            44.0 + 10.0 * share,
            30.0 + 30.0 * share
        )
    };
    head.to_owned() + &(0..points).map(point).collect::<String>() + tables
}

/// Kilobytes that an operating point of three phases may take: 1650 to 1750 were measured, and what the heaps of
/// threads keep differs by a tenth and more. With counters of 32 bits for each bin, all values of headline
/// figures, and the summary as a tree of values it took 4000.
const KILOBYTES_A_POINT: f64 = 2200.0;

#[test]
fn an_operating_point_takes_little_memory() {
    let (few, many) = (10_u32, 110_u32);
    let [few_toml, many_toml] = [few, many].map(with_points);
    let folder = folder_with(&[("few.toml", &few_toml), ("many.toml", &many_toml)]);
    let run = |scenario: &str| {
        let options = "--samples 3000 --solver averaged --threads 2 --quiet --out out";
        peak(command(folder.path(), &format!("run {scenario} {options}")).spawn().unwrap())
    };
    let [base, peak] = ["few.toml", "many.toml"].map(run);
    let of_a_point = (peak - base) / f64::from(many - few);
    assert!(of_a_point < KILOBYTES_A_POINT, "{base} kB, {peak} kB: {of_a_point} kB a point");
}
