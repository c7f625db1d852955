//! The same scenario, seed and version give the same bytes, for any number of threads.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

mod program;

use std::fs;
use std::path::Path;
use std::process::Command;

const FILES: [&str; 5] = [
    "report.html",
    "summary.json",
    "samples.parquet",
    "population.parquet",
    "worst_converters.csv",
];

fn run(out: &Path, options: &str) -> Vec<Vec<u8>> {
    let scenario = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/pump-drive.toml");
    let status = Command::new(env!("CARGO_BIN_EXE_fairphase"))
        .args(["run", scenario, "--quiet", "--out"])
        .arg(out)
        .args(options.split_whitespace())
        .status()
        .unwrap();
    assert!(status.success());
    FILES.iter().map(|name| fs::read(out.join(name)).unwrap()).collect()
}

/// More than one batch of 2048 samples, so that the order of batches matters too.
fn check(options: &str) {
    let folder = tempfile::tempdir().unwrap();
    let once = run(&folder.path().join("once"), &format!("{options} --threads 1"));
    for threads in [1, 2, 8] {
        let out = folder.path().join(threads.to_string());
        let again = run(&out, &format!("{options} --threads {threads}"));
        for ((a, b), name) in once.iter().zip(&again).zip(FILES) {
            assert!(a == b, "{name} differs with {threads} threads");
        }
    }
    let other = run(&folder.path().join("other"), &format!("{options} --seed 99"));
    assert!(once.iter().zip(&other).all(|(a, b)| a != b), "another seed gives other bytes");
}

#[test]
fn exact_results_do_not_depend_on_threads() {
    check("--samples 2500");
}

#[test]
fn averaged_results_do_not_depend_on_threads() {
    check("--samples 5000 --solver averaged");
}

/// Sample k is a function of seed and k: of a longer run, the first samples are the same.
#[test]
fn a_longer_run_begins_with_the_samples_of_a_shorter_one() {
    let folder = tempfile::tempdir().unwrap();
    let [short, long] = ["short", "long"].map(|name| folder.path().join(name));
    for options in ["", "--solver averaged"] {
        run(&short, &format!("{options} --samples 300"));
        run(&long, &format!("{options} --samples 2500"));
        for name in ["samples.parquet", "population.parquet"] {
            let [short, long] = [&short, &long].map(|out| program::parquet(&out.join(name)));
            let rows = short.height();
            assert_eq!((rows % 300, long.height()), (0, rows / 300 * 2500), "{name}");
            assert!(long.head(Some(rows)).equals_missing(&short), "{name} {options}");
            let next = long.slice(1, rows);
            assert!(!next.equals_missing(&short), "{name}: other rows are told apart");
        }
    }
}
