//! Converters whose answers were once wrong, seen from outside: against closed forms, and against the same converter
//! asked in another way. All data are invented.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::Value;

use crate::support::{changed, fairphase, folder_with, json, succeed};

const SUPPLY: &str = r#"
title = "Supply"
[converter]
phases = 3
[converter.tank]
resonant_inductance = "8 µH"
resonant_capacitance = "150 nF"
magnetising_inductance = "60 µH"
turns_ratio = 2.0
series_resistance = "30 mΩ"
rectifier_drop = "0.7 V"
[converter.chain]
flying_capacitance = "30 µF"
[converter.frequency]
minimum = "60 kHz"
maximum = "400 kHz"
[[operating_point]]
name = "full"
input_voltage = "300 V"
output_voltage = "48.5 V"
output_power = "900 W"
drive = "full-bridge"
rectifier = "full-bridge"
[limits]
sharing_error = "50 %"
"#;

const HEADER: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,turns_ratio,\
                      series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,flying_capacitance_return_leg_F\n";

/// Of a converter with two phases, behind its resonant inductors.
const OTHER_PARTS: &str = "1.4651198511172887e-07,9.5865422600365608e-05,0.62186018853753977,0.10753950785983664,0.9,\
                           2.2388014732750101e-05,";
const OF_PHASE_2: &str =
    "1.5153219596139235e-07,9.5489606742305371e-05,0.61835389959940801,0.086349152058391193,0.9,,";
const COUNT: u32 = 200;

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// Lost tanks of the paralleled reference, by place.
fn lost_tanks(text: &str) -> Vec<Value> {
    let folder = folder_with(&[("supply.toml", text)]);
    succeed(folder.path(), "faults supply.toml --samples 5 --quiet --out out");
    let found = json(&folder.path().join("out/summary.json"));
    let all = found["faults"].as_array().unwrap().iter();
    let is_lost = |own: &&Value| own["arrangement"] == "paralleled" && own["kind"] == "tank open";
    all.filter(is_lost).cloned().collect()
}

/// The losses that were guessed to begin with need other frequencies than those that agree. The band is for the
/// latter: whatever its lower end, the converter is the same until the end passes it.
#[test]
fn the_band_is_for_losses_that_agree() {
    let tank = changed(SUPPLY, "turns_ratio = 2.0", "turns_ratio = 8");
    let tank = changed(&tank, "\"30 mΩ\"", "\"5 mΩ\"");
    let tank = changed(&tank, "\"48.5 V\"", "\"11 V\"");
    let losses = "[converter.losses]\non_resistance = \"20 mΩ\"\nrectifier_resistance = \"1 mΩ\"\n\
        switch_thermal_resistance = \"3 K/W\"\nrectifier_thermal_resistance = \"3 K/W\"\n\
        [temperature_coefficient.rectifier_drop]\nvalue = \"-0.25 %/K\"\n[converter.chain]";
    let text = changed(&tank, "[converter.chain]", losses);
    let text = changed(&text, "\"900 W\"", "\"1 kW\"");
    let check = |lowest: &str| {
        let text = changed(&text, "\"60 kHz\"", lowest);
        fairphase(folder_with(&[("supply.toml", &text)]).path(), "check supply.toml --json")
    };
    let frequencies = |lowest: &str| -> Vec<f64> {
        let said = check(lowest);
        assert_eq!(said.status, 0, "{lowest}: {}", said.stderr);
        let found: Value = serde_json::from_str(&said.stdout).unwrap();
        let results = found["results"].as_array().unwrap().iter();
        results.map(|own| number(&own["switching_frequency_Hz"])).collect()
    };
    let wide = frequencies("\"60 kHz\"");
    let least = wide.iter().copied().fold(f64::INFINITY, f64::min);
    for share in [0.9, 0.98, 0.999] {
        let near = frequencies(&format!("\"{} Hz\"", share * least));
        for (near, wide) in near.iter().zip(&wide) {
            assert!((near / wide - 1.0).abs() < 1e-8, "{share}: {near} {wide}");
        }
    }
    assert_eq!(check(&format!("\"{} Hz\"", 1.001 * least)).status, 2);
}

/// A voltage doubler feeds each output capacitor by half waves a(t) of mean Io/2 a phase. Two phases half a period apart
/// ripple by 2⟨a²⟩ − Io², two in step by 4⟨a²⟩ − Io²: with phase 2 lost the square is twice that of the others and Io²
/// more. From peak to peak it is twice.
#[test]
fn phases_that_are_left_keep_their_step() {
    let text = changed(SUPPLY, "\"300 V\"", "\"375 V\"");
    let text = text.replace("\"full-bridge\"", "\"half-bridge\"");
    let text = changed(&text, "rectifier = \"half-bridge\"", "rectifier = \"voltage-doubler\"");
    let part = "\n[[limits.part]]\npart = \"output_capacitor\"\nrms_current = \"0.01 A\"\n\
                peak_to_peak_current = \"0.01 A\"\n";
    let lost = lost_tanks(&(text + part));
    let value = |place: usize, figure: &str| {
        let missed = lost[place]["missed"].as_array().unwrap();
        number(&missed.iter().find(|own| own["figure"] == figure).unwrap()["value"])
    };
    let rms = [0, 1, 2].map(|place| value(place, "output_capacitor_rms_current_A"));
    let swing = [0, 1, 2].map(|place| value(place, "output_capacitor_peak_to_peak_current_A"));
    let output = 900.0 / 48.5;
    let in_step = (2.0 * rms[0] * rms[0] + output * output).sqrt();
    assert!((rms[1] / in_step - 1.0).abs() < 1e-5, "{rms:?} {in_step}");
    assert!((rms[2] / rms[0] - 1.0).abs() < 1e-9, "{rms:?}");
    assert!((swing[1] / swing[0] - 2.0).abs() < 1e-5, "{swing:?}");
}

/// Phases keep their places in the heat: without phase 1 they are as warm as those without phase 3 where all is a step
/// warmer.
#[test]
fn phases_that_are_left_keep_their_temperatures() {
    let losses = "[converter.losses]\non_resistance = \"20 mΩ\"\nrectifier_resistance = \"3 mΩ\"\n\
        switch_thermal_resistance = \"3 K/W\"\nrectifier_thermal_resistance = \"4 K/W\"\n\
        [temperature_coefficient.on_resistance]\nvalue = \"2 %/K\"\n\
        [temperature_coefficient.rectifier_drop]\nvalue = \"-0.4 %/K\"\n[converter.chain]";
    let warm = |first: &str| {
        let text = changed(SUPPLY, "[converter.chain]", losses);
        let rise = format!(
            "rectifier = \"full-bridge\"\ntemperature = \"{first}\"\nphase_rise = \"40 K\""
        );
        lost_tanks(&changed(&text, "rectifier = \"full-bridge\"", &rise))
            .iter()
            .map(|own| number(&own["switching_frequency_Hz"]))
            .collect::<Vec<f64>>()
    };
    let (colder, warmer) = (warm("-10 °C"), warm("30 °C"));
    assert!((colder[0] / warmer[2] - 1.0).abs() < 1e-9, "{colder:?} {warmer:?}");
    assert!((warmer[0] / warmer[2] - 1.0).abs() > 1e-4, "{warmer:?}");
}

/// Converters that differ by nothing that counts have one ripple, however their last intervals round.
#[test]
fn the_ripple_of_the_output_does_not_depend_on_rounding() {
    let text = changed(SUPPLY, "phases = 3", "phases = 2");
    let text = changed(&text, "\"300 V\"", "\"310 V\"");
    let text = changed(&text, "drive = \"full-bridge\"", "drive = \"half-bridge\"");
    let text = changed(&text, "\"48.5 V\"", "\"120 V\"");
    let text = changed(&text, "\"900 W\"", "\"1200 W\"");
    let mut parts = HEADER.to_owned();
    for n in 0..COUNT {
        let off = 1.0 + 1e-12 * f64::from(n);
        let [first, second] = [1.964_896_933_062_859_4e-5 * off, 1.766_993_296_516_029_7e-5 / off];
        writeln!(parts, "u{n},1,{first},{OTHER_PARTS}").unwrap();
        writeln!(parts, "u{n},2,{second},{OF_PHASE_2}").unwrap();
    }
    let folder = folder_with(&[("supply.toml", &text), ("parts.csv", &parts)]);
    succeed(folder.path(), "units supply.toml --parts parts.csv --quiet --out out");
    let text = std::fs::read_to_string(folder.path().join("out/unit_ratings.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<BTreeMap<String, String>> = reader.deserialize().map(Result::unwrap).collect();
    let chain = rows.iter().filter(|row| row["arrangement"] == "chain");
    let swings: Vec<f64> =
        chain.map(|row| row["output_capacitor_peak_to_peak_current_A"].parse().unwrap()).collect();
    assert_eq!(swings.len(), 200);
    assert!(swings.iter().all(|own| (own / swings[0] - 1.0).abs() < 1e-7), "{swings:?}");
}

/// The highest frequency that delivers the output, by whatever band it is found: peaks of paralleled phases with little
/// loss are narrow.
#[test]
fn the_averaged_solver_steps_over_no_peak() {
    let parts = format!(
        "{HEADER}u,1,6.82667e-6,1.35675e-7,5.43622e-5,1.97862,0.0217117,0.705721,3.6013e-5,3.3781e-5\n\
         u,2,8.55294e-6,1.61373e-7,5.68181e-5,1.98609,0.0296946,0.631295,3.53797e-5,3.34373e-5\n\
         u,3,6.8321e-6,1.60059e-7,7.12879e-5,2.01019,0.0246770,0.761195,,\n"
    );
    let frequency = |lowest: &str, solver: &str| -> f64 {
        let text = changed(SUPPLY, "\"900 W\"", "\"4500 W\"");
        let text = changed(&text, "\"60 kHz\"", lowest);
        let folder = folder_with(&[("supply.toml", &text), ("parts.csv", &parts)]);
        let command =
            format!("units supply.toml --parts parts.csv --solver {solver} --quiet --out out");
        succeed(folder.path(), &command);
        let text = std::fs::read_to_string(folder.path().join("out/units.csv")).unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<BTreeMap<String, String>> =
            reader.deserialize().map(Result::unwrap).collect();
        let own = rows.iter().find(|row| row["arrangement"] == "paralleled").unwrap();
        own["switching_frequency_Hz"].parse().unwrap()
    };
    let (wide, narrow) =
        (frequency("\"60 kHz\"", "averaged"), frequency("\"150 kHz\"", "averaged"));
    assert!((wide / narrow - 1.0).abs() < 1e-9, "{wide} {narrow}");
    let exact = frequency("\"60 kHz\"", "exact");
    assert!((wide / exact - 1.0).abs() < 0.01, "{wide} {exact}");
}
