//! The full coupled circuit, all phases and flying capacitors in one state vector, integrated by
//! general-purpose numerical libraries (`NumPy` and `SciPy`) in `tests/reference/coupled_circuit.py`,
//! without the decoupling and the symmetries that this crate's solver rests on. Invented designs.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::cases::{check_list, converter, list, number, operating_point};
use fairphase::converter::{Arrangement, FrequencyBand};
use fairphase::solver::{Case, Method, Outcome, SteadyState, chain_voltages};
use fairphase::units::Hertz;
use serde_json::Value;

/// The script's own checks agree to 3e-11; the target current carries 14 digits. Near resonance
/// the frequency that meets it, and with it the split of a paralleled converter, is uncertain by
/// some hundred times as much.
const CLOSE: f64 = 1e-9;

fn cases() -> Vec<Value> {
    let file: Value = serde_json::from_str(include_str!("../data/coupled_circuit.json")).unwrap();
    file["cases"].as_array().unwrap().clone()
}

fn solve(case: &Value, arrangement: Arrangement) -> SteadyState {
    let mut point = operating_point(case);
    let expected = &case["expected"][arrangement.name()];
    point.output_current.0 = number(expected, "total_output_current_A");
    let band = FrequencyBand { minimum: Hertz(90e3), maximum: Hertz(400e3) };
    let outcome = Method::Exact.solve(&converter(case), &Case::new(point, band, arrangement));
    let Outcome::Solved(state) = outcome else { panic!("{}", outcome.name()) };
    state
}

fn check_currents(what: &str, state: &SteadyState, expected: &Value) {
    let f = number(expected, "switching_frequency_Hz");
    let found = state.switching_frequency.0;
    assert!((found / f - 1.0).abs() < CLOSE, "{what}: {found} against {f}");
    let p = &state.phases;
    let check = |key: &str, get: &dyn Fn(usize) -> f64| check_list(what, expected, key, CLOSE, get);
    check("output_current_A", &|k| p[k].output_current.0);
    check("rms_tank_current_A", &|k| p[k].rms_current.0);
    check("mean_abs_tank_current_A", &|k| p[k].mean_abs_current.0);
    check("peak_tank_current_A", &|k| p[k].peak_current.0);
    check("charge_C", &|k| p[k].charge);
    check("high_switch_rms_current_A", &|k| p[k].switches.high.rms.0);
    if expected.get("return_high_switch_rms_current_A").is_some() {
        check("return_high_switch_rms_current_A", &|k| p[k].switches.return_high.rms.0);
    } else {
        // Half bridge: the return leg's low side is on all the time, and in series with the tank.
        check("rms_tank_current_A", &|k| p[k].switches.return_low.rms.0);
        check("peak_tank_current_A", &|k| p[k].switches.return_low.peak.0);
    }
    // The low sides of a chain nearly cancel: what is left carries 1e-8 of itself, from a
    // quadrature rule of the exact waveforms.
    check_list(what, expected, "low_switch_rms_current_A", 1e-8, |k| p[k].switches.low.rms.0);
}

#[test]
fn chain_agrees_with_the_whole_circuit_integrated() {
    for case in cases() {
        let state = solve(&case, Arrangement::Chain);
        let expected = &case["expected"]["chain"];
        let what = format!("{} chain", case["id"]);
        check_currents(&what, &state, expected);
        let full_bridge = case["drive"] == "full-bridge";
        let key =
            if full_bridge { "mean_interval_start_voltage_V" } else { "interval_start_voltage_V" };
        check_list(&what, expected, key, CLOSE, |k| state.phases[k].start_voltage.0);
        let input = state.switching_frequency.0
            * state.phases[0].charge
            * number(&case, "input_voltage_V")
            * if full_bridge { 2.0 } else { 1.0 };
        let power = number(expected, "input_power_W");
        assert!((input / power - 1.0).abs() < CLOSE, "{what}: {input} W against {power} W");
    }
}

#[test]
fn paralleled_agrees_with_the_whole_circuit_integrated() {
    for case in cases() {
        let state = solve(&case, Arrangement::Paralleled);
        let expected = &case["expected"]["paralleled"];
        check_currents(&format!("{} paralleled", case["id"]), &state, expected);
    }
}

/// Half bridge alone: in full bridge the split between the legs is not determined, and the script
/// settles on another one. There are N − 1 such splits.
#[test]
fn chain_voltages_agree_with_the_whole_circuit_integrated() {
    for case in cases().iter().filter(|c| c["drive"] == "half-bridge") {
        let (state, expected) = (solve(case, Arrangement::Chain), &case["expected"]["chain"]);
        let what = case["id"].to_string();
        let voltages = chain_voltages(&state, &converter(case), &operating_point(case));
        let [leg] = &voltages.legs[..] else { panic!("one leg") };
        let check = |key: &str, tolerance: f64, get: &dyn Fn(usize) -> f64| {
            check_list(&what, expected, key, tolerance, get);
        };
        check("flying_capacitor_min_voltage_V", CLOSE, &|k| leg.flying[k].lowest.0);
        check("flying_capacitor_max_voltage_V", CLOSE, &|k| leg.flying[k].highest.0);
        check("low_switch_peak_blocking_voltage_V", CLOSE, &|k| leg.low_blocking[k].0);
        let phases = state.phases.len();
        for (k, &exact) in list(expected, "high_switch_peak_blocking_voltage_V").iter().enumerate()
        {
            let bound = leg.high_blocking[k].0;
            if k == 0 || k == 1 || k == phases - 1 {
                assert!((bound / exact - 1.0).abs() < CLOSE, "{what}: {bound} against {exact}");
            } else {
                // Between two flying capacitors it is a bound, at most one ripple too high.
                let ripple = leg.flying[k].highest.0 - leg.flying[k].lowest.0;
                assert!(bound >= exact && bound < exact + ripple, "{what}: {bound}, {exact}");
            }
        }
    }
}
