//! `faults` as its users run it: what it prints and writes, whether its files agree with each other, and
//! the laws of a failed part seen from outside.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;
use std::sync::LazyLock;

use serde_json::Value;

use crate::support::{
    SHELF, TELECOM, changed, entries, fairphase, folder_with, json, succeed, with_phases,
};

/// Invented: three phases in half bridge.
const LOCK: &str = include_str!("../../scenarios/lock-gates.toml");
const FILES: [&str; 3] = ["faults.csv", "report.html", "summary.json"];

struct Answer {
    text: String,
    page: String,
    summary: Value,
    rows: Vec<BTreeMap<String, String>>,
}

fn answer(scenario: &str, options: &str) -> Answer {
    let folder = folder_with(&[("lock.toml", scenario)]);
    let text = succeed(folder.path(), &format!("faults lock.toml --out out {options} --tables"));
    let out = folder.path().join("out");
    assert_eq!(entries(&out), FILES);
    let csv = fs::read(out.join("faults.csv")).unwrap();
    Answer {
        text,
        page: fs::read_to_string(out.join("report.html")).unwrap(),
        summary: json(&out.join("summary.json")),
        rows: csv::Reader::from_reader(&csv[..]).deserialize().map(Result::unwrap).collect(),
    }
}

static GATES: LazyLock<Answer> = LazyLock::new(|| answer(LOCK, "--samples 300"));
static BRIDGE: LazyLock<Answer> = LazyLock::new(|| answer(SHELF, "--samples 60"));

fn faults(answer: &Answer) -> &Vec<Value> {
    answer.summary["faults"].as_array().unwrap()
}

fn of_kind<'a>(answer: &'a Answer, arrangement: &str, kind: &str) -> Vec<&'a Value> {
    let is = |fault: &&Value| fault["arrangement"] == arrangement && fault["kind"] == kind;
    let found: Vec<&Value> = faults(answer).iter().filter(is).collect();
    assert!(!found.is_empty(), "{arrangement} {kind}");
    found
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// The work that a search may take grows with the phases: every fault has its answer.
#[test]
fn faults_of_many_phases_are_solved() {
    for phases in [4, 12] {
        let all = answer(&with_phases(TELECOM, phases), "--samples 1");
        let of =
            |outcome: &str| faults(&all).iter().filter(|own| own["outcome"] == outcome).count();
        assert!(of("runs") > 0 && of("out of range") > 0, "{phases}");
        assert_eq!(of("not solved"), 0, "{phases}");
        assert!(!all.text.contains("Not solved, so unknown"), "{phases}");
    }
}

/// Every part, place and leg of three phases, by hand. Half bridge: 5 failures of 2 capacitors, 2 of tank
/// and rectifier, gates of 3 kinds, 2 kinds of shorts and the bypass, each of 3 phases. Paralleled: the
/// same without capacitors and bypass. Full bridge: each leg apart, dead gates also in both.
#[test]
fn every_part_fails_once() {
    let (gates, bridge) = (faults(&GATES), faults(&BRIDGE));
    let count = |all: &[Value], arrangement: &str| {
        all.iter().filter(|fault| fault["arrangement"] == arrangement).count()
    };
    assert_eq!(count(gates, "chain"), 2 * (5 * 2 + 8 * 3));
    assert_eq!(count(gates, "paralleled"), 2 * 7 * 3);
    let in_full = 5 * 2 * 2 + 2 * 3 + 3 * 3 + 4 * 2 * 3 + 3;
    assert_eq!(count(bridge, "chain"), in_full);
    assert_eq!(count(bridge, "paralleled"), 2 * 3 + 3 * 3 + 4 * 2 * 3);
    let mut keys: Vec<String> = gates
        .iter()
        .map(|own| {
            ["operating_point", "arrangement", "kind", "place", "leg", "remaining"]
                .map(|key| own[key].to_string())
                .join(" ")
        })
        .collect();
    let all = keys.len();
    keys.sort();
    keys.dedup();
    assert_eq!(keys.len(), all, "each once");
}

/// The demo's surprise and its remedy: an open rectifier stops the chain and not the paralleled reference;
/// with the low switches of the failed phase held on, two phases share the input and meet the limits.
#[test]
fn the_demo_stops_and_comes_back() {
    for fault in of_kind(&GATES, "chain", "rectifier open") {
        assert_eq!(fault["outcome"], "stops");
        assert_eq!(fault["phase_output_current_A"], serde_json::json!([0.0, 0.0, 0.0]));
        assert_eq!((&fault["limits_met"], &fault["yield"]), (&Value::Bool(false), &Value::Null));
    }
    for fault in of_kind(&GATES, "paralleled", "rectifier open") {
        assert_eq!(fault["outcome"], "runs", "{fault}");
    }
    let moving = |own: &&&Value| own["operating_point"] == "gates moving";
    for fault in of_kind(&GATES, "chain", "bypassed").iter().filter(moving) {
        assert_eq!(fault["outcome"], "runs", "{fault}");
        assert_eq!(fault["limits_met"], true, "{fault}");
        let place = usize::try_from(fault["place"].as_u64().unwrap()).unwrap();
        let currents: Vec<f64> =
            fault["phase_output_current_A"].as_array().unwrap().iter().map(number).collect();
        let total: f64 = currents.iter().sum();
        assert!((total / (1500.0 / 48.0) - 1.0).abs() < 1e-6, "{total}");
        assert_eq!(currents[place - 1].to_bits(), 0.0_f64.to_bits());
        let frequency = number(&fault["switching_frequency_Hz"]);
        assert!((80e3..=260e3).contains(&frequency));
        // Two phases at half of the input each: a high switch between them blocks both.
        let blocks = number(&fault["highest_blocking_voltage_V"]);
        let expected = if place == 2 { 270.0 } else { 540.0 };
        assert!((blocks / expected - 1.0).abs() < 0.02, "{blocks} at {place}");
    }
}

/// Every switch of a chain that runs is told, and the highest of them is the highest of all.
#[test]
fn what_every_switch_blocks_is_told() {
    for (answer, switches) in [(&GATES, 6), (&BRIDGE, 12)] {
        let mut told = 0;
        for fault in faults(answer) {
            let own = fault["switch_voltages"].as_array().unwrap();
            if fault["outcome"] != "runs" || fault["arrangement"] == "paralleled" {
                assert!(own.is_empty(), "{fault}");
                continue;
            }
            assert_eq!(own.len(), switches, "{fault}");
            let highest = own.iter().map(|own| number(&own["highest_V"])).fold(0.0, f64::max);
            assert_eq!(Some(highest), fault["highest_blocking_voltage_V"].as_f64());
            assert!(own.iter().all(|own| number(&own["lowest_V"]) <= number(&own["highest_V"])));
            told += 1;
        }
        assert!(told > 10, "{told}");
    }
    assert!(GATES.page.contains("× limit"));
    assert!(GATES.text.contains("! a switch blocks more than the limit"));
}

/// Of five phases the matrix of the brief has letters, and they are explained.
#[test]
fn letters_of_a_matrix_are_explained() {
    let words =
        [("phases = 3", "phases = 5"), ("\"540 V\"", "\"900 V\""), ("\"565 V\"", "\"940 V\"")];
    let lock = words.iter().fold(LOCK.to_owned(), |text, (from, to)| changed(&text, from, to));
    let page = answer(&lock, "--samples 20").page;
    let brief = page.split("id=\"brief\"").nth(1).unwrap().split("</section>").next().unwrap();
    assert!(brief.contains(">S<") && brief.contains("S: every phase stops"), "{brief}");
}

/// A shorted low switch and the bypass are the same circuit, but for the current of the failed phase.
#[test]
fn a_bypass_is_a_shorted_low_switch() {
    let (shorted, bypassed) =
        (of_kind(&GATES, "chain", "low switch short"), of_kind(&GATES, "chain", "bypassed"));
    for (one, other) in shorted.iter().zip(&bypassed) {
        for key in ["outcome", "switching_frequency_Hz", "phase_output_current_A"] {
            assert_eq!(one[key], other[key], "{key}");
        }
    }
}

/// In the full bridge one damaged leg changes what switches block, and the currents hardly.
#[test]
fn a_damaged_leg_is_hardly_seen_in_the_currents() {
    for fault in of_kind(&BRIDGE, "chain", "low switch short") {
        assert_eq!(fault["outcome"], "runs", "{fault}");
        let factor = number(&fault["tank_current_factor"]);
        assert!((factor - 1.0).abs() < 0.03, "{fault}");
        let healthy = &BRIDGE.summary["healthy"][0];
        let blocks = number(&fault["highest_blocking_voltage_V"]);
        assert!(blocks > 1.2 * number(&healthy["highest_blocking_voltage_V"]), "{fault}");
    }
}

/// The yield counts every sample once, and its interval holds it. Whatever does not run has none.
#[test]
fn yields_count_every_sample() {
    for fault in faults(&GATES) {
        if fault["outcome"] != "runs" {
            assert_eq!((&fault["yield"], &fault["counts"]), (&Value::Null, &Value::Null));
            continue;
        }
        let counts = fault["counts"].as_object().unwrap();
        assert_eq!(counts.values().map(|n| n.as_u64().unwrap()).sum::<u64>(), 300);
        let good = &fault["yield"];
        let [lower, estimate, upper] = ["lower", "estimate", "upper"].map(|key| number(&good[key]));
        assert!(lower <= estimate && estimate <= upper);
        assert_eq!(good["method"], "clopper-pearson");
    }
}

/// Every figure of the table is that of the summary.
#[test]
fn the_table_agrees_with_the_summary() {
    for answer in [&*GATES, &*BRIDGE] {
        let mut rows = answer.rows.iter();
        for fault in faults(answer) {
            let currents = fault["phase_output_current_A"].as_array().unwrap();
            let is_running = fault["outcome"] == "runs";
            let shown = if is_running { currents.iter().map(Some).collect() } else { vec![None] };
            for current in shown {
                let row = rows.next().unwrap();
                assert_eq!(row["kind"], fault["kind"].as_str().unwrap());
                assert_eq!(row["outcome"], fault["outcome"].as_str().unwrap());
                assert_eq!(row["place"], fault["place"].to_string());
                if let Some(expected) = current {
                    let current: f64 = row["output_current_A"].parse().unwrap();
                    assert_eq!(current.to_bits(), number(expected).to_bits());
                }
            }
        }
        assert!(rows.next().is_none());
    }
}

/// Terminal and page tell the matrix in words, the caution and the laws. Lines keep to 80 columns.
#[test]
fn terminal_and_page_tell_the_answer() {
    for answer in [&*GATES, &*BRIDGE] {
        for words in ["stop every phase", "is not safe to touch", "What stays unknown"] {
            let has =
                |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").contains(words);
            assert!(has(&answer.text) && has(&answer.page), "{words}: {}", answer.text);
        }
        assert!(answer.text.lines().all(|line| line.chars().count() <= 80), "{}", answer.text);
        for word in ["runs", "STOPS", "rectifier open", "flying capacitor short"] {
            assert!(answer.text.contains(word) && answer.page.contains(word), "{word}");
        }
    }
}

/// Same bytes for any number of threads; another seed gives other yields.
#[test]
fn results_do_not_depend_on_threads() {
    let folder = folder_with(&[("lock.toml", LOCK)]);
    let bytes = |out: &str, options: &str| {
        let line = format!("faults lock.toml --quiet --samples 200 --out {out} {options}");
        succeed(folder.path(), &line);
        FILES.map(|name| fs::read(folder.path().join(out).join(name)).unwrap())
    };
    let one = bytes("one", "--threads 1");
    assert!(one == bytes("many", "--threads 8"));
    assert!(one != bytes("other", "--threads 8 --seed 5"));
    let line = "faults lock.toml --json --samples 200 --out again --threads 2";
    let printed = succeed(folder.path(), line);
    assert_eq!(printed, String::from_utf8(one[2].clone()).unwrap());
}

/// What `[faults]` states is used, and refused where it cannot be.
#[test]
fn the_table_of_the_scenario_is_read() {
    let aged =
        changed(LOCK, "remaining       = [\"50 %\", \"10 %\", \"1 %\"]", "remaining = [\"30 %\"]");
    let found = answer(&aged, "--samples 20");
    for fault in of_kind(&found, "chain", "flying capacitor aged") {
        assert!((number(&fault["remaining"]) - 0.3).abs() < 1e-12);
    }
    for (from, to, words) in [
        ("\"0.9 V\"", "\"0 V\"", "body_diode_drop"),
        ("\"50 %\"", "\"100 %\"", "remaining"),
        ("[\"50 %\", \"10 %\", \"1 %\"]", "[]", "remaining"),
    ] {
        let wrong = changed(LOCK, from, to);
        let folder = folder_with(&[("wrong.toml", &wrong)]);
        let said = fairphase(folder.path(), "faults wrong.toml --out out");
        assert_eq!(said.status, 2, "{words}: {}", said.stderr);
        assert!(said.stderr.contains(words), "{words}: {}", said.stderr);
        assert_eq!(entries(folder.path()), ["wrong.toml"]);
    }
}

/// Where capacitors meet hard through switches, stray parts decide the currents of these: limits on them are not
/// judged, and that is told.
#[test]
fn currents_of_switches_in_which_capacitors_meet_are_not_judged() {
    let limits = "[limits]\nswitch_peak_current = \"1 kA\"";
    let told = answer(&changed(SHELF, "[limits]", limits), "--samples 1");
    let is_judged = |kind: &str, phase: u64| {
        let mut all = of_kind(&told, "chain", kind).into_iter();
        let fault = all.find(|own| own["place"] == phase).unwrap();
        let left_out = fault["limits_not_judged"].as_array().unwrap();
        !left_out.iter().any(|name| name == "switch_peak_current_A")
    };
    assert!(!is_judged("low switch short", 1) && !is_judged("high switch short", 2));
    assert!(is_judged("high switch short", 1) && is_judged("rectifier open", 2));
}

/// The others deliver with the low switches of a failed phase held on. That a limit is then missed is told beside it.
#[test]
fn the_remedy_tells_where_it_misses_a_limit() {
    let limited = changed(SHELF, "[limits]", "[limits]\nblocking_voltage = \"258 V\"");
    let free = changed(SHELF, "sharing_error = \"5 %\"\n", "");
    for (scenario, is_missed) in [(limited, true), (free, false)] {
        let told = answer(&scenario, "--samples 1");
        let held = of_kind(&told, "chain", "bypassed");
        assert!(held.iter().all(|own| own["outcome"] == "runs"), "{held:?}");
        assert_eq!(held.iter().any(|own| own["limits_met"] == false), is_missed, "{held:?}");
        let said = told.text.split_whitespace().collect::<Vec<_>>().join(" ");
        let words = "For some phases a judged limit is then missed at “full load”.";
        assert_eq!(said.contains(words), is_missed, "{said}");
        let exact = "Assumed exact, without a [tolerance] table: resonant capacitance,";
        assert!(said.contains(exact) && told.page.contains(exact), "{said}");
        let unlimited = "The scenario sets no limit for the chain: what still delivers the output";
        assert_eq!(said.contains(unlimited), !is_missed, "{said}");
        assert_eq!(told.page.contains(unlimited), !is_missed);
    }
}

/// Behind a dead low gate unequal phases part by more than before the fault, nobody knows by how much: a limit on
/// sharing may be missed, and is not said to be met.
#[test]
fn behind_a_dead_low_gate_a_limit_on_sharing_is_not_judged() {
    let warm = "input_voltage  = \"380 V\"\ntemperature = \"25 °C\"\nphase_rise = \"10 K\"";
    let unequal = changed(SHELF, "input_voltage  = \"380 V\"", warm)
        + "\n[temperature_coefficient.resonant_inductance]\nvalue = \"2000 ppm/K\"\n";
    let with_limit = |limit: f64| {
        let limit = format!("sharing_error = \"{limit} %\"");
        let text = changed(&unequal, "sharing_error = \"5 %\"", &limit);
        let folder = folder_with(&[("shelf.toml", &text)]);
        succeed(folder.path(), "faults shelf.toml --samples 1 --quiet --out out");
        let found = json(&folder.path().join("out/summary.json"));
        let is_asked = |own: &&Value| {
            own["kind"] == "low gate off" && own["place"] == 1 && own["arrangement"] == "chain"
        };
        let one = found["faults"].as_array().unwrap().iter().find(is_asked).unwrap().clone();
        assert_eq!(one["outcome"], "runs", "{one}");
        one
    };
    let wide = with_limit(50.0);
    let error = 100.0 * wide["sharing_error"].as_f64().unwrap();
    assert!(error > 0.05, "{error}");
    assert!(wide["limits_not_judged"].to_string().contains("sharing"), "{wide}");
    let missed = with_limit(0.9 * error);
    assert_eq!(missed["limits_met"], false, "{missed}");
    assert!(missed["missed"].to_string().contains("sharing_error"), "{missed}");
}
