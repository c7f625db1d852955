//! What is judged against the limits before and beside the samples: the nominal converter in `run`, and
//! listed converters in `units`, with measured currents beside the predicted ones.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{SHELF, changed, fairphase, folder_with, json, succeed};

fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap()
}

/// By hand: the middle high switch of a chain of three stands between capacitors two thirds of 380 V
/// apart, which is 253 V. A limit of 220 V is missed by every sample, so `run` says it first, in all
/// places, with the value of `check`. Paralleled, every switch blocks the whole 380 V.
#[test]
fn run_says_before_it_samples_which_limits_the_nominal_converter_misses() {
    let tight = changed(SHELF, "sharing_error = \"5 %\"", "blocking_voltage = \"220 V\"");
    let folder = folder_with(&[("shelf.toml", SHELF), ("tight.toml", &tight)]);
    let said = fairphase(folder.path(), "run tight.toml --samples 20 --out out");
    assert_eq!(said.status, 0, "{}", said.stderr);
    let note = "note: the nominal chain already misses a limit: blocking voltage of a switch 2";
    assert!(said.stderr.starts_with(note), "{}", said.stderr);
    assert!(said.stderr.contains("V, at most 220 V, at \"full load\"\n"), "{}", said.stderr);
    assert_eq!(said.stderr.lines().count(), 1, "{}", said.stderr);
    let lines: Vec<&str> = said.stdout.lines().skip(2).collect();
    assert_eq!(lines[0], "The nominal chain already misses limits of the scenario:");
    assert!(lines[1].starts_with("  blocking voltage of a switch 2"), "{}", said.stdout);
    assert_eq!(lines[2], "The nominal paralleled reference already misses limits:");
    assert!(lines[3].contains("380.0 V, at most 220 V"), "{}", said.stdout);
    assert_eq!(succeed(folder.path(), "run tight.toml --samples 20 --out quiet --quiet"), "");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    let [miss, verdict] = ["The nominal chain already misses", "class=\"verdicts\""]
        .map(|words| page.find(words).unwrap());
    assert!(miss < verdict, "before the verdicts");
    check_agrees(folder.path());
    let sound = succeed(folder.path(), "run shelf.toml --samples 20 --out out");
    assert!(!sound.contains("already misses"), "{sound}");
    assert_eq!(list(&json(&folder.path().join("out/summary.json"))["nominal_misses"]).len(), 0);
}

/// `check` and `run` on the tight shelf: the same limits and values.
#[track_caller]
fn check_agrees(folder: &Path) {
    let run = json(&folder.join("out/summary.json"));
    let check = succeed(folder, "check tight.toml --json");
    let check: Value = serde_json::from_str(&check).unwrap();
    let misses = list(&run["nominal_misses"]);
    assert_eq!(misses.len(), 2);
    for (miss, case) in misses.iter().zip(list(&check["results"])) {
        for key in ["figure", "limit", "value"] {
            assert_eq!(miss[key], case["missed"][0][key], "{key}");
        }
        assert_eq!(miss["arrangement"], case["arrangement"]);
    }
    let thirds = 2.0 * 380.0 / 3.0;
    assert!((thirds..1.05 * thirds).contains(&misses[0]["value"].as_f64().unwrap()));
}

/// The limit of the scenario is on switches: `check` shows what it limits beside the tank currents. Of
/// half-bridge drive: a low switch of the return leg that is held on carries the whole tank current, the
/// highest of all.
#[test]
fn check_tells_switch_currents_from_tank_currents() {
    let half = changed(SHELF, "drive     = \"full-bridge\"", "drive     = \"half-bridge\"");
    let half = changed(&half, "\"380 V\"", "\"760 V\"");
    let folder = folder_with(&[("half.toml", &half)]);
    let said = succeed(folder.path(), "check half.toml");
    let headings: Vec<&str> = said.lines().filter(|line| line.contains("RMS")).collect();
    assert!(headings.len() == 2, "a tank's and a switch's, each under its own name:\n{said}");
    let said = said.replace('\n', " ");
    let words: Vec<&str> = said.split_whitespace().collect();
    assert!(words.contains(&"tank") && words.contains(&"switch"), "{said}");
    let printed = succeed(folder.path(), "check half.toml --json");
    let check: Value = serde_json::from_str(&printed).unwrap();
    let chain = &check["results"][0];
    let largest = |key: &str| {
        list(&chain[key]).iter().map(|value| value.as_f64().unwrap()).fold(0.0, f64::max)
    };
    let switch = |key: &str| chain[key].as_f64().unwrap();
    assert!((switch("switch_rms_current_A") / largest("rms_tank_current_A") - 1.0).abs() < 1e-9);
    assert!((switch("switch_peak_current_A") / largest("peak_tank_current_A") - 1.0).abs() < 1e-9);
}
