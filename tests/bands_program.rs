//! The verb `bands` from the outside: files, figures, exit codes, wrong scenarios, interrupts.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a test")]

mod program;

use std::fs;
use std::path::Path;

use fairphase::scenario::Scenario;
use serde_json::Value;

use program::{SHELF, changed, entries, fairphase, folder_with, interrupted, json, succeed};

/// Invented: prices, a trade, three operating points.
const RUNWAY: &str = include_str!("../scenarios/runway-lights.toml");

/// The averaged solver and few samples: what is tested here is not the solver.
const QUICK: &str = "--solver averaged --samples 600 --seed 5";

fn files(folder: &Path) -> [Vec<u8>; 2] {
    assert_eq!(entries(folder), ["report.html", "summary.json"]);
    ["report.html", "summary.json"].map(|name| fs::read(folder.join(name)).unwrap())
}

fn row<'a>(summary: &'a Value, subject: &str) -> &'a Value {
    let rows = summary["arrangements"]["chain"]["widest"].as_array().unwrap();
    rows.iter().find(|row| row["subject"] == subject).unwrap()
}

#[test]
fn files_figures_and_the_same_bytes_for_any_number_of_threads() {
    let folder = folder_with(&[("runway.toml", RUNWAY)]);
    let stdout =
        succeed(folder.path(), &format!("bands runway.toml {QUICK} --out one --threads 1"));
    let again =
        succeed(folder.path(), &format!("bands runway.toml {QUICK} --out two --threads 2 --json"));
    let [one, two] = ["one", "two"].map(|out| files(&folder.path().join(out)));
    assert!(one == two, "threads change nothing");
    assert_eq!(again.as_bytes(), one[1], "--json prints the summary");
    let first = stdout.lines().find(|line| line.contains("present bands")).unwrap();
    assert!(first.contains("With charge balancing") && first.contains("(target 99.00 %)"));
    assert!(stdout.lines().all(|line| line.chars().count() <= 80), "{stdout}");
    for words in ["PASS", "all bands", "Cheapest set", "grid", "High voltage can kill"] {
        assert!(stdout.contains(words), "{words} in\n{stdout}");
    }
    let summary = json(&folder.path().join("one/summary.json"));
    assert_eq!(summary["verb"], "bands");
    assert_eq!((&summary["partial"], &summary["samples"]), (&false.into(), &600.into()));
    checked_looks(&summary);
    checked_points(&summary);
    checked_map(&summary);
    let page = fs::read_to_string(folder.path().join("one/report.html")).unwrap();
    assert!(page.contains("fairphase bands runway.toml --samples 600 --seed 5 --solver averaged"));
    assert!(page.contains("averaged solver") && !page.contains("<script"));
    let targets = page.split("href=\"#").skip(1).map(|s| s.split('"').next().unwrap());
    for target in targets {
        assert!(page.contains(&format!("id=\"{target}\"")), "{target}");
    }
}

/// What is called proven is so by a seed of its own, at the level of a quarter of the error.
fn checked_looks(summary: &Value) {
    let mut seeds = vec![summary["seed"].as_u64().unwrap()];
    let mut proven = 0;
    for row in summary["arrangements"]["chain"]["widest"].as_array().unwrap() {
        let looks = row["looks"].as_array().unwrap();
        for look in looks {
            seeds.push(look["seed"].as_u64().unwrap());
            let lower = look["yield"]["lower"].as_f64().unwrap();
            assert_eq!(look["meets"], lower >= 0.99, "{look}");
            assert_eq!(look["yield"]["confidence"], 0.9875);
        }
        if let Some(at) = row["proven"].as_f64() {
            proven += 1;
            let last = looks.last().unwrap();
            assert_eq!((last["at"].as_f64(), &last["meets"]), (Some(at), &true.into()));
            assert!(at <= row["found"].as_f64().unwrap());
        }
    }
    assert!(proven > 3, "{proven}");
    let count = seeds.len();
    seeds.sort_unstable();
    seeds.dedup();
    assert_eq!(seeds.len(), count, "every look has a seed of its own");
}

/// The search's own points: rising, closed in, with the limit that binds at the edge.
fn checked_points(summary: &Value) {
    let row = row(summary, "resonant_inductance");
    let points = row["points"].as_array().unwrap();
    let at = |p: &Value| p["at"].as_f64().unwrap();
    assert!(points.windows(2).all(|pair| at(&pair[0]) < at(&pair[1])));
    assert!(points[0]["at"] == 0.0 && points.iter().any(|p| p["at"] == 0.05), "{row}");
    let [found, fails] = ["found", "fails_from"].map(|key| row[key].as_f64().unwrap());
    assert!(found < fails && fails <= found * 1.020_001);
    let binding = &row["binding"];
    assert!(binding["missed"].as_u64().unwrap() > 0 && binding["operating_point"].is_string());
}

fn checked_map(summary: &Value) {
    let trade = &summary["trade"];
    let names = ["resonant_inductance", "magnetising_inductance"];
    assert_eq!(trade["parameters"], Value::from(names.to_vec()));
    let lower = trade["lower"].as_array().unwrap();
    assert_eq!((lower.len(), lower[0].as_array().unwrap().len()), (11, 11));
    assert!(!trade["boundary"].as_array().unwrap().is_empty());
}

/// The present yield is that of `run`, with the same seed.
#[test]
fn present_bands_are_judged_as_the_run_judges_them() {
    let folder = folder_with(&[("runway.toml", RUNWAY)]);
    succeed(folder.path(), &format!("bands runway.toml {QUICK} --out bands --quiet"));
    succeed(folder.path(), &format!("run runway.toml {QUICK} --out run --quiet"));
    let [bands, run] =
        ["bands", "run"].map(|out| json(&folder.path().join(out).join("summary.json")));
    for arrangement in ["chain", "paralleled"] {
        let (present, joint) =
            (&bands["arrangements"][arrangement]["present"], &run["joint"][arrangement]);
        assert_eq!((&present["yield"], &present["verdict"]), (&joint["yield"], &joint["verdict"]));
        assert_eq!(present["binding"], joint["binding"]);
    }
}

#[test]
fn require_pass_judges_the_present_bands() {
    let tight = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"0.2 %\"");
    let folder = folder_with(&[("good.toml", SHELF), ("tight.toml", &tight)]);
    for (name, options, status) in
        [("good", " --require-pass", 0), ("tight", " --require-pass", 1), ("tight", "", 0)]
    {
        let arguments = format!("bands {name}.toml {QUICK} --quiet --out {name}{options}");
        let said = fairphase(folder.path(), &arguments);
        assert_eq!((said.status, said.stdout.as_str()), (status, ""), "{name}: {}", said.stderr);
        files(&folder.path().join(name));
    }
    let summary = json(&folder.path().join("tight/summary.json"));
    let together = row(&summary, "together");
    assert!(together["margin"].as_f64().unwrap() < 1.0, "tight bands must shrink");
}

#[test]
fn what_cannot_be_searched_is_refused_and_leaves_nothing() {
    let start = SHELF.find("[tolerance").unwrap();
    let end = SHELF.find("[limits]").unwrap();
    let exact = format!("{}{}", &SHELF[..start], &SHELF[end..]);
    let few = changed(RUNWAY, "samples = 3000", "samples = 504");
    let line = |key: &str| RUNWAY.lines().position(|line| line.starts_with(key)).unwrap() + 1;
    let target = format!("runway.toml:{}:17", line("yield_target"));
    let samples = format!("few.toml:{}:11", line("samples"));
    let files = [("exact.toml", exact.as_str()), ("few.toml", &few), ("runway.toml", RUNWAY)];
    let folder = folder_with(&files);
    for (arguments, words) in [
        ("bands exact.toml --out out", ["no part has a tolerance", "exact.toml:1:1"]),
        // 0.99^504 is above the error of one look, 0.625 %.
        ("bands runway.toml --out out --samples 504", ["takes 505 at least", &target]),
        ("bands few.toml --out out", ["expected 505 samples at least", &samples]),
    ] {
        let said = fairphase(folder.path(), arguments);
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{}", said.stderr);
        for word in words {
            assert!(said.stderr.contains(word), "{word}: {}", said.stderr);
        }
        assert_eq!(entries(folder.path()), ["exact.toml", "few.toml", "runway.toml"]);
    }
}

/// What is wrong, by what to replace, and where and what the message says.
#[test]
fn a_wrong_table_is_refused_with_its_place() {
    let trade = "trade  = [\"resonant_inductance\", \"magnetising_inductance\"]";
    for (from, to, at, words) in [
        (
            trade,
            "trade = [\"resonant_inductance\", \"resonant_inductance\"]",
            trade,
            "names `resonant_inductance` twice",
        ),
        (
            trade,
            "trade = [\"resonant_inductance\", \"magnetizing_inductance\"]",
            trade,
            "did you mean \"magnetising_inductance\"?",
        ),
        (trade, "trade = [\"resonant_inductance\"]", trade, "holds 1 items"),
        (trade, "trade = [\"resonant_inductance\", 3]", trade, "an item is a whole number"),
        (
            trade,
            "trade = [\"resonant_inductance\", \"rectifier_drop\"]",
            trade,
            "`rectifier_drop` has no tolerance",
        ),
        ("widest = \"40 %\"", "widest = \"0 %\"", "widest", "above 0 %"),
        (
            "price = 2.20 }",
            "price = 3.20 }",
            "{ band = \"5 %\",  price = 2.20",
            "the prices of `resonant_inductance` do not fall",
        ),
        (
            "{ band = \"8 %\",",
            "{ band = \"4 %\",",
            "{ band = \"8 %\"",
            "the bands of `resonant_inductance` do not rise",
        ),
        ("{ band = \"8 %\",", "{ band = \"8 V\",", "{ band = \"8 %\"", "\"5 %\""),
        ("price = 1.85 }", "cost = 1.85 }", "{ band = \"8 %\"", "lacks `price`"),
        (
            "flying_capacitance = [",
            "rectifier_drop = [",
            "flying_capacitance = [",
            "`rectifier_drop` has no tolerance",
        ),
        (
            "flying_capacitance = [",
            "flying_capacity = [",
            "flying_capacitance = [",
            "did you mean `flying_capacitance`?",
        ),
        ("widest = \"40 %\"", "widset = \"40 %\"", "widest", "did you mean `widest`?"),
    ] {
        let line = 1 + RUNWAY[..RUNWAY.find(at).unwrap()].matches('\n').count();
        assert_eq!(RUNWAY.matches(from).count(), 1, "{from}");
        let shown = Scenario::parse("r.toml", &RUNWAY.replace(from, to)).unwrap_err().to_string();
        assert!(shown.contains(words), "{words:?} is missing:\n{shown}");
        assert!(shown.contains(&format!("--> r.toml:{line}:")), "line {line}:\n{shown}");
    }
}

/// All sets of the lists are put in order, so that there is an end to their number.
#[test]
fn too_many_combinations_are_refused() {
    let offers: String = (1..=60)
        .map(|n| format!("{{ band = \"{n} %\", price = {} }}, ", 100 - n))
        .collect::<Vec<_>>()
        .concat();
    let lists = ["resonant_inductance", "resonant_capacitance", "magnetising_inductance"]
        .map(|key| format!("{key} = [{offers}]\n"))
        .concat();
    let start = RUNWAY.find("resonant_inductance = [").unwrap();
    let end = RUNWAY.find("[run]").unwrap();
    let text = format!("{}{lists}{}", &RUNWAY[..start], &RUNWAY[end..]);
    let shown = Scenario::parse("r.toml", &text).unwrap_err().to_string();
    assert!(shown.contains("216000 combinations"), "{shown}");
}

/// Asked to stop in the middle, what was found by then is written and marked.
#[test]
fn an_interrupt_leaves_marked_results_and_exits_with_3() {
    let folder = folder_with(&[("runway.toml", RUNWAY)]);
    let out = folder.path().join("out");
    let said = interrupted(folder.path(), "bands runway.toml --samples 100000 --out out", &out);
    assert!(said.stdout.contains("partial"), "{}", said.stdout);
    let [page, _] = files(&out);
    assert!(String::from_utf8(page).unwrap().contains("these results are partial"));
    let summary = json(&out.join("summary.json"));
    assert_eq!(summary["partial"], true);
    assert!(summary["unfinished"].as_str().unwrap().contains("paralleled"));
    assert!(summary["arrangements"]["chain"]["present"]["yield"]["trials"] == 100_000);
}
