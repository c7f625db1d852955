//! What dead times add to blocking voltages, where all phases switch at once, counts alike in every verb.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::path::Path;

use serde_json::Value;

use crate::support::{SHELF, changed, folder_with, json, succeed};

/// Invented switches, of which a high one sees more in the dead time than while it blocks.
const AT_ONCE: &str = "[switch]\noutput_capacitance = \"350 pF\"\ndead_time = \"150 ns\"\n\
                       timing = \"together\"\n[limits]\nblocking_voltage = \"270 V\"";

fn shelf() -> String {
    changed(SHELF, "[limits]", AT_ONCE)
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-7 * expected, "{found} is not {expected}");
}

/// What the nominal chain blocks.
fn nominal(folder: &Path, file: &str) -> f64 {
    let said = succeed(folder, &format!("check {file} --json"));
    let check: Value = serde_json::from_str(&said).unwrap();
    assert_eq!(check["results"][0]["arrangement"], "chain");
    number(&check["results"][0]["blocking_voltage_V"])
}

/// The drift of the only operating point, and the words of the answer.
fn drift(folder: &Path, file: &str) -> (Value, String) {
    let said = succeed(folder, &format!("capacitors {file} --samples 20 --out out"));
    let found = json(&folder.join("out/summary.json"));
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    (found["capacitors"]["drift"][0].clone(), words)
}

/// Switches see more than the limit in the dead time alone, and `capacitors` says so. Resistors that hold a drift
/// leave room for the dead times.
#[test]
fn drift_and_its_resistors_count_from_the_dead_times() {
    let causes =
        "[converter.chain.drift]\nleakage_current = \"20 µA\"\nleakage_voltage = \"250 V\"\n";
    let drifting = |more: &str| {
        let table = format!("{causes}{more}[converter.frequency]");
        let text = changed(&shelf(), "[converter.frequency]", &table);
        changed(&text, "\"270 V\"", "\"300 V\"")
    };
    let files = [("plain.toml", SHELF), ("shelf.toml", &shelf()), ("drifting.toml", &drifting(""))];
    let folder = folder_with(&files);
    let folder = folder.path();
    let (plain, with) = (nominal(folder, "plain.toml"), nominal(folder, "shelf.toml"));
    assert!(plain < 265.0 && with > 275.0, "{plain} {with}");
    let (found, words) = drift(folder, "shelf.toml");
    assert!(words.contains("That exceeds the limit on the blocking voltage, 270.0 V."), "{words}");
    let switches = found["switches"].as_array().unwrap();
    let highest = switches.iter().map(|own| number(&own["with_drift_V"])).fold(0.0, f64::max);
    near(highest, with);

    let (found, _) = drift(folder, "drifting.toml");
    let resistance = number(&found["balancing"]["resistance_ohm"]);
    let held = drifting(&format!("balancing_resistance = \"{resistance} Ω\"\n"));
    std::fs::write(folder.join("held.toml"), held).unwrap();
    let held = nominal(folder, "held.toml");
    assert!(held > with + 5.0 && held < 300.0 * (1.0 + 1e-6), "{held}");
}

/// An aged flying capacitor leaves every part at work: it blocks what a unit with such a capacitor does. After other
/// faults the limit is not judged: what dead times add there is not known.
#[test]
fn faults_count_the_dead_times_where_they_are_known() {
    let aged = "unit,phase,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,turns_ratio,\
                series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,flying_capacitance_return_leg_F\n\
                A,1,,,,,,,25e-6,50e-6\nA,2,,,,,,,,\nA,3,,,,,,,,\n";
    let scenario = changed(&shelf(), "[run]", "[faults]\nremaining = [\"50 %\"]\n[run]");
    let folder = folder_with(&[("shelf.toml", &scenario), ("aged.csv", aged)]);
    let folder = folder.path();
    let with = nominal(folder, "shelf.toml");
    succeed(folder, "faults shelf.toml --samples 1 --out faults");
    succeed(folder, "units shelf.toml --parts aged.csv --out units");
    let [found, units] =
        ["faults", "units"].map(|out| json(&folder.join(out).join("summary.json")));
    near(number(&found["healthy"][0]["highest_blocking_voltage_V"]), with);
    let of_kind = |kind: &str| {
        let is = |own: &&Value| {
            own["kind"] == kind && own["place"] == 1 && own["arrangement"] == "chain"
        };
        found["faults"].as_array().unwrap().iter().find(is).unwrap()
    };
    let aged = of_kind("flying capacitor aged");
    let unit =
        units["results"].as_array().unwrap().iter().find(|own| own["arrangement"] == "chain");
    near(number(&aged["highest_blocking_voltage_V"]), number(&unit.unwrap()["blocking_voltage_V"]));
    assert_eq!(aged["limits_met"], false);
    assert_eq!(aged["missed"][0]["figure"], "blocking_voltage_V");
    assert_eq!(aged["limits_not_judged"].as_array().unwrap().len(), 0);
    assert_eq!(aged["yield"]["successes"], 0);
    let held = of_kind("low gate off");
    let open = held["limits_not_judged"].as_array().unwrap();
    assert_eq!(
        open.iter().any(|name| name == "blocking_voltage_V"),
        held["limits_met"] == true,
        "{held}"
    );
    let named = found["limits_not_judged"].as_array().unwrap();
    assert!(named.iter().any(|name| name == "blocking_voltage_V"), "{named:?}");
}
