//! `run --decide`: goes on until the verdict is decided, and says what ended it.
#![allow(clippy::unwrap_used, clippy::panic, clippy::expect_used, reason = "a test")]

use std::fs;
use std::path::Path;

use fairphase::statistics::{Confidence, SequentialTest, Verdict};
use serde_json::Value;

use crate::support::{
    RUN_FILES, SHELF, fairphase, folder_with, json, parquet, run_files, succeed, truths, words,
};

/// A limit that about 99.2 % of the chains keep to: the target of 99 % takes some ten thousand samples.
fn close(most_samples: u64) -> String {
    SHELF.replacen("sharing_error = \"5 %\"", "sharing_error = \"1.18 %\"", 1).replacen(
        "samples = 20000",
        &format!("samples = 20\nmost_samples = {most_samples}"),
        1,
    )
}

/// Invented converters.
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

const DECIDE: &str = "run shelf.toml --decide --solver averaged";

fn test() -> SequentialTest {
    SequentialTest::new(0.99, Confidence::new(0.95).unwrap(), 10_000_000)
}

/// A whole number as it is shown.
fn grouped(n: u64) -> String {
    let digits: Vec<char> = n.to_string().chars().rev().collect();
    let groups = digits.chunks(3).map(|group| group.iter().collect::<String>());
    groups.collect::<Vec<_>>().join(" ").chars().rev().collect::<String>()
}

/// Whether each chain is good, in the order of the samples.
fn chains(out: &Path) -> Vec<bool> {
    let frame = parquet(&out.join("samples.parquet"));
    let arrangements = words(&frame, "arrangement");
    let good = truths(&frame, "meets_limits");
    arrangements.iter().zip(good).filter(|(a, _)| *a == "chain").map(|(_, good)| good).collect()
}

/// A look after every batch of 2048 samples, and no sooner: the verdict and interval are those of the
/// sequential test on the samples in the file, and at no earlier look was there a verdict.
#[test]
fn it_goes_on_until_the_verdict_is_decided() {
    let folder = folder_with(&[("shelf.toml", &close(10_000_000))]);
    succeed(folder.path(), &format!("{DECIDE} --quiet --out out"));
    let out = folder.path().join("out");
    let summary = json(&out.join("summary.json"));
    let joint = &summary["joint"]["chain"];
    let samples = summary["samples"].as_u64().unwrap();
    assert!(samples > 2 * 2048 && samples.is_multiple_of(2048), "{samples}");
    let good = chains(&out);
    assert_eq!(good.len() as u64, samples);
    let count = |n: usize| good[..n].iter().filter(|good| **good).count() as u64;
    for looked in (2048..good.len()).step_by(2048) {
        assert_eq!(test().verdict(count(looked), looked as u64), Verdict::NotDecided, "{looked}");
    }
    let found = test().estimate(count(good.len()), samples).unwrap();
    assert_eq!(joint["verdict"], "pass");
    for (key, value) in [("lower", found.lower), ("upper", found.upper)] {
        let told = joint["yield"][key].as_f64().unwrap();
        assert!((told - value).abs() < 1e-12, "{key}: {told} {value}");
    }
}

/// What ended the run, and which intervals are shown, in summary, page and terminal.
#[test]
fn it_says_what_ended_it_and_which_intervals_it_shows() {
    let folder = folder_with(&[("shelf.toml", &close(10_000_000))]);
    let said = succeed(folder.path(), &format!("{DECIDE} --out out"));
    let out = folder.path().join("out");
    let summary = json(&out.join("summary.json"));
    let sampling = &summary["sampling"];
    assert_eq!(
        (&sampling["rule"], &sampling["ended_by"]),
        (&"until decided".into(), &"verdict".into())
    );
    assert_eq!(sampling["most_samples"], 10_000_000);
    assert_eq!(sampling["samples_in_files"], summary["samples"]);
    assert_eq!(summary["joint"]["chain"]["yield"]["method"], "sequential");
    let results = summary["results"].as_array().unwrap();
    assert!(results.len() == 2 && results.iter().all(|r| r["yield"]["method"] == "sequential"));
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("sequential interval") && !page.contains("Clopper–Pearson"), "the page");
    assert!(page.contains("fairphase run shelf.toml --decide --seed 1 --solver averaged"));
    assert!(said.contains("The verdict of the chain ended the run"), "{said}");
}

#[test]
fn where_it_ends_does_not_depend_on_the_threads() {
    let folder = folder_with(&[("shelf.toml", &close(10_000_000))]);
    let files = |threads: u32| -> Vec<Vec<u8>> {
        succeed(folder.path(), &format!("{DECIDE} --threads {threads} --quiet --out {threads}"));
        let out = folder.path().join(threads.to_string());
        assert_eq!(run_files(&out).len(), RUN_FILES.len());
        RUN_FILES.iter().map(|name| fs::read(out.join(name)).unwrap()).collect()
    };
    let (one, many) = (files(1), files(8));
    for ((one, many), name) in one.iter().zip(&many).zip(RUN_FILES) {
        assert!(one == many, "{name}");
    }
}

#[test]
fn the_most_samples_end_it_without_a_verdict() {
    let folder = folder_with(&[("shelf.toml", &close(3000))]);
    let said = succeed(folder.path(), &format!("{DECIDE} --out out"));
    let summary = json(&folder.path().join("out/summary.json"));
    assert_eq!(summary["samples"], 3000);
    assert_eq!(summary["sampling"]["ended_by"], "most samples");
    let joint = &summary["joint"]["chain"];
    assert_eq!(joint["verdict"], "not decided");
    assert!(joint["samples_until_decided"].as_u64().unwrap() > 3000, "{joint}");
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("ended at the most samples allowed, 3 000 samples"), "{said}");
    let most = joint["samples_until_decided"].as_u64().unwrap();
    assert!(most.is_multiple_of(2048), "{most}");
    let told = format!("`[run] most_samples` raised to {} and the same --seed", grouped(most));
    assert!(words.contains(&told), "{told}: {said}");
    fs::write(folder.path().join("shelf.toml"), close(most)).unwrap();
    succeed(folder.path(), &format!("{DECIDE} --quiet --out raised"));
    let raised = json(&folder.path().join("raised/summary.json"));
    assert_eq!(raised["sampling"]["ended_by"], "verdict");
    fs::write(folder.path().join("shelf.toml"), close(3000)).unwrap();
    let refused = fairphase(folder.path(), &format!("{DECIDE} --out out --require-pass"));
    assert_eq!(refused.status, 1, "{}", refused.stderr);
}

/// The chain ends the run. An open reference is told to take a new run, and no `--decide`.
#[test]
fn the_reference_is_not_advised_to_go_on() {
    let target = "yield_target  = \"99.5 %\"";
    let pump = PUMP.replacen(target, "yield_target = \"2.4 %\"", 1);
    let folder = folder_with(&[("pump.toml", &pump)]);
    for options in ["--samples 600", "--decide"] {
        let command = format!("run pump.toml {options} --solver averaged --out out");
        let said = succeed(folder.path(), &command);
        let joint = &json(&folder.path().join("out/summary.json"))["joint"];
        assert_eq!(joint["chain"]["verdict"], "pass");
        let reference = &joint["paralleled"];
        assert_eq!(reference["verdict"], "not decided");
        assert!(reference["samples_until_decided"].is_null(), "{reference}");
        let new_run = grouped(reference["samples_to_decide"].as_u64().unwrap());
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        for text in [said, page.replace('\u{a0}', " ")] {
            assert!(text.contains(&format!("A new run of {new_run} samples")), "{text}");
            assert!(text.contains("--decide follows the chain alone."), "{text}");
            assert!(!text.contains("`run --decide`"), "{text}");
        }
    }
}

#[test]
fn a_number_of_samples_and_deciding_exclude_each_other() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let refused = fairphase(folder.path(), &format!("{DECIDE} --samples 500 --out out"));
    assert_eq!(refused.status, 2);
    for text in ["--decide", "--samples", "most_samples"] {
        assert!(refused.stderr.contains(text), "{}", refused.stderr);
    }
    assert!(!folder.path().join("out").exists());
}

/// A run of fixed size says which interval it shows, and advises no more samples of the same seed.
#[test]
fn a_fixed_run_tells_how_an_open_verdict_is_decided() {
    let folder = folder_with(&[("shelf.toml", &close(10_000_000))]);
    let options = "--samples 500 --solver averaged --out out";
    let said = succeed(folder.path(), &format!("run shelf.toml {options}"));
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let summary = json(&folder.path().join("out/summary.json"));
    let joint = &summary["joint"]["chain"];
    assert_eq!(joint["verdict"], "not decided");
    assert_eq!(joint["yield"]["method"], "clopper-pearson");
    assert_eq!(summary["sampling"]["rule"], "fixed");
    assert!(summary["sampling"]["most_samples"].is_null());
    let number = |key: &str| grouped(joint[key].as_u64().unwrap());
    let [until, new_run] = ["samples_until_decided", "samples_to_decide"].map(number);
    for text in [
        format!("`run --decide` goes on until it is decided: within {until} samples"),
        format!("A new run of {new_run} samples with another --seed"),
    ] {
        assert!(said.contains(&text), "{text}\n{said}");
    }
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("Clopper–Pearson interval") && !page.contains("sequential interval"));
    assert!(page.contains("not decided by more samples of the same seed"));
}

/// Quantiles after a run until decided rest on ranks farther out; the mean has no interval then.
#[test]
fn all_intervals_are_those_of_the_method() {
    let folder = folder_with(&[("shelf.toml", &close(10_000_000))]);
    succeed(folder.path(), &format!("{DECIDE} --quiet --out until"));
    let until = json(&folder.path().join("until/summary.json"));
    let samples = until["samples"].as_u64().unwrap();
    let options = format!("--samples {samples} --solver averaged --quiet --out fixed");
    succeed(folder.path(), &format!("run shelf.toml {options}"));
    let fixed = json(&folder.path().join("fixed/summary.json"));
    let error = |summary: &Value| summary["results"][0]["sharing_error"].clone();
    let (until, fixed) = (error(&until), error(&fixed));
    assert_eq!(until["p50"], fixed["p50"], "the same samples");
    assert!(until["mean_interval"].is_null() && fixed["mean_interval"]["lower"].is_number());
    let width = |error: &Value| {
        let end = |key: &str| error["p50_interval"][key].as_f64().unwrap();
        end("upper") - end("lower")
    };
    assert!(width(&until) > 1.2 * width(&fixed), "{until} {fixed}");
}
