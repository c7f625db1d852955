//! Converters solved by an independent nested-bracket solver, written apart from this crate from
//! the same circuit equations. Invented designs of 2 to 5 phases.
#![allow(missing_docs, reason = "a test")]

use fairphase::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier, Tank,
};
use fairphase::solver::{Outcome, SteadyState, exact};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};
use serde_json::Value;

fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap_or_else(|| panic!("{key} is missing"))
}

fn list(v: &Value, key: &str) -> Vec<f64> {
    v[key].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn converter(case: &Value) -> Converter {
    let drop = Volt(number(case, "rectifier_drop_V"));
    let tanks = case["parts"].as_array().unwrap().iter().map(|p| Tank {
        resonant_inductance: Henry(number(p, "resonant_inductance_H")),
        resonant_capacitance: Farad(number(p, "resonant_capacitance_F")),
        magnetising_inductance: Henry(number(p, "magnetising_inductance_H")),
        turns_ratio: number(p, "turns_ratio"),
        series_resistance: Ohm(number(p, "series_resistance_ohm")),
        rectifier_drop: drop,
    });
    let flying = list(case, "flying_capacitance_F").into_iter().map(Farad);
    Converter {
        tanks: tanks.collect(),
        flying: flying.clone().collect(),
        flying_return: flying.collect(),
    }
}

fn operating_point(case: &Value) -> OperatingPoint {
    OperatingPoint {
        name: case["id"].as_str().unwrap().into(),
        input_voltage: Volt(number(case, "input_voltage_V")),
        output_voltage: Volt(number(case, "output_voltage_V")),
        output_current: Ampere(number(case, "output_current_A")),
        drive: match case["drive"].as_str().unwrap() {
            "half-bridge" => Drive::HalfBridge,
            "full-bridge" => Drive::FullBridge,
            other => panic!("drive {other}"),
        },
        rectifier: match case["rectifier"].as_str().unwrap() {
            "full-bridge" => Rectifier::FullBridge,
            "centre-tap" => Rectifier::CentreTap,
            "voltage-doubler" => Rectifier::VoltageDoubler,
            other => panic!("rectifier {other}"),
        },
    }
}

/// The file's solver met output current and charge equality to 1e-9 and prints 10 digits; near
/// resonance a current moves some hundred times as much as its cause: 1e-6. Its peaks were
/// sampled 4000 points a segment: 1e-5.
fn compare(what: &str, found: &SteadyState, expected: &Value) {
    let close = |name: &str, found: f64, expected: f64, tolerance: f64| {
        let scale = expected.abs().max(1e-12);
        let error = (found - expected).abs() / scale;
        assert!(error < tolerance, "{what}, {name}: {found} against {expected} ({error:.1e})");
    };
    let frequency = number(expected, "switching_frequency_Hz");
    close("frequency", found.switching_frequency.0, frequency, 1e-6);
    let each = |key: &str, tolerance: f64, get: &dyn Fn(usize) -> f64| {
        for (k, value) in list(expected, key).into_iter().enumerate() {
            close(&format!("{key} of phase {}", k + 1), get(k), value, tolerance);
        }
    };
    let p = &found.phases;
    each("output_current_A", 1e-6, &|k| p[k].output_current.0);
    each("rms_tank_current_A", 1e-6, &|k| p[k].rms_current.0);
    each("mean_abs_tank_current_A", 1e-6, &|k| p[k].mean_abs_current.0);
    each("peak_tank_current_A", 1e-5, &|k| p[k].peak_current.0);
    if let Some(charge) = expected.get("charge_C").and_then(Value::as_f64) {
        for phase in p {
            close("charge", phase.charge, charge, 1e-6);
        }
        each("interval_start_voltage_V", 1e-6, &|k| p[k].start_voltage.0);
    }
}

#[test]
fn exact_solver_agrees_with_an_independent_one() {
    let file: Value = serde_json::from_str(include_str!("data/solved_converters.json")).unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 14);
    let band = FrequencyBand { minimum: Hertz(20e3), maximum: Hertz(2e6) };
    for case in cases {
        let (converter, point) = (converter(case), operating_point(case));
        for arrangement in Arrangement::ALL {
            let what = format!("{} {}", point.name, arrangement.name());
            let (outcome, _) = exact::solve(&converter, &point, &band, arrangement, None);
            let Outcome::Solved(state) = outcome else { panic!("{what}: {}", outcome.name()) };
            compare(&what, &state, &case["expected"][arrangement.name()]);
        }
    }
}
