//! `gain` as its users run it: exit statuses, what it prints, the files it writes, and whether they
//! agree with each other; and how the other verbs show a choice of configuration.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use crate::support::{SHELF, changed, command, entries, fairphase, folder_with, json, succeed};
use serde_json::Value;

/// Invented: wide output, drive and rectifier left open.
const ELECTROLYSER: &str = include_str!("../../scenarios/electrolyser-supply.toml");

const FILES: [&str; 3] = ["gain.csv", "report.html", "summary.json"];

type Row = BTreeMap<String, String>;

struct Drawn {
    text: String,
    page: String,
    summary: Value,
    rows: Vec<Row>,
}

fn files(folder: &Path) -> [Vec<u8>; 3] {
    assert_eq!(entries(folder), FILES);
    FILES.map(|name| fs::read(folder.join(name)).unwrap())
}

fn drawn(scenario: &str) -> Drawn {
    let folder = folder_with(&[("supply.toml", scenario)]);
    let text = succeed(folder.path(), "gain supply.toml --out out --tables");
    let [csv, page, _] = files(&folder.path().join("out"));
    Drawn {
        text,
        page: String::from_utf8(page).unwrap(),
        summary: json(&folder.path().join("out/summary.json")),
        rows: csv::Reader::from_reader(&csv[..]).deserialize().map(Result::unwrap).collect(),
    }
}

static SUPPLY: LazyLock<Drawn> = LazyLock::new(|| drawn(ELECTROLYSER));

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap_or_else(|| panic!("{value} is no list"))
}

/// Rows of a curve, from the lowest frequency up.
fn curve<'a>(drawn: &'a Drawn, configuration: &Value, load: &Value) -> Vec<&'a Row> {
    let is = |row: &&Row| {
        row["drive"] == configuration["drive"]
            && row["rectifier"] == configuration["rectifier"]
            && row["load"].parse::<f64>().unwrap() == number(load)
    };
    drawn.rows.iter().filter(is).collect()
}

fn value(row: &Row, column: &str) -> Option<f64> {
    row[column].parse().ok()
}

#[test]
fn a_missing_or_wrong_scenario_is_refused() {
    let wrong = changed(ELECTROLYSER, "\"15 %\"", "0.15");
    let folder = folder_with(&[("wrong.toml", &wrong)]);
    for (name, words) in
        [("nowhere.toml", "cannot read nowhere.toml"), ("wrong.toml", "is a bare number")]
    {
        let said = fairphase(folder.path(), &format!("gain {name} --out out --tables"));
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{name}");
        assert!(said.stderr.contains(words), "{}", said.stderr);
    }
    assert_eq!(entries(folder.path()), ["wrong.toml"], "nothing is written");
}

#[test]
fn a_folder_that_cannot_be_made_is_unfinished_work() {
    let folder = folder_with(&[("supply.toml", ELECTROLYSER), ("file", "")]);
    let said = fairphase(folder.path(), "gain supply.toml --out file/out --tables");
    assert_eq!((said.status, said.stdout.as_str()), (3, ""));
    assert!(said.stderr.contains("cannot make the output folder"), "{}", said.stderr);
}

#[test]
fn the_same_bytes_for_any_number_of_threads_and_either_solver() {
    let folder = folder_with(&[("supply.toml", ELECTROLYSER)]);
    for solver in ["exact", "averaged"] {
        let [one, many] = [1, 8].map(|threads| {
            let out = format!("{solver}-{threads}");
            let options = format!("--solver {solver} --threads {threads} --out {out} --quiet");
            assert_eq!(succeed(folder.path(), &format!("gain supply.toml {options}")), "");
            files(&folder.path().join(out))
        });
        assert!(one == many, "{solver}");
        let page = String::from_utf8(one[1].clone()).unwrap();
        assert!(page.contains(&format!("fairphase gain supply.toml --solver {solver}")));
        assert_eq!(page.contains("quick look:"), solver == "averaged");
    }
}

#[test]
fn json_prints_the_summary_and_options_without_a_use_are_mentioned() {
    let folder = folder_with(&[("supply.toml", ELECTROLYSER)]);
    let printed = succeed(folder.path(), "gain supply.toml --out out --json");
    assert_eq!(printed, fs::read_to_string(folder.path().join("out/summary.json")).unwrap());
    let said = fairphase(folder.path(), "gain supply.toml --out out --json --samples 3 --seed 4");
    assert_eq!((said.status, said.stdout), (0, printed));
    assert_eq!(said.stderr.matches("changes nothing").count(), 2, "{}", said.stderr);
}

/// Every operating point is reached in a configuration that it may take, or not.
#[test]
fn require_pass_tells_scripts_whether_all_points_are_covered() {
    let far = changed(ELECTROLYSER, "\"76 V\"", "\"150 V\"");
    // The point can be reached, but not as it is told to be.
    let asked = changed(ELECTROLYSER, "\"76 V\"", "\"76 V\"\ndrive = \"half-bridge\"");
    let folder =
        folder_with(&[("good.toml", ELECTROLYSER), ("far.toml", &far), ("asked.toml", &asked)]);
    for (name, covered) in [("good", true), ("far", false), ("asked", false)] {
        for (option, status) in [("--require-pass", u8::from(!covered)), ("", 0)] {
            let said =
                fairphase(folder.path(), &format!("gain {name}.toml --out out {option} --tables"));
            assert_eq!(said.status, i32::from(status), "{name} {option}");
            assert_eq!(said.stdout.contains("NOT REACHED"), !covered, "{name}");
            let summary = json(&folder.path().join("out/summary.json"));
            assert_eq!(summary["all_covered"], covered, "{name}");
            files(&folder.path().join("out"));
        }
    }
}

#[test]
fn texts_fit_a_terminal() {
    let long = "all the stacks of the laboratory in series and at their whole current at night";
    let wide = ELECTROLYSER
        .replace("36 cells, half current", long)
        .replace("lowest-loss", "lowest-switch-current");
    let wide = changed(&wide, "\"76 V\"", "\"160 V\"\ndrive = \"half-bridge\"");
    let folder = folder_with(&[("wide.toml", &wide), ("supply.toml", ELECTROLYSER)]);
    for arguments in [
        "gain wide.toml --out out",
        "gain supply.toml --out out",
        "gain supply.toml --out out --solver averaged",
        "check supply.toml --tables",
        "run supply.toml --samples 20 --out run",
        "units supply.toml --parts run/worst_converters.csv --tables --out units",
        "gain --help",
    ] {
        let text = succeed(folder.path(), arguments);
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{arguments}: too long:\n{line}");
        }
    }
}

/// A row of a curve with its peak at this frequency.
#[track_caller]
fn follows(row: &Row, peak: f64) {
    let (f, v) = (value(row, "switching_frequency_Hz"), value(row, "output_voltage_V"));
    assert_eq!(row["side"] == "beyond peak", f.unwrap() < peak);
    assert_eq!(row["status"] == "solved", v.is_some());
    // M = n Vo / (Vin/N), of the scenario's own numbers.
    let (expected, m) = (v.map(|v| 2.5 * v / 100.0), value(row, "gain"));
    assert_eq!(m.is_some(), expected.is_some());
    assert!((m.unwrap_or(0.0) - expected.unwrap_or(0.0)).abs() < 1e-12);
}

/// Peaks and ranges against the curves of `gain.csv`: what lies between the upper end and the
/// highest row is covered; the peak is not below any row.
#[test]
fn the_summary_agrees_with_the_curves() {
    let (drawn, summary) = (&*SUPPLY, &SUPPLY.summary);
    assert_eq!(summary["schema"], "fairphase-summary/2");
    assert_eq!(summary["verb"], "gain");
    assert_eq!(number(&summary["not_solved"]), 0.0);
    let configurations = list(&summary["configurations"]);
    assert_eq!(configurations.len(), 4);
    let mut seen = 0;
    for configuration in configurations {
        for found in list(&configuration["curves"]) {
            let rows = curve(drawn, configuration, &found["load"]);
            assert_eq!(rows.len() as u64, summary["frequencies"].as_u64().unwrap());
            seen += rows.len();
            let voltages: Vec<f64> =
                rows.iter().filter_map(|row| value(row, "output_voltage_V")).collect();
            let most = voltages.iter().copied().fold(0.0, f64::max);
            let peak = number(&found["peak"]["output_voltage_V"]);
            assert!(peak > most * (1.0 - 1e-14) && peak < 1.02 * most, "{peak} against {most}");
            let end = value(rows[rows.len() - 1], "output_voltage_V").unwrap_or(0.0);
            // The reader of JSON errs in the last digit.
            let ends = ["lowest", "highest"].map(|end| number(&found["output_voltage_V"][end]));
            assert!((ends[0] - end).abs() <= 1e-14 * end, "{} against {end}", ends[0]);
            assert_eq!(ends[1], peak);
            for row in rows {
                follows(row, number(&found["peak"]["frequency_Hz"]));
            }
        }
    }
    assert_eq!(seen, drawn.rows.len());
}

/// Gaps of 16 V to 76 V recomputed voltage by voltage from the ranges of the summary.
#[test]
fn gaps_and_overlaps_agree_with_the_ranges() {
    let summary = &SUPPLY.summary;
    let range = |v: &Value| (number(&v["lowest"]), number(&v["highest"]));
    let mut gaps_seen = 0;
    for (n, coverage) in list(&summary["coverage"]).iter().enumerate() {
        let ranges: Vec<(f64, f64)> = list(&summary["configurations"])
            .iter()
            .map(|c| range(&c["curves"][n]["output_voltage_V"]))
            .collect();
        let gaps: Vec<(f64, f64)> = list(&coverage["gaps"]).iter().map(range).collect();
        gaps_seen += gaps.len();
        let overlaps: Vec<(f64, f64)> =
            list(&coverage["overlaps"]).iter().map(|o| range(&o["output_voltage_V"])).collect();
        let count = |all: &[(f64, f64)], v: f64| all.iter().filter(|r| r.0 < v && v < r.1).count();
        for step in 0..60_000 {
            let v = 16.000_37 + f64::from(step) / 1000.0;
            let covered = count(&ranges, v);
            assert_eq!(count(&gaps, v) == 1, covered == 0, "{v} V");
            assert_eq!(count(&overlaps, v), covered * covered.saturating_sub(1) / 2, "{v} V");
        }
    }
    assert_eq!(gaps_seen, 1, "at standby, between 55.8 V and 62.4 V");
}

/// The figures of a candidate that was taken are those that `check` prints of the operating point.
#[test]
fn operating_points_are_those_of_check() {
    let folder = folder_with(&[("supply.toml", ELECTROLYSER)]);
    let printed = succeed(folder.path(), "check supply.toml --json");
    let check: Value = serde_json::from_str(&printed).unwrap();
    for (n, point) in list(&SUPPLY.summary["operating_points"]).iter().enumerate() {
        let chain = &check["results"][2 * n];
        assert_eq!(chain["operating_point"], point["operating_point"]);
        let taken: Vec<&Value> =
            list(&point["candidates"]).iter().filter(|c| c["chosen"] == true).collect();
        assert_eq!(taken.len(), 1);
        for key in ["drive", "rectifier", "loss_W"] {
            assert_eq!(chain[key], taken[0][key], "{key}");
        }
        assert_eq!(chain["switching_frequency_Hz"], taken[0]["switching_frequency_Hz"]);
        assert_eq!(chain["configuration_choice"]["candidates"], point["candidates"]);
    }
}

#[test]
fn the_page_stands_by_itself_and_shows_all() {
    let page = &SUPPLY.page;
    for id in ["coverage", "points", "curves", "validity", "cautions", "reproduce"] {
        assert!(page.contains(&format!("<section id=\"{id}\"")), "{id}");
        assert!(page.contains(&format!("href=\"#{id}\"")), "{id}");
    }
    assert_eq!(page.matches("<svg viewBox=\"0 0 420").count(), 5, "coverage and four curves");
    assert_eq!(page.matches("class=\"dot taken\" cx").count(), 4, "each point");
    for outside in ["http://", "https://", "@import", "url(//"] {
        assert!(!page.contains(outside), "{outside}");
    }
    for name in ["8 cells, full current", "18 cells, standby"] {
        assert!(page.contains(name) && SUPPLY.text.contains(name), "{name}");
    }
    let hostile = ELECTROLYSER.replace("18 cells, standby", "<script>alert(1)</script>");
    assert_eq!(drawn(&hostile).page.matches("<script").count(), 1);
}

/// A rectifier with a centre tap is no choice of the tool's, but an operating point may ask for it.
#[test]
fn a_centre_tap_that_is_asked_for_is_drawn_too() {
    let tapped = changed(SHELF, "rectifier = \"full-bridge\"", "rectifier = \"centre-tap\"");
    let drawn = drawn(&tapped);
    assert_eq!(list(&drawn.summary["configurations"]).len(), 5);
    let point = &drawn.summary["operating_points"][0];
    assert_eq!(point["configuration_chosen"], false);
    let candidates = list(&point["candidates"]);
    let taken: Vec<&Value> = candidates.iter().filter(|c| c["chosen"] == true).collect();
    assert_eq!((taken[0]["rectifier"].as_str(), taken.len()), (Some("centre-tap"), 1));
    assert_eq!(taken[0]["reason"], "as given");
}

/// With ageing a point is solved twice, and its configuration chosen once.
#[test]
fn a_choice_is_shown_once_for_new_and_aged_parts() {
    let ageing =
        "[ageing]\nservice_life = \"30000 h\"\n[ageing.series_resistance]\ndrift = \"6 %\"\n";
    let folder = folder_with(&[("supply.toml", &format!("{ELECTROLYSER}\n{ageing}"))]);
    let run =
        succeed(folder.path(), "run supply.toml --samples 20 --no-explain --tables --out run");
    let check = succeed(folder.path(), "check supply.toml --tables");
    for text in [run, check] {
        let (_, table) = text.split_once("Configurations left open").unwrap();
        let heads = table.lines().filter(|line| *line == "8 cells, full current").count();
        assert_eq!(heads, 1, "{table}");
    }
}

#[test]
fn run_and_units_show_the_choice() {
    let folder = folder_with(&[("supply.toml", ELECTROLYSER)]);
    let run = succeed(folder.path(), "run supply.toml --samples 20 --tables --out run");
    let units = "units supply.toml --parts run/worst_converters.csv --tables --out units";
    let units = succeed(folder.path(), units);
    for (text, out) in [(run, "run"), (units, "units")] {
        assert!(text.contains("Configurations left open: the lowest loss"), "{text}");
        assert!(text.contains("higher loss") && text.contains("out of range"), "{text}");
        let page = fs::read_to_string(folder.path().join(out).join("report.html")).unwrap();
        assert!(page.contains("Configurations left open") && page.contains("higher loss"));
    }
    let summary = json(&folder.path().join("run/summary.json"));
    let candidates = list(&summary["results"][0]["configuration_choice"]["candidates"]);
    assert_eq!(candidates.len(), 4);
    let summary = json(&folder.path().join("units/summary.json"));
    assert_eq!(list(&summary["configuration_choices"]).len(), 4);
}

#[test]
fn what_no_configuration_reaches_is_refused_by_run_check_and_units() {
    let far = changed(ELECTROLYSER, "\"76 V\"", "\"150 V\"");
    let header = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
                  magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,\
                  flying_capacitance_F,flying_capacitance_return_leg_F";
    let parts = format!("{header}\na,1,,,,,,,,\na,2,,,,,,,,\na,3,,,,,,,,\na,4,,,,,,,,\n");
    let folder = folder_with(&[("far.toml", &far), ("parts.csv", &parts)]);
    for arguments in ["run far.toml", "check far.toml", "units far.toml --parts parts.csv"] {
        let said = crate::support::said(
            command(folder.path(), &format!("{arguments} --out out")).output().unwrap(),
        );
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{arguments}");
        for words in [
            "\"36 cells, half current\"",
            "they reach\n",
            "\n         full-bridge / voltage-doubler (chain): 41.5",
        ] {
            assert!(said.stderr.contains(words), "{arguments}: {}", said.stderr);
        }
    }
    assert_eq!(entries(folder.path()), ["far.toml", "parts.csv"]);
}

/// By hand: the middle switches of a chain of three stand between capacitors two thirds of 380 V apart,
/// and the ripple adds to it. `check` says first that this misses a limit, and where.
#[test]
fn check_tells_first_what_the_nominal_converter_misses() {
    const SHELF: &str = include_str!("../data/shelf.toml");
    let tight = changed(SHELF, "sharing_error = \"5 %\"", "blocking_voltage = \"220 V\"");
    let folder = folder_with(&[("shelf.toml", SHELF), ("tight.toml", &tight)]);
    let said = succeed(folder.path(), "check shelf.toml --tables");
    assert!(said.contains("The chain meets every limit with nominal parts."), "{said}");
    let said = succeed(folder.path(), "check tight.toml --tables");
    let lines: Vec<&str> = said.lines().skip(2).collect();
    assert_eq!(lines[0], "The nominal chain misses limits of the scenario:");
    assert!(
        lines[1].contains("blocking voltage of a switch 2") && lines[1].contains("at most 220")
    );
    assert!(lines[1].contains("at “full load”"), "{said}");
    let printed = succeed(folder.path(), "check tight.toml --json");
    let check: Value = serde_json::from_str(&printed).unwrap();
    let missed = &check["results"][0]["missed"][0];
    assert_eq!(
        (missed["figure"].as_str(), missed["limit"].as_f64()),
        (Some("blocking_voltage_V"), Some(220.0))
    );
    let value = missed["value"].as_f64().unwrap();
    let thirds = 2.0 * 380.0 / 3.0;
    assert!((thirds..1.05 * thirds).contains(&value), "{value}");
}

/// At the end of life the choke has drifted: the band, cut between the frequencies that `units` tells of the
/// nominal chain at both ages, then holds the new converter alone.
#[test]
fn an_operating_point_must_be_reached_at_the_end_of_life_too() {
    const MAGNET: &str = include_str!("../../scenarios/foundry-magnet.toml");
    let (before, after) = MAGNET.split_once("maximum = \"").unwrap();
    let (_, after) = after.split_once('"').unwrap();
    let cut = format!("{before}maximum = \"130.2 kHz\"{after}");
    let folder = folder_with(&[("cut.toml", &cut)]);
    let said = fairphase(folder.path(), "gain cut.toml --require-pass --quiet --out out");
    assert_eq!(said.status, 1, "{}", said.stderr);
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("that they may take: summer (at the end of life)"));
    let summary = json(&folder.path().join("out/summary.json"));
    assert_eq!(summary["all_covered"], false);
    let points = summary["operating_points"].as_array().unwrap();
    let reasons: Vec<&str> = points
        .iter()
        .flat_map(|point| point["candidates"].as_array().unwrap())
        .map(|own| own["reason"].as_str().unwrap())
        .collect();
    assert!(reasons.contains(&"out of range (end of life)"), "{reasons:?}");
    let check = fairphase(folder.path(), "check cut.toml");
    assert_eq!(check.status, 2, "it agrees: {}", check.stdout);
}
