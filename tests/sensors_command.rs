//! The verb `sensors` as its users run it.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

mod program;

use std::fs;

use fairphase::scenario::Scenario;
use program::{SHELF, changed, entries, fairphase, folder_with, interrupted, json, succeed};

/// Three operating points and the table `[sensors]`; invented.
const LAMPS: &str = include_str!("../scenarios/greenhouse-lamps.toml");

#[test]
fn files_are_whole_and_the_same_for_any_number_of_threads() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let [one, two] = [1, 2].map(|threads| {
        let options = format!("--samples 300 --quiet --threads {threads} --out {threads}");
        assert_eq!(succeed(folder.path(), &format!("sensors lamps.toml {options}")), "");
        let out = folder.path().join(threads.to_string());
        assert_eq!(entries(&out), ["report.html", "summary.json"]);
        ["report.html", "summary.json"].map(|name| fs::read(out.join(name)).unwrap())
    });
    assert!(one == two);
    let page = String::from_utf8(one[0].clone()).unwrap();
    for words in [
        "Can the current sensors go?",
        "fairphase sensors lamps.toml --samples 300 --seed 11 --solver exact",
        "High voltage can kill.",
        "(d) chain + sensors",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("PARTIAL") && !page.contains("<script"));
}

/// The verdict stands first on the terminal, within 80 columns; what it prints is what it writes.
#[test]
fn the_terminal_tells_the_verdict_first() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let text = succeed(folder.path(), "sensors lamps.toml --samples 600 --out out");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let lines: Vec<&str> = text.lines().collect();
    let summary = json(&folder.path().join("out/summary.json"));
    assert_eq!(lines[3], summary["headline"].as_str().unwrap());
    assert_eq!(summary["verdict"], "pass");
    assert_eq!(summary["complete"], true);
    let variants = summary["variants"].as_array().unwrap();
    let letters: Vec<_> = variants.iter().map(|v| v["letter"].as_str().unwrap()).collect();
    assert_eq!(letters, ["a", "b", "c", "d"]);
    for v in variants {
        let all =
            ["solved", "out_of_range", "not_solved"].map(|k| v["counts"][k].as_u64().unwrap());
        assert_eq!(all.iter().sum::<u64>(), 3 * 600);
        assert_eq!(v["yield"]["trials"], 600);
    }
    let printed = succeed(folder.path(), "sensors lamps.toml --samples 600 --json --out again");
    assert_eq!(printed.as_bytes(), fs::read(folder.path().join("out/summary.json")).unwrap());
}

#[test]
fn a_pass_can_be_required() {
    let harder = changed(LAMPS, "\"2.2 %\"", "\"0.5 %\"");
    let folder = folder_with(&[("lamps.toml", LAMPS), ("harder.toml", &harder)]);
    let options = "--samples 400 --solver averaged --quiet --require-pass --out out";
    assert_eq!(fairphase(folder.path(), &format!("sensors harder.toml {options}")).status, 1);
    let options = "--samples 600 --quiet --require-pass --out out";
    assert_eq!(fairphase(folder.path(), &format!("sensors lamps.toml {options}")).status, 0);
}

#[test]
fn wrong_sensors_are_refused_with_their_place() {
    let place = |text: &str| {
        let line = LAMPS.lines().position(|l| l.starts_with(text)).unwrap() + 1;
        let column = LAMPS.lines().nth(line - 1).unwrap().find('"').map_or(1, |c| c + 1);
        format!("wrong.toml:{line}:{column}")
    };
    for (from, to, key, words) in [
        ("\"resonant_inductance\"", "\"turns_ratio\"", "trim  ", "resonant_capacitance"),
        ("\"8 %\"", "\"80 %\"", "trim_range", "at most 50 %"),
        ("\"3 mΩ\"", "\"3 mH\"", "added_resistance", "expected a resistance"),
        ("\"80 mA\"", "\"80 mV\"", "band  = \"80 mA", "expected a current"),
        ("\"output-current\"      #", "\"charge\"      #", "measured", "rms-tank-current"),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(LAMPS, from, to))]);
        for verb in ["sensors", "check"] {
            let said = fairphase(folder.path(), &format!("{verb} wrong.toml --out out"));
            assert_eq!(said.status, 2, "{}", said.stderr);
            assert!(said.stderr.contains(&place(key)), "{}: {}", place(key), said.stderr);
            assert!(said.stderr.contains(words), "{words}: {}", said.stderr);
            assert_eq!(entries(folder.path()), ["wrong.toml"]);
        }
    }
}

#[test]
fn what_sensors_need_must_be_there() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let said = fairphase(folder.path(), "sensors shelf.toml --out out");
    assert_eq!(said.status, 2);
    assert!(said.stderr.contains("lacks `sensors`"), "{}", said.stderr);
    assert!(said.stderr.contains("shelf.toml:1:1"), "{}", said.stderr);
    assert!(Scenario::parse("shelf.toml", SHELF).unwrap().sensors.is_none());
    for (key, table) in [
        ("trim_element     = 3.1", "sensors.price"),
        ("flying_capacitor = 3\n", "sensors.failure_rate"),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(LAMPS, key, ""))]);
        let said = fairphase(folder.path(), "sensors wrong.toml --out out");
        assert_eq!(said.status, 2);
        assert!(said.stderr.contains(&format!("[{table}] lacks")), "{}", said.stderr);
    }
}

/// Asked to stop in the middle, the samples that are done are written and marked.
#[test]
fn interrupted_it_writes_what_is_finished_and_says_so() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let out = folder.path().join("out");
    let arguments = "sensors lamps.toml --samples 1000000000 --out out";
    let said = interrupted(folder.path(), arguments, &out);
    assert!(said.stdout.contains("PARTIAL: stopped after"), "{}", said.stdout);
    assert_eq!(entries(&out), ["report.html", "summary.json"]);
    let summary = json(&out.join("summary.json"));
    assert_eq!(summary["complete"], false);
    let trials = summary["variants"][1]["yield"]["trials"].as_u64().unwrap();
    assert!((1..1_000_000_000).contains(&trials), "{trials}");
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("PARTIAL: stopped after"));
}
