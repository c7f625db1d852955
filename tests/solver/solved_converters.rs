//! Converters solved by an independent nested-bracket solver, written apart from this crate from
//! the same circuit equations. Invented designs of 2 to 5 phases.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::cases::{check_list, converter, number, operating_point};
use fairphase::converter::{Arrangement, FrequencyBand};
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::units::Hertz;
use serde_json::Value;

/// The file's solver met output current and charge equality to 1e-9 and prints 10 digits; near
/// resonance a current moves some hundred times as much as its cause: 1e-6. Its peaks were
/// sampled 4000 points a segment: 1e-5.
fn compare(what: &str, found: &SteadyState, expected: &Value) {
    let frequency = number(expected, "switching_frequency_Hz");
    assert!((found.switching_frequency.0 / frequency - 1.0).abs() < 1e-6, "{what}: frequency");
    let p = &found.phases;
    check_list(what, expected, "output_current_A", 1e-6, |k| p[k].output_current.0);
    check_list(what, expected, "rms_tank_current_A", 1e-6, |k| p[k].rms_current.0);
    check_list(what, expected, "mean_abs_tank_current_A", 1e-6, |k| p[k].mean_abs_current.0);
    check_list(what, expected, "peak_tank_current_A", 1e-5, |k| p[k].peak_current.0);
    if let Some(charge) = expected.get("charge_C").and_then(Value::as_f64) {
        assert!(p.iter().all(|x| (x.charge / charge - 1.0).abs() < 1e-6), "{what}: charge");
        check_list(what, expected, "interval_start_voltage_V", 1e-6, |k| p[k].start_voltage.0);
    }
}

#[test]
fn exact_solver_agrees_with_an_independent_one() {
    let file: Value = serde_json::from_str(include_str!("../data/solved_converters.json")).unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 14);
    let band = FrequencyBand { minimum: Hertz(20e3), maximum: Hertz(2e6) };
    for json in cases {
        let (converter, point) = (converter(json), operating_point(json));
        for arrangement in Arrangement::ALL {
            let what = format!("{} {}", point.name, arrangement.name());
            let case = Case::new(point.clone(), band, arrangement);
            let outcome = Method::Exact.solve(&converter, &case);
            let Outcome::Solved(state) = outcome else { panic!("{what}: {}", outcome.name()) };
            compare(&what, &state, &json["expected"][arrangement.name()]);
        }
    }
}
