//! Memory does not grow with the number of samples.
//!
//! One test alone, because the system tells the highest memory of all ended children together.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]
#![cfg(target_os = "linux")]

mod program;

use nix::sys::resource::{UsageWho, getrusage};
use program::{TELECOM, folder_with, succeed};

/// Samples from which on all stores have their final size.
const SETTLED: u64 = 40_000;
/// By how much a run of four times as many samples may grow: the list of row groups in the Parquet
/// footers takes some 2 MB more, what the allocator scatters varies by as much.
const SHARE: f64 = 0.1;

/// The highest resident memory of any child so far, in kilobytes (getrusage(2) on Linux).
fn peak() -> f64 {
    getrusage(UsageWho::RUSAGE_CHILDREN).unwrap().max_rss() as f64
}

#[test]
fn four_times_the_samples_take_no_more_memory() {
    let folder = folder_with(&[("telecom.toml", TELECOM)]);
    let run = |samples: u64| {
        let options = "--solver averaged --threads 2 --quiet --out out";
        succeed(folder.path(), &format!("run telecom.toml --samples {samples} {options}"));
        peak()
    };
    let few = run(100);
    let settled = run(SETTLED);
    assert!(settled > few + 10_000.0, "the peaks are measured: {few} kB, {settled} kB");
    let more = run(4 * SETTLED);
    assert!(more <= (1.0 + SHARE) * settled, "{settled} kB have become {more} kB");
}
