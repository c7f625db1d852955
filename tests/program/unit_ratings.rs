//! What every part of the nominal converter and of listed ones carries: against the run that they came from,
//! and against each other; transitions of many units.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{
    Frame, TELECOM, changed, counts, entries, floats, folder_with, json, parquet, succeed, words,
};

const HEADER: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,\
flying_capacitance_return_leg_F";

fn text<'a>(entry: &'a Value, key: &str) -> &'a str {
    entry[key].as_str().unwrap_or_else(|| panic!("{key} of {entry}"))
}

fn number(entry: &Value, key: &str) -> f64 {
    entry[key].as_f64().unwrap_or_else(|| panic!("{key} of {entry}"))
}

/// Which load an entry is of, and where.
fn subject(entry: &Value) -> [String; 4] {
    ["part", "figure", "operating_point", "arrangement"].map(|key| text(entry, key).to_owned())
}

/// Rows of a file by column.
fn rows(path: &Path) -> Vec<BTreeMap<String, String>> {
    let file = fs::read_to_string(path).unwrap();
    csv::Reader::from_reader(file.as_bytes()).deserialize().map(Result::unwrap).collect()
}

/// Samples of `population.parquet` as a parts file.
fn parts(frame: &Frame, samples: usize) -> String {
    let columns = HEADER.split(',').skip(2);
    let mut file = format!("{HEADER}\n");
    for (sample, k) in (0..samples).flat_map(|sample| (1..=3).map(move |k| (sample, k))) {
        let cells = columns.clone().map(|column| {
            let name = match column.rsplit_once('_') {
                _ if column == "turns_ratio" => format!("{column}_{k}"),
                Some((stem, unit)) => format!("{stem}_{k}_{unit}"),
                None => panic!("{column}"),
            };
            let is_beyond = column.starts_with("flying") && k == 3;
            if is_beyond { String::new() } else { floats(frame, &name)[sample].to_string() }
        });
        let cells: Vec<String> = cells.collect();
        let _ = writeln!(file, "S{sample},{k},{}", cells.join(","));
    }
    file
}

/// Derating and limits beside those of the scenario: invented, one of them missed.
fn telecom() -> String {
    let more = "[derating]\nswitch_voltage = \"80 %\"\n\
                [[limits.part]]\npart = \"rectifier\"\nrms_current = \"15 A\"\n\
                [[limits.part]]\npart = \"transformer\"\nvolt_seconds = \"1 mVs\"\n\
                [run]\nrating_columns = true";
    assert!(!TELECOM.contains("[derating]"), "the scenario has none of its own");
    changed(TELECOM, "[run]", more)
}

/// `check` and a run of the same scenario tell the same nominal loads; limits and derating as stated.
#[test]
fn nominal_loads_are_those_of_a_run() {
    let folder = folder_with(&[("telecom.toml", &telecom())]);
    succeed(folder.path(), "run telecom.toml --samples 2 --no-explain --quiet --out run");
    let run = json(&folder.path().join("run/summary.json"));
    let check: Value =
        serde_json::from_str(&succeed(folder.path(), "check telecom.toml --json")).unwrap();
    let nominal = |summary: &Value| -> BTreeMap<[String; 4], f64> {
        let entries = summary["ratings"].as_array().unwrap().iter();
        entries.map(|entry| (subject(entry), number(entry, "nominal"))).collect()
    };
    assert_eq!(nominal(&check), nominal(&run));
    let mut limited = 0;
    for entry in check["ratings"].as_array().unwrap() {
        let is_over_all = entry["operating_point"] == "all";
        let factor = if entry["figure"] == "blocking_voltage_V" { 0.8 } else { 1.0 };
        let order = entry["order"].as_f64();
        assert_eq!(order, is_over_all.then(|| number(entry, "nominal") / factor), "{entry}");
        let limit = match (text(entry, "part"), text(entry, "figure")) {
            ("rectifier", "rms_current_A") => Some(15.0),
            ("transformer", "volt_seconds_Vs") if entry["arrangement"] == "chain" => Some(1e-3),
            _ => None,
        };
        assert_eq!(entry["limit"].as_f64(), limit, "{entry}");
        limited += usize::from(limit.is_some());
    }
    // Of four operating points and all of them.
    assert_eq!(limited, 3 * 5);
    let shown = succeed(folder.path(), "check telecom.toml --tables");
    let table = shown.split("Loads of every part of the nominal chain, divided by").nth(1).unwrap();
    for words in ["high switch 1", "rectifier diodes", "[derating]", "rectifier diodes: RMS"] {
        assert!(table.contains(words), "{words}: {shown}");
    }
    let row = table.lines().find(|line| line.starts_with("rectifier diodes: RMS")).unwrap();
    assert!(row.contains("15.00 A") && row.contains("108.2 %"), "{row}");
    assert!(shown.lines().all(|line| line.chars().count() <= 80));
}

/// The averaged solver does not tell what loads every part.
#[test]
fn the_averaged_solver_tells_no_loads() {
    let folder = folder_with(&[("telecom.toml", TELECOM), ("parts.csv", &one_unit())]);
    let check = succeed(folder.path(), "check telecom.toml --solver averaged --json");
    let check: Value = serde_json::from_str(&check).unwrap();
    assert_eq!(check["ratings"].as_array().map(Vec::len), Some(0));
    succeed(
        folder.path(),
        "units telecom.toml --parts parts.csv --solver averaged --quiet --out u",
    );
    assert_eq!(entries(&folder.path().join("u")), ["report.html", "summary.json", "units.csv"]);
}

fn one_unit() -> String {
    format!("{HEADER}\nA,1,,,,,,,,\nA,2,,,,,,,,\nA,3,,,,,,,,\n")
}

/// Units with the parts of samples carry what the samples do: every column of loads, at every operating
/// point in both arrangements. A run starts each search nearby; both satisfy the equations to 1e-6.
#[test]
fn units_carry_what_their_samples_do() {
    const SAMPLES: usize = 3;
    let folder = folder_with(&[("telecom.toml", &telecom())]);
    let path = |name: &str| folder.path().join(name);
    succeed(folder.path(), "run telecom.toml --samples 3 --no-explain --quiet --out run");
    fs::write(path("parts.csv"), parts(&parquet(&path("run/population.parquet")), SAMPLES))
        .unwrap();
    let said = succeed(folder.path(), "units telecom.toml --parts parts.csv --out units --tables");
    assert!(
        said.contains("What every part of the chain carries at most, of 3 converters"),
        "{said}"
    );
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    let frame = parquet(&path("run/samples.parquet"));
    let (points, arrangements) = (words(&frame, "operating_point"), words(&frame, "arrangement"));
    let samples = counts(&frame, "sample");
    let rated = rows(&path("units/unit_ratings.csv"));
    assert_eq!(rated.len(), SAMPLES * 8);
    let mut compared = 0;
    for row in &rated {
        assert_eq!(row["status"], "solved");
        let place = (0..samples.len()).find(|n| {
            row["unit"] == format!("S{}", samples[*n])
                && row["operating_point"] == points[*n]
                && row["arrangement"] == arrangements[*n]
        });
        let names = ["unit", "operating_point", "arrangement", "status"];
        for (name, cell) in row.iter().filter(|(name, _)| !names.contains(&name.as_str())) {
            let sampled = floats(&frame, name)[place.unwrap()];
            if cell.is_empty() {
                assert!(sampled.is_nan(), "{name}: {sampled}");
                continue;
            }
            let own: f64 = cell.parse().unwrap();
            let is_current = name.ends_with("_A");
            let scale = if is_current { sampled.abs().max(1.0) } else { sampled.abs() };
            assert!(((own - sampled) / scale).abs() < 1e-6, "{name}: {own} {sampled}");
            compared += 1;
        }
    }
    // A chain has 42 loads, the reference 24.
    assert_eq!(compared, SAMPLES * 4 * (42 + 24));
    largest_are_those_of_the_rows(&json(&path("units/summary.json")), &rated);
    let page = fs::read_to_string(path("units/report.html")).unwrap();
    assert!(page.contains("What the parts carry</h2>") && page.contains("Limits of single parts"));
}

fn largest_are_those_of_the_rows(summary: &Value, rows: &[BTreeMap<String, String>]) {
    let all = summary["ratings"].as_array().unwrap();
    assert!(all.len() > 300, "{}", all.len());
    for entry in all {
        let [part, figure, point, arrangement] = subject(entry);
        let own = rows.iter().filter(|row| {
            (point == "all" || row["operating_point"] == point) && row["arrangement"] == arrangement
        });
        let value =
            |row: &BTreeMap<String, String>| row[&format!("{part}_{figure}")].parse::<f64>();
        let values = own.filter_map(|row| Some((value(row).ok()?, row["unit"].clone())));
        let most = values.reduce(|a, b| if b.0 > a.0 { b } else { a }).unwrap();
        assert_eq!((number(entry, "largest"), text(entry, "unit")), (most.0, most.1.as_str()));
    }
}

/// The summary of few units holds every transition, that of many the worst of each; the file all.
#[test]
fn transitions_of_many_units_are_in_a_file() {
    let folder = folder_with(&[("telecom.toml", TELECOM)]);
    let mut transitions = Vec::new();
    for (units, kept) in [(2, "all-transitions"), (25, "worst-of-each-unit")] {
        let rows_of = |n: usize| {
            let lr = 4.56e-6 * (1.0 + 0.002 * n as f64);
            format!("U{n},1,{lr},,,,,,,\nU{n},2,,,,,,,,\nU{n},3,,,,,,,,\n")
        };
        let file: String = (0..units).map(rows_of).collect();
        fs::write(folder.path().join("parts.csv"), format!("{HEADER}\n{file}")).unwrap();
        let out = format!("out{units}");
        succeed(
            folder.path(),
            &format!("units telecom.toml --parts parts.csv --quiet --out {out}"),
        );
        let summary = json(&folder.path().join(&out).join("summary.json"));
        assert_eq!(summary["commutation_holds"], kept);
        let all = rows(&folder.path().join(&out).join("commutation.csv"));
        let own = summary["commutation"].as_array().unwrap();
        transitions.push([own.len(), all.len()]);
        for entry in own {
            let is_worst = kept == "worst-of-each-unit";
            let keys = ["unit", "arrangement", "operating_point"];
            let keys = &keys[..if is_worst { 2 } else { 3 }];
            let same = |row: &&BTreeMap<String, String>| {
                keys.iter().all(|key| row[*key] == text(entry, key))
            };
            let cell = |row: &BTreeMap<String, String>, key: &str| row[key].parse::<f64>().unwrap();
            let shares = all
                .iter()
                .filter(same)
                .map(|row| cell(row, "turn_on_voltage_V") / cell(row, "interval_voltage_V"));
            let share = number(entry, "turn_on_voltage_V") / number(entry, "interval_voltage_V");
            let most = shares.fold(0.0, f64::max);
            if is_worst {
                assert_eq!(share.total_cmp(&most), std::cmp::Ordering::Equal, "{entry}");
            } else {
                let row = all.iter().filter(same).find(|row| {
                    row["leg"] == text(entry, "leg")
                        && entry["phase"].as_u64() == row["phase"].parse().ok()
                        && row["transition"] == text(entry, "transition")
                });
                let voltage = cell(row.unwrap(), "turn_on_voltage_V");
                assert_eq!(Some(voltage), entry["turn_on_voltage_V"].as_f64());
                assert_eq!(row.unwrap()["verdict"], text(entry, "verdict"));
            }
        }
    }
    // 4 points, 2 arrangements, 12 transitions of three phases with two legs.
    assert_eq!(transitions, [[2 * 96, 2 * 96], [25 * 2, 25 * 96]]);
}
