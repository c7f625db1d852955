//! What is judged against the limits before and beside the samples: the nominal converter in `run`, and
//! listed converters in `units`, with measured currents beside the predicted ones.
#![allow(
    missing_docs,
    clippy::format_push_string,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{SHELF, TELECOM, changed, fairphase, folder_with, json, succeed};

const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");
const PROTOTYPES: &str = include_str!("../../scenarios/pump-drive-prototypes.csv");
const CURRENTS: &str = include_str!("../../scenarios/pump-drive-currents.csv");

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
    assert!(said.stderr.contains("V, at most 220 V, at “full load”\n"), "{}", said.stderr);
    assert_eq!(said.stderr.lines().count(), 1, "{}", said.stderr);
    let lines: Vec<&str> = said.stdout.lines().skip(2).collect();
    assert_eq!(lines[0], "The nominal chain already misses limits of the scenario:");
    assert!(lines[1].starts_with("  blocking voltage of a switch 2"), "{}", said.stdout);
    assert_eq!(
        lines[2],
        "The nominal paralleled reference misses limits (see [limits.paralleled]):"
    );
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
    let said = succeed(folder.path(), "check half.toml --tables");
    let (before, parts) = said.split_once("What every part of the nominal chain carries").unwrap();
    assert!(parts.contains("low switches held on"), "{said}");
    let headings: Vec<&str> = before.lines().filter(|line| line.contains("RMS")).collect();
    assert!(headings.len() == 3, "the screenful's, a tank's and a switch's:\n{said}");
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

const PARTS_HEADER: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,\
flying_capacitance_return_leg_F";

type Row = BTreeMap<String, String>;

/// The rows of a CSV file, by column.
fn rows(path: &Path) -> Vec<Row> {
    let text = fs::read_to_string(path).unwrap();
    csv::Reader::from_reader(text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

#[track_caller]
fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column}: {row:?}"))
}

/// What a result must miss, from its own figures and the limits of the scenario.
fn expected_misses(result: &Value, limits: &Value) -> Vec<String> {
    if result["status"] != "solved" {
        return vec!["regulation".to_owned()];
    }
    let switches = &limits[result["arrangement"].as_str().unwrap()];
    let figures = [
        ("sharing_error", &limits["sharing_error"]),
        ("switch_rms_current_A", &switches["switch_rms_current_A"]),
        ("switch_peak_current_A", &switches["switch_peak_current_A"]),
        ("blocking_voltage_V", &switches["blocking_voltage_V"]),
    ];
    let missed = figures.iter().filter(|(figure, limit)| {
        limit.as_f64().is_some_and(|limit| result[*figure].as_f64().unwrap() > limit)
    });
    missed.map(|(figure, _)| (*figure).to_owned()).collect()
}

/// Invented converters: a nominal one, one with a choke 8 % too large, and one that no frequency in the
/// band suits. Each verdict is drawn again here from the figures of the summary and the limits of the
/// scenario, and from `units.csv`.
#[test]
fn units_are_judged_by_every_limit() {
    let tight = changed(TELECOM, "sharing_error = \"2.5 %\"", "sharing_error = \"1 %\"");
    let rows_of = |unit: &str, cell: &str| {
        format!("{unit},1,{cell},,,,,,,\n{unit},2,,,,,,,,\n{unit},3,,,,,,,,\n")
    };
    let [good, off, far] =
        [("good", ""), ("off", "4.92e-6"), ("far", "4.56e-4")].map(|(u, c)| rows_of(u, c));
    let parts = format!("{PARTS_HEADER}\n{good}{off}{far}");
    let folder = folder_with(&[("shelf.toml", &tight), ("parts.csv", &parts)]);
    let said = succeed(folder.path(), "units shelf.toml --parts parts.csv --tables --out out");
    let summary = json(&folder.path().join("out/summary.json"));
    let (results, units) = (list(&summary["results"]), list(&summary["units"]));
    assert_eq!((results.len(), units.len()), (24, 24), "units × points × arrangements");
    let mut meeting: BTreeMap<(String, String), bool> = BTreeMap::new();
    for (result, unit) in results.iter().zip(units) {
        for key in ["unit", "operating_point", "arrangement", "sharing_error"] {
            assert_eq!(result[key], unit[key], "{key}");
        }
        let missed: Vec<&str> =
            list(&unit["missed"]).iter().map(|miss| miss["figure"].as_str().unwrap()).collect();
        assert_eq!(missed, expected_misses(result, &summary["limits"]), "{unit}");
        assert_eq!(unit["meets_limits"], missed.is_empty(), "{unit}");
        let key = [&unit["arrangement"], &unit["unit"]].map(|v| v.as_str().unwrap().to_owned());
        let [arrangement, name] = key;
        *meeting.entry((arrangement, name)).or_insert(true) &= missed.is_empty();
    }
    for met in list(&summary["limits_met"]) {
        let good =
            meeting.iter().filter(|((a, _), met_all)| met["arrangement"] == **a && **met_all);
        assert_eq!(met["meet_limits"].as_u64().unwrap(), good.count() as u64, "{met}");
    }
    let chain = |name: &str| meeting[&("chain".to_owned(), name.to_owned())];
    assert!(chain("good") && !chain("off") && !chain("far"));
    check_words(&said);
    for row in rows(&folder.path().join("out/units.csv")) {
        let same = |unit: &&Value| {
            ["unit", "operating_point", "arrangement"].iter().all(|key| unit[*key] == row[*key])
        };
        let unit = units.iter().find(same).unwrap();
        assert_eq!(row["meets_limits"] == "true", unit["meets_limits"] == true, "{row:?}");
    }
}

/// In half-bridge drive the resonant capacitor takes the dc: half of a phase's share of the input, which
/// is 77.5 V at 310 V over two phases. So a limit of 77 V on its peak is missed by every unit, and one of
/// 1 kV by none. Limits on single parts count as all others do.
#[test]
fn units_are_judged_by_limits_on_single_parts() {
    for (limit, meets) in [("77 V", false), ("1 kV", true)] {
        let table = "[[limits.part]]\npart = \"resonant_capacitor\"\n";
        let limited = format!("{PUMP}\n{table}peak_voltage = \"{limit}\"\n");
        let limited = changed(&limited, "sharing_error = \"3 %\"", "sharing_error = \"90 %\"");
        let folder = folder_with(&[("pump.toml", &limited), ("parts.csv", PROTOTYPES)]);
        succeed(folder.path(), "units pump.toml --parts parts.csv --out out --quiet");
        let summary = json(&folder.path().join("out/summary.json"));
        let chain = list(&summary["units"]).iter().filter(|unit| unit["arrangement"] == "chain");
        let chain: Vec<&Value> = chain.collect();
        assert_eq!(chain.len(), 4, "units × operating points");
        assert!(chain.iter().all(|unit| unit["meets_limits"] == meets), "{limit}: {chain:#?}");
    }
}

/// The answer comes first, then what is missed, the worst first, then a row a converter.
#[track_caller]
fn check_words(said: &str) {
    let lines: Vec<&str> = said.lines().skip(2).collect();
    assert_eq!(
        lines[0],
        "Converters that meet every limit at every operating point: 1 of 3 in the chain."
    );
    assert!(lines[1].starts_with("Paralleled, as the reference: 1 of 3"), "{said}");
    assert_eq!(lines[2], "Missed in the chain, worst first:");
    assert!(
        lines[3].starts_with("  out of range or not solved: 1 converter, such as “far”"),
        "{said}"
    );
    assert!(
        lines[4].starts_with("  sharing error, at most 1 %: 1 converter; the worst is"),
        "{said}"
    );
    let place = |name: &str| lines.iter().position(|line| line.starts_with(name)).unwrap();
    assert!(place("far ") < place("off ") && place("off ") < place("good "), "{said}");
}

/// Differences, the largest one and the sharing error are computed here again from the columns of
/// `units.csv`.
#[test]
fn measured_currents_stand_beside_the_predicted_ones() {
    let folder = folder_with(&[("pump.toml", PUMP), ("parts.csv", PROTOTYPES)]);
    let said = succeed(folder.path(), "units pump.toml --parts parts.csv --tables --out out");
    let summary = json(&folder.path().join("out/summary.json"));
    let names = ["output_current", "mean_abs_tank_current", "rms_tank_current"];
    let (mut largest, mut compared) = (0.0_f64, 0);
    for phases in rows(&folder.path().join("out/units.csv")).chunks(2) {
        let is_there =
            phases[0]["operating_point"] == "noon" && phases[0]["arrangement"] == "chain";
        for name in names {
            let predicted = [0, 1].map(|k| number(&phases[k], &format!("{name}_A")));
            for (k, row) in phases.iter().enumerate() {
                let measured = &row[&format!("measured_{name}_A")];
                assert_eq!(!measured.is_empty(), is_there, "{row:?}");
                if is_there {
                    let difference = measured.parse::<f64>().unwrap() - predicted[k];
                    let told = number(row, &format!("{name}_difference_A"));
                    assert!((told - difference).abs() < 1e-12, "{row:?}");
                    largest = largest.max(2.0 * difference.abs() / predicted.iter().sum::<f64>());
                    compared += 1;
                }
            }
        }
    }
    let told = &summary["deviations"];
    assert_eq!((compared, told["compared"].as_u64()), (12, Some(12)));
    let relative = told["largest"]["relative_to_mean"].as_f64().unwrap();
    assert!((relative.abs() - largest).abs() < 1e-12, "{relative} against {largest}");
    assert!(said.contains("Largest deviation: ") && said.contains("there is no verdict"), "{said}");
    // By hand: the RMS currents 9.08 A and 9.45 A of the uneven pair; overload is the measure.
    let load = &list(&summary["measured"])[1];
    let overload = 9.45 / 9.265 - 1.0;
    assert!((load["measured_sharing_error"].as_f64().unwrap() - overload).abs() < 1e-12, "{load}");
}

/// Readings made here from the prediction: 1 % too high in all phases, and 5 % in one. With an
/// uncertainty of 2 % that one alone contradicts the model; with 0.5 % all do; with 10 % none does.
#[test]
fn the_model_is_judged_by_the_measuring_uncertainty_alone() {
    let folder = folder_with(&[("pump.toml", PUMP), ("parts.csv", PROTOTYPES)]);
    succeed(folder.path(), "units pump.toml --parts parts.csv --out out --quiet");
    let mut text = "phase,unit,operating_point,measured RMS tank current (mA)\n".to_owned();
    let predicted = rows(&folder.path().join("out/units.csv"));
    for row in predicted.iter().filter(|row| row["arrangement"] == "chain") {
        let is_planted = row["operating_point"] == "haze" && row["unit"] == "even pair";
        let factor = if is_planted && row["phase"] == "2" { 1050.0 } else { 1010.0 };
        let milliamperes = factor * number(row, "rms_tank_current_A");
        let [unit, point, phase] = ["unit", "operating_point", "phase"].map(|key| &row[key]);
        text += &format!("{phase},{unit},{point},{milliamperes}\n");
    }
    let bare: String = PROTOTYPES
        .lines()
        .map(|line| line.split(',').take(10).collect::<Vec<_>>().join(",") + "\n")
        .collect();
    let folder = folder_with(&[("pump.toml", PUMP), ("bare.csv", &bare), ("measured.csv", &text)]);
    for (uncertainty, outside, words) in [
        ("2%", 1, "1 of 8 measured currents lie farther from the prediction"),
        ("0.5%", 8, "8 of 8 measured currents lie farther"),
        ("10%", 0, "All 8 measured currents agree with the prediction"),
    ] {
        let options = format!("--measured measured.csv --measuring-uncertainty {uncertainty}");
        let arguments = format!("units pump.toml --parts bare.csv {options} --tables --out out");
        let said = fairphase(folder.path(), &arguments);
        assert_eq!(said.status, 0, "{}", said.stderr);
        assert!(said.stderr.contains("measured_rms_tank_current in mA"), "{}", said.stderr);
        let said = said.stdout.replace("\n  ", " ");
        assert!(said.contains(words), "{said}");
        assert!(
            said.contains("Largest deviation: tank RMS current of phase 2, even pair"),
            "{said}"
        );
        let summary = json(&folder.path().join("out/summary.json"));
        assert_eq!(summary["deviations"]["outside_uncertainty"], outside, "{uncertainty}");
        let largest = &summary["deviations"]["largest"];
        assert_eq!((&largest["operating_point"], &largest["phase"]), (&"haze".into(), &2.into()));
    }
    for wrong in ["0%", "60%", "two", "2V"] {
        let arguments = format!("units pump.toml --parts bare.csv --measuring-uncertainty {wrong}");
        let said = fairphase(folder.path(), &arguments);
        assert_eq!(said.status, 2, "{wrong}");
        assert!(said.stderr.contains("expected a percentage above 0 %"), "{}", said.stderr);
    }
}

/// Where measured currents belong to nothing, the file is refused with the place and what to write.
#[test]
fn measured_currents_that_belong_nowhere_are_refused() {
    let parts = |column: &str, cells: [&str; 2]| {
        format!("{PARTS_HEADER},{column}\na,1,,,,,,,,,{}\na,2,,,,,,,,,{}\n", cells[0], cells[1])
    };
    let refused = |parts: &str, measured: &str, place: &str, words: &str| {
        let files = [("pump.toml", PUMP), ("parts.csv", parts), ("measured.csv", measured)];
        let folder = folder_with(&files);
        let measured = if measured.is_empty() { "" } else { "--measured measured.csv" };
        let arguments = format!("units pump.toml --parts parts.csv {measured} --tables --out out");
        let said = fairphase(folder.path(), &arguments);
        assert_eq!(said.status, 2, "{}", said.stderr);
        assert_eq!(said.stderr.matches("error: ").count(), 1, "{}", said.stderr);
        for word in [place, words] {
            assert!(said.stderr.contains(word), "`{word}`: {}", said.stderr);
        }
    };
    let rms = "measured_rms_tank_current_A";
    let open = parts(rms, ["9", "9.1"]);
    refused(&open, "", "parts.csv:1:186\n", "\"noon\" or \"haze\" in a column `operating_point`");
    let at = format!("{rms},operating_point");
    refused(&parts(&at, ["9,dusk", ","]), "", "parts.csv:2:15\n", "no operating point `dusk`");
    refused(&parts(&at, ["9,", ","]), "", "parts.csv:2:15\n", "nothing tells at which");
    refused(&parts(&at, ["-9,noon", ","]), "", "parts.csv:2:13\n", "is out of range");
    let known = parts(&at, ["9,noon", "9,noon"]);
    let header = format!("unit,phase,operating_point,arrangement,output_power_W,{rms}\n");
    let measured = |row: &str| format!("{header}{row}\n");
    let again = measured("a,1,noon,,1200,9");
    refused(&known, &again, "measured.csv:2:1\n", "was measured at this load before");
    refused(&known, &measured("b,1,noon,,,9"), "measured.csv:2:1\n", "lists no unit `b`");
    refused(&known, &measured("a,3,noon,,,9"), "measured.csv:2:3\n", "from 1 to 2");
    refused(
        &known,
        &measured("a,1,noon,both,,9"),
        "measured.csv:2:10\n",
        "`chain` or `paralleled`",
    );
    refused(&known, &measured("a,1,noon,,0,9"), "measured.csv:2:11\n", "is out of range");
    refused(&known, &measured("a,1,noon,,,"), "measured.csv:2:", "holds no measured current");
    // Slips of units: kilowatts as watts, milliamperes as amperes, more than the converter delivers.
    let far = "is far from what this operating point has";
    refused(&known, &measured("a,1,noon,,1.2,9"), "measured.csv:2:11\n", far);
    refused(&known, &measured("a,1,noon,,2400,9"), "measured.csv:2:11\n", far);
    refused(&known, &measured("a,1,noon,,1200,9000"), "measured.csv:2:16\n", far);
}

/// At every load the phases together deliver the output power; RMS is no less than the mean absolute
/// value (Cauchy and Schwarz); equal tanks share equally; full power is what `units.csv` tells. The
/// readings of the demo stand beside a prediction for their own power.
#[test]
fn over_load_every_phase_is_followed_from_a_tenth_of_the_power() {
    let equal = "equal,1,,,,,,,,,,,,\nequal,2,,,,,,,,,,,,\n";
    let parts = format!("{PROTOTYPES}{equal}");
    let files = [("pump.toml", PUMP), ("parts.csv", &parts), ("currents.csv", CURRENTS)];
    let folder = folder_with(&files);
    let arguments =
        "units pump.toml --parts parts.csv --measured currents.csv --over-load --tables";
    succeed(folder.path(), &format!("{arguments} --out out --threads 1"));
    let over_load = rows(&folder.path().join("out/over_load.csv"));
    let mut seen: BTreeMap<[String; 3], Vec<f64>> = BTreeMap::new();
    let mut readings = 0;
    for phases in over_load.chunks(2) {
        let (first, power) = (&phases[0], number(&phases[0], "output_power_W"));
        readings += usize::from(!first["measured_rms_tank_current_A"].is_empty());
        let key = ["unit", "operating_point", "arrangement"].map(|key| first[key].clone());
        seen.entry(key).or_default().push(power);
        if first["status"] == "solved" {
            check_load(phases, power);
        }
    }
    assert_eq!(seen.len(), 3 * 2 * 2, "units × operating points × arrangements");
    for powers in seen.values() {
        let full = powers.iter().copied().fold(0.0, f64::max);
        assert!((powers[0] / full - 0.1).abs() < 1e-12 && powers.len() >= 19, "{powers:?}");
    }
    assert_eq!(readings, 2 + 4 + 3, "of the parts file, chain and paralleled of the other one");
    check_full_power(folder.path(), &over_load);
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("Over load</h2>") && page.contains("class=\"reading\""));
    let files = ["report.html", "over_load.csv", "units.csv"];
    let bytes = |out: &str| files.map(|name| fs::read(folder.path().join(out).join(name)).unwrap());
    succeed(folder.path(), &format!("{arguments} --out again --threads 8"));
    assert!(bytes("out") == bytes("again"), "the number of threads changes nothing");
}

/// The sentence on the largest error tells which loads have none, and that converters are new.
#[test]
fn over_load_it_is_told_what_the_largest_error_leaves_out() {
    let narrow = changed(PUMP, "\"200 kHz\"", "\"125 kHz\"");
    let ageing = "\n[ageing]\nservice_life = \"60000 h\"\n[ageing.resonant_capacitance]\n\
                  drift = \"-5 %\"\n";
    let aged = format!("{narrow}{ageing}");
    let folder =
        folder_with(&[("pump.toml", PUMP), ("aged.toml", &aged), ("parts.csv", PROTOTYPES)]);
    let said = |scenario: &str| {
        let run = format!("units {scenario} --parts parts.csv --over-load --out out");
        let said = succeed(folder.path(), &run);
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let whole = said("pump.toml");
    assert!(whole.contains("Over load: the largest sharing error of a chain is"), "{whole}");
    assert!(whole.contains("so without an error: 2 of 76 loads."), "{whole}");
    let partly = said("aged.toml");
    assert!(partly.contains("Over load: the largest sharing error of a new chain is"), "{partly}");
    let unsolved = partly.split("so without an error: ").nth(1).unwrap();
    let count: u32 = unsolved.split(' ').next().unwrap().parse().unwrap();
    assert!(count > 2, "{partly}");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("and so without an error") && page.contains("Converters are new."));
}

/// Limits that the averaged solver cannot judge are refused, not missed by every converter.
#[test]
fn limits_that_the_averaged_solver_does_not_tell_are_refused() {
    let part = "\n[[limits.part]]\npart = \"last_low_switch\"\nturn_off_current = \"50 A\"\n";
    let instead = |limit: &str| changed(PUMP, "sharing_error = \"3 %\"", limit);
    let soft = instead("soft_switching = true");
    let timing = "timing                  = \"falling-first\"";
    let at_once =
        changed(&instead("blocking_voltage = \"900 V\""), timing, "timing = \"together\"");
    for (text, expected) in [
        (format!("{PUMP}{part}"), "limits of single parts need the exact solver"),
        (soft, "`soft_switching` needs the exact solver"),
        (instead("settling_time = \"90 ms\""), "`settling_time` needs the exact solver"),
        (
            at_once,
            "`blocking_voltage` needs the exact solver: the averaged one does not tell what switches see",
        ),
    ] {
        let folder = folder_with(&[("pump.toml", &text), ("parts.csv", PROTOTYPES)]);
        let units = "units pump.toml --parts parts.csv --out out";
        let said = fairphase(folder.path(), &format!("{units} --solver averaged"));
        assert_eq!(said.status, 2, "{}", said.stderr);
        assert!(said.stderr.contains(expected), "{}", said.stderr);
        assert!(!folder.path().join("out").exists());
        succeed(folder.path(), units);
    }
}

/// Both phases of a solved converter at a load; the output voltage of the pump is 120 V.
#[track_caller]
fn check_load(phases: &[Row], power: f64) {
    let both = |column: &str| [0, 1].map(|k| number(&phases[k], column));
    let output: f64 = both("output_current_A").iter().sum();
    assert!((120.0 * output / power - 1.0).abs() < 1e-6, "{phases:?}");
    let (mean, rms) = (both("mean_abs_tank_current_A"), both("rms_tank_current_A"));
    assert!(rms[0] >= mean[0] && rms[1] >= mean[1], "{phases:?}");
    if phases[0]["unit"] == "equal" {
        assert!((rms[0] / rms[1] - 1.0).abs() < 1e-6, "{phases:?}");
    }
    for (k, row) in phases.iter().enumerate() {
        let measured = &row["measured_rms_tank_current_A"];
        if let Ok(measured) = measured.parse::<f64>() {
            let told = number(row, "rms_tank_current_difference_A");
            assert!((told - (measured - rms[k])).abs() < 1e-12, "{row:?}");
        }
    }
}

/// The last load of a curve is the operating point of `units.csv`, to the last bit.
#[track_caller]
fn check_full_power(folder: &Path, over_load: &[Row]) {
    let keys = ["unit", "operating_point", "arrangement", "phase"];
    let full = |row: &Row| if row["operating_point"] == "noon" { 1200.0 } else { 300.0 };
    for row in rows(&folder.join("out/units.csv")) {
        let same = |other: &&Row| {
            keys.iter().all(|key| row[*key] == other[*key])
                && (number(other, "output_power_W") - full(&row)).abs() < 1e-9
        };
        let found = over_load.iter().find(same).unwrap();
        for column in ["status", "switching_frequency_Hz", "output_current_A", "rms_tank_current_A"]
        {
            assert_eq!(row[column], found[column], "{column}: {row:?}");
        }
    }
}
