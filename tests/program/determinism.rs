//! The same scenario, seed and version give the same bytes, for any number of threads.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::support;
use std::fs;
use std::path::Path;
use std::process::Command;

const FILES: [&str; 6] = [
    "report.html",
    "summary.json",
    "samples.parquet",
    "population.parquet",
    "ratings.csv",
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
    // The averaged solver gives no ratings.
    let is_empty = |name: &str| name == "ratings.csv" && options.contains("averaged");
    let mut all = once.iter().zip(&other).zip(FILES);
    assert!(all.all(|((a, b), name)| is_empty(name) || a != b), "another seed gives other bytes");
}

#[test]
fn exact_results_do_not_depend_on_threads() {
    check("--samples 2500");
}

/// Units are solved on all threads too, and told in the order of their file.
#[test]
fn listed_units_do_not_depend_on_threads() {
    let folder = support::folder_with(&[("telecom.toml", support::TELECOM)]);
    support::succeed(folder.path(), "run telecom.toml --samples 60 --out run --quiet");
    let [one, many] = [1, 8].map(|threads| {
        let options = format!("--threads {threads} --out {threads} --quiet");
        let parts = "--parts run/worst_converters.csv";
        support::succeed(folder.path(), &format!("units telecom.toml {parts} {options}"));
        let out = folder.path().join(threads.to_string());
        ["report.html", "units.csv", "unit_ratings.csv", "commutation.csv", "summary.json"]
            .map(|name| fs::read(out.join(name)).unwrap())
    });
    assert!(one == many);
    let mut order: Vec<String> = Vec::new();
    for record in csv::Reader::from_reader(one[1].as_slice()).records() {
        order.push(record.unwrap()[0].to_owned());
    }
    order.dedup();
    let parts = fs::read(folder.path().join("run/worst_converters.csv")).unwrap();
    let mut listed: Vec<String> = csv::Reader::from_reader(parts.as_slice())
        .records()
        .map(|record| record.unwrap()[0].to_owned())
        .collect();
    listed.dedup();
    assert_eq!(order, listed);
}

/// The way to the scenario, as it is typed from one folder or another, is no part of the results.
#[test]
fn results_do_not_depend_on_the_way_to_the_scenario() {
    let folder = support::folder_with(&[("shelf.toml", support::SHELF)]);
    fs::create_dir(folder.path().join("below")).unwrap();
    let absolute = folder.path().join("shelf.toml");
    let ways = [(".", "shelf.toml"), ("below", "../shelf.toml"), ("/", absolute.to_str().unwrap())];
    let results = ways.map(|(from, scenario)| {
        let out = folder.path().join("out");
        let options = format!("--samples 20 --quiet --out {}", out.display());
        support::succeed(&folder.path().join(from), &format!("run {scenario} {options}"));
        let run = support::run_files(&out);
        let parts = out.join("worst_converters.csv").display().to_string();
        let options = format!("--parts {parts} --quiet --out {}/units", folder.path().display());
        support::succeed(&folder.path().join(from), &format!("units {scenario} {options}"));
        let units = folder.path().join("units");
        let units = support::entries(&units).into_iter().map(|n| fs::read(units.join(n)).unwrap());
        (run, units.collect::<Vec<_>>())
    });
    assert!(results[0] == results[1] && results[0] == results[2]);
    let page = String::from_utf8(results[0].0[2].1.clone()).unwrap();
    assert!(page.contains("In the folder of the scenario:"));
    assert!(page.contains("fairphase run shelf.toml --samples 20 --seed 1 --solver exact"));
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
            let [short, long] = [&short, &long].map(|out| support::parquet(&out.join(name)));
            let rows = short.height();
            assert_eq!((rows % 300, long.height()), (0, rows / 300 * 2500), "{name}");
            assert!(long.rows(0, rows) == short, "{name} {options}");
            assert!(long.rows(1, rows) != short, "{name}: other rows are told apart");
        }
    }
}
