//! Memory does not grow with the number of samples.
//!
//! One test alone, because the system tells the highest memory of all ended children together.
#![allow(missing_docs, clippy::expect_used, clippy::unwrap_used, reason = "a test")]
#![cfg(target_os = "linux")]

mod program;

use nix::sys::resource::{UsageWho, getrusage};
use program::{folder_with, succeed};

/// Two phases: quickly solved. The data are invented.
const PUMP: &str = include_str!("../scenarios/pump-drive.toml");
/// Samples from which on all stores have their final size: more than the 32 768 that are kept as
/// they are, more than a row group.
const SETTLED: u64 = 40_000;
/// By how much a run of ten times as many samples may grow. The lists of row groups in the footers
/// of the Parquet files take 7 MB for each million samples more: here 5 %. Stores that went on
/// growing took 33 %.
const SHARE: f64 = 0.15;

/// The highest resident memory of any child so far, in kilobytes (getrusage(2) on Linux).
fn peak() -> f64 {
    getrusage(UsageWho::RUSAGE_CHILDREN).unwrap().max_rss() as f64
}

#[test]
fn ten_times_the_samples_take_no_more_memory() {
    let folder = folder_with(&[("pump.toml", PUMP)]);
    let run = |samples: u64| {
        let options = "--solver averaged --threads 2 --quiet --out out";
        succeed(folder.path(), &format!("run pump.toml --samples {samples} {options}"));
        peak()
    };
    let few = run(100);
    let settled = run(SETTLED);
    assert!(settled > few + 10_000.0, "the peaks are measured: {few} kB, {settled} kB");
    let more = run(10 * SETTLED);
    assert!(more <= (1.0 + SHARE) * settled, "{settled} kB have become {more} kB");
}
