//! Faults against a time integration of the whole circuit with body diodes.
//!
//! `tests/data/faults.json` holds its cases: nodal equations with 2 000 steps a period, a body diode of
//! 0.8 V and 1 mΩ in every switch, from the healthy steady state until nothing changes any more. It was
//! made for this project, independently of the solver, and is copied without the courses over time.
//! The laws are tried on random designs in `laws`, some against an integrator of their own in
//! `integration`.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small counts")]
#![allow(clippy::float_cmp, reason = "signs are -1, 0 or 1")]

mod designs;
mod followed;
mod half_fed;
mod integration;
mod laws;

use fairphase::converter::{
    Arrangement, Condition, Converter, Drive, FailedLegs, FailureMode, Fault, FrequencyBand,
    OperatingPoint, Rectifier, Tank,
};
use fairphase::solver::fault::{FaultCase, FaultOutcome};
use fairphase::solver::{Case, Method, Solver};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};
use serde_json::Value;

use crate::cases::{list, number};

const DIODE_DROP: Volt = Volt(0.8);

fn reference() -> Value {
    serde_json::from_str(include_str!("../../data/faults.json")).unwrap()
}

/// A design of the file.
struct Design {
    converter: Converter,
    point: OperatingPoint,
    band: FrequencyBand,
}

fn drive(v: &Value) -> Drive {
    *Drive::ALL.iter().find(|drive| drive.name() == v["drive"].as_str().unwrap()).unwrap()
}

impl Design {
    fn read(design: &Value) -> Self {
        let tank = Tank {
            resonant_inductance: Henry(number(design, "resonant_inductance_H")),
            resonant_capacitance: Farad(number(design, "resonant_capacitance_F")),
            magnetising_inductance: Henry(number(design, "magnetising_inductance_H")),
            turns_ratio: number(design, "turns_ratio"),
            series_resistance: Ohm(number(design, "series_resistance_ohm")),
            rectifier_drop: Volt(number(design, "rectifier_drop_V")),
        };
        let phases = design["phases"].as_u64().unwrap() as usize;
        let flying = Farad(number(design, "flying_capacitance_F"));
        let band = list(design, "frequency_band_Hz");
        Self {
            converter: Converter::uniform(phases, tank, flying),
            point: OperatingPoint {
                name: "full load".into(),
                input_voltage: Volt(number(design, "input_voltage_V")),
                output_voltage: Volt(number(design, "output_voltage_V")),
                output_current: Ampere(number(design, "output_current_A")),
                drive: drive(design),
                rectifier: Rectifier::FullBridge,
                condition: Condition::default(),
            },
            band: FrequencyBand { minimum: Hertz(band[0]), maximum: Hertz(band[1]) },
        }
    }

    fn case(&self, fault: Fault) -> FaultCase {
        FaultCase::new(fault, self.point.clone(), self.band, Arrangement::Chain, DIODE_DROP)
    }
}

/// The fault of a case; none for the healthy converter.
fn fault(case: &Value) -> Option<Fault> {
    let parts = case["fault"].as_array().unwrap();
    let first = &parts[0];
    let failure = match first["kind"].as_str().unwrap() {
        "healthy" => return None,
        _ if parts.len() == 2 => FailureMode::Bypassed,
        "flying_capacitor_short" => FailureMode::FlyingCapacitorShort,
        "flying_capacitor_open" => FailureMode::FlyingCapacitorOpen,
        "flying_capacitor_aged" => {
            FailureMode::FlyingCapacitorAged(number(first, "remaining_share"))
        }
        "rectifier_open" => FailureMode::RectifierOpen,
        "tank_open" => FailureMode::TankOpen,
        "both_gates_off" => FailureMode::BothGatesOff,
        "high_gate_off" => FailureMode::HighGateOff,
        "low_gate_off" => FailureMode::LowGateOff,
        "high_switch_short" => FailureMode::HighSwitchShort,
        "low_switch_short" => FailureMode::LowSwitchShort,
        other => panic!("{other}"),
    };
    let legs = match &parts[parts.len() - 1]["leg"] {
        Value::Null => None,
        Value::String(_) => Some(FailedLegs::All),
        leg if leg == 1 => Some(FailedLegs::Driven),
        _ => Some(FailedLegs::Return),
    };
    let phase = first["place"].as_u64().unwrap() as usize - 1;
    Some(Fault { failure, phase, legs })
}

fn expected_outcome(case: &Value) -> &'static str {
    match case["outcome"].as_str().unwrap() {
        "regulated" | "regulated only when started from the top of the band" => "runs",
        "out of range: half-bridge remainder" => "out of range",
        "stops" => "stops",
        "shoot-through, no steady state" => "no steady state",
        other => panic!("{other}"),
    }
}

/// A case of the file with its design.
struct ReferenceCase<'a> {
    design: Design,
    fault: Fault,
    case: &'a Value,
}

fn cases(reference: &Value) -> Vec<ReferenceCase<'_>> {
    let all = reference["cases"].as_array().unwrap().iter();
    all.filter_map(|case| {
        let design = Design::read(&reference["designs"][case["design"].as_str().unwrap()]);
        Some(ReferenceCase { design, fault: fault(case)?, case })
    })
    .collect()
}

impl ReferenceCase<'_> {
    fn name(&self) -> String {
        format!("{} {:?}", self.case["design"], self.fault)
    }

    fn solve(&self) -> FaultOutcome {
        let solver = Solver::from(Method::Exact);
        self.design.case(self.fault).solve(&solver, &self.design.converter)
    }
}

/// The outcome of every case; frequency within 1 %, phase currents within 2 % of their mean, and the
/// phases that carry them.
#[test]
fn outcomes_frequencies_and_currents_agree() {
    let reference = reference();
    let cases = cases(&reference);
    assert_eq!(cases.len(), 100);
    let mut running = 0;
    for one in cases {
        let (found, name) = (one.solve(), one.name());
        assert_eq!(found.name(), expected_outcome(one.case), "{name}");
        let Some(state) = found.state() else { continue };
        let expected = &one.case["steady_state"];
        let frequency = state.state.switching_frequency.0 / number(expected, "frequency_Hz") - 1.0;
        assert!(frequency.abs() < 0.01, "{name}: frequency {frequency}");
        let currents = list(expected, "phase_output_current_A");
        let mean = currents.iter().sum::<f64>() / currents.len() as f64;
        for (phase, expected) in state.state.phases.iter().zip(&currents) {
            let error = (phase.output_current.0 - expected) / mean;
            assert!(error.abs() < 0.02, "{name}: current {error}");
        }
        let carrying: Vec<u64> = state.carrying.iter().map(|k| *k as u64 + 1).collect();
        assert_eq!(serde_json::json!(carrying), expected["carrying_phases"], "{name}");
        running += 1;
    }
    assert_eq!(running, 56);
}

/// What the switches block lies in the range that is told: within 3 % of the input.
#[test]
fn blocking_voltages_lie_in_their_ranges() {
    let reference = reference();
    let mut compared = 0;
    for one in cases(&reference) {
        let found = one.solve();
        let Some(state) = found.state() else { continue };
        let margin = 0.03 * one.design.point.input_voltage.0;
        for (leg, key) in state.voltages.iter().zip(["leg1", "leg2"]) {
            let expected = &one.case["steady_state"]["blocking_V"][key];
            for (own, side) in [(&leg.high, "high"), (&leg.low, "low")] {
                for (k, (range, voltage)) in own.iter().zip(list(expected, side)).enumerate() {
                    let (low, high) = (range.lowest.0 - margin, range.highest.0 + margin);
                    let context = format!("{} {key} {side} {k}", one.name());
                    // What floats behind a dead gate is bounded from above alone.
                    let is_bound = one.fault.failure == FailureMode::LowGateOff;
                    assert!(is_bound || voltage > low, "{context}: {voltage} below {range:?}");
                    assert!(voltage < high, "{context}: {voltage} above {range:?}");
                    compared += 1;
                }
            }
        }
    }
    assert!(compared > 400, "{compared}");
}

/// Started from the healthy frequency the controller is caught at the lower limit in three cases, and in
/// no other. The current there is the integration's within 3 %.
#[test]
fn the_controller_is_trapped_where_the_integration_is() {
    let reference = reference();
    let mut trapped = 0;
    for one in cases(&reference) {
        let found = one.solve();
        let Some(state) = found.state() else { continue };
        let healthy = Hertz(number(one.case, "healthy_frequency_Hz"));
        let case = one.design.case(one.fault);
        let trap = case.trap(&one.design.converter, healthy, state);
        let expected = &one.case["stuck_at_lower_frequency_limit"];
        assert_eq!(trap.is_some(), expected.is_object(), "{}", one.name());
        let Some(trap) = trap else { continue };
        assert!((trap.frequency.0 / number(expected, "frequency_Hz") - 1.0).abs() < 1e-9);
        let current = trap.current.0 / number(expected, "total_output_current_A");
        assert!((current - 1.0).abs() < 0.03, "{}: {current}", one.name());
        trapped += 1;
    }
    assert_eq!(trapped, 3);
}

/// Where a chain ends whose rectifier is open: voltages of all phases within 2 % of the input.
#[test]
fn stopped_chains_end_where_the_integration_does() {
    let reference = reference();
    let mut compared = 0;
    for one in cases(&reference) {
        if one.fault.failure != FailureMode::RectifierOpen {
            continue;
        }
        let end = &one.case["at_lower_frequency_limit_after_3200_periods"];
        let Some(found) = one.design.case(one.fault).stopped(&one.design.converter) else {
            continue;
        };
        let input = one.design.point.input_voltage.0;
        let nodes = end["flying_capacitor_V"]["leg1"].as_array().unwrap();
        let mut above = input;
        let mut expected: Vec<f64> = Vec::new();
        for node in nodes.iter().map(|node| number(node, "mean")).chain([0.0]) {
            expected.push(above - node);
            above = node;
        }
        for (own, expected) in found.phases.iter().zip(expected) {
            assert!((own.0 - expected).abs() < 0.02 * input, "{}: {own:?} {expected}", one.name());
            compared += 1;
        }
    }
    assert!(compared >= 8, "{compared}");
}

/// First signs of stopped chains. The output is gone about when the closed forms say, and no capacitor is
/// off sooner than the least number of periods.
#[test]
fn first_signs_come_when_the_closed_forms_say() {
    let reference = reference();
    let solver = Solver::from(Method::Exact);
    let mut compared = 0;
    for one in cases(&reference) {
        let is_open =
            matches!(one.fault.failure, FailureMode::RectifierOpen | FailureMode::TankOpen);
        let (signs, healthy) = (
            &one.case["first_signs"],
            Case::new(one.design.point.clone(), one.design.band, Arrangement::Chain),
        );
        if one.case["outcome"] != "stops" || !signs.is_object() {
            continue;
        }
        let healthy = solver.solve(&one.design.converter, &healthy);
        let case = one.design.case(one.fault);
        let found = case.first_signs(&one.design.converter, healthy.solved().unwrap());
        let periods = |key: &str| signs[key].as_f64();
        if is_open {
            let gone = periods("periods_until_below_10_percent").unwrap();
            let told = found.output.unwrap();
            let (from, to) = (told.from, told.to.unwrap());
            assert!(gone > 0.6 * from && gone < 1.4 * to, "{}: {gone} {told:?}", one.name());
        }
        if let (Some(off), Some(told)) =
            (periods("periods_until_capacitor_off_by_10_percent_of_phase_voltage"), found.capacitor)
        {
            assert!(off > 0.95 * told.from || told.from < 1.0, "{}: {off} {told:?}", one.name());
            compared += 1;
        }
    }
    assert!(compared > 20, "{compared}");
}

/// With unequal tanks a dead low gate leaves frequency and currents within 0.5 and 3 % of those before it.
#[test]
fn a_dead_low_gate_changes_little_with_unequal_tanks() {
    let reference = reference();
    let solver = Solver::from(Method::Exact);
    let mut compared = 0;
    for one in reference["low_gate_off_with_unequal_parts"].as_array().unwrap() {
        let design = Design::read(&reference["designs"][one["design"].as_str().unwrap()]);
        let mut converter = design.converter.clone();
        let deviations = ["resonant_inductance", "magnetising_inductance"]
            .map(|key| list(one, &format!("relative_deviation_{key}")));
        for (k, tank) in converter.tanks.iter_mut().enumerate() {
            tank.resonant_inductance.0 *= 1.0 + deviations[0][k];
            tank.magnetising_inductance.0 *= 1.0 + deviations[1][k];
        }
        if !one["fault"].is_object() {
            continue;
        }
        let phase = one["fault"]["place"].as_u64().unwrap() as usize - 1;
        let fault =
            Fault { failure: FailureMode::LowGateOff, phase, legs: Some(FailedLegs::Driven) };
        let found = design.case(fault).solve(&solver, &converter);
        let state = &found.state().unwrap().state;
        let frequency = state.switching_frequency.0 / number(one, "frequency_Hz") - 1.0;
        assert!(frequency.abs() < 0.005, "{one}: {frequency}");
        let currents = list(one, "phase_output_current_A");
        let mean = currents.iter().sum::<f64>() / currents.len() as f64;
        for (phase, expected) in state.phases.iter().zip(&currents) {
            let error = (phase.output_current.0 - expected) / mean;
            assert!(error.abs() < 0.03, "{one}: {error}");
        }
        compared += 1;
    }
    assert_eq!(compared, 8);
}
