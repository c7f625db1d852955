//! Cases that a second integration followed (`tests/reference/faults.py`, `tests/data/faults_followed.json`):
//! damaged full bridges whose ripple decides whether the phases share, and drawn designs. All are invented.

use fairphase::converter::{FailedLegs, FailureMode, Fault};
use fairphase::solver::fault::FaultOutcome;
use fairphase::solver::{Method, Solver};
use serde_json::Value;

use super::Design;
use crate::cases::{list, number};

struct FollowedCase {
    design: Design,
    fault: Fault,
    case: Value,
}

fn followed() -> Vec<FollowedCase> {
    let all: Value = serde_json::from_str(include_str!("../../data/faults_followed.json")).unwrap();
    let read = |case: &Value| FollowedCase {
        design: Design::read(&case["design"]),
        fault: fault(&case["fault"]),
        case: case.clone(),
    };
    all.as_array().unwrap().iter().map(read).collect()
}

fn fault(told: &Value) -> Fault {
    let failure = match told["kind"].as_str().unwrap() {
        "flying_capacitor_short" => FailureMode::FlyingCapacitorShort,
        "flying_capacitor_aged" => FailureMode::FlyingCapacitorAged(number(told, "remaining")),
        "rectifier_open" => FailureMode::RectifierOpen,
        "tank_open" => FailureMode::TankOpen,
        "low_gate_off" => FailureMode::LowGateOff,
        "high_switch_short" => FailureMode::HighSwitchShort,
        "low_switch_short" => FailureMode::LowSwitchShort,
        other => panic!("{other}"),
    };
    let legs = match told["leg"].as_u64() {
        None => None,
        Some(0) => Some(FailedLegs::Driven),
        Some(_) => Some(FailedLegs::Return),
    };
    Fault { failure, phase: told["place"].as_u64().unwrap() as usize - 1, legs }
}

/// Frequency within 1 %, currents within 2 % of their mean. A chain that the integration leaves without
/// current is said to stop.
#[test]
fn outcomes_frequencies_and_currents_agree_with_what_was_followed() {
    let mut failed = Vec::new();
    for FollowedCase { design, fault, case } in followed() {
        let found = design.case(fault).solve(&Solver::from(Method::Exact), &design.converter);
        let currents = list(&case, "phase_output_current_A");
        let total: f64 = currents.iter().sum();
        let context = format!("{} F, {fault:?}: {}", design.converter.flying[0].0, found.name());
        if total < 0.1 * design.point.output_current.0 {
            assert_eq!(found, FaultOutcome::Stops, "{context}");
            continue;
        }
        let Some(state) = found.state() else {
            failed.push(format!("{context} {currents:?}"));
            continue;
        };
        let frequency = state.state.switching_frequency.0 / number(&case, "frequency_Hz") - 1.0;
        let mean = total / currents.len() as f64;
        let errors = state.state.phases.iter().zip(&currents);
        let worst =
            errors.map(|(own, i)| (own.output_current.0 - i).abs() / mean).fold(0.0, f64::max);
        let told: Vec<f64> = state
            .state
            .phases
            .iter()
            .map(|own| (own.output_current.0 * 100.0).round() / 100.0)
            .collect();
        println!("{context}: frequency {frequency:.5}, currents {worst:.4} {told:?} {currents:?}");
        if frequency.abs() > 0.01 || worst > 0.02 {
            failed.push(format!("{context}: {frequency} {worst}"));
        }
    }
    assert!(failed.is_empty(), "{failed:#?}");
}
