//! How far flying-capacitor voltages drift, cause by cause, against chains integrated with body diodes,
//! independently of this program (`tests/data/startup.json`). Invented designs.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::cases::{list, number, started};
use fairphase::converter::{
    ChainDrift, Charging, DriftCauses, DriftConditions, HeldDrift, Leakage, NodeCapacitors,
    NodeDrift,
};
use fairphase::units::{Ampere, Farad, Hertz, Ohm, Second, Siemens, Volt};
use serde_json::Value;

fn near(what: &str, found: f64, expected: f64, tolerance: f64) {
    let error = (found / expected - 1.0).abs();
    assert!(error <= tolerance, "{what}: {found} against {expected}, {error:.4}");
}

/// A chain of the starts, and the causes of a drift that is none: its capacitors are equal.
struct Chain {
    at: DriftConditions,
    causes: DriftCauses,
}

fn chain(started: &Value, design: &str) -> Chain {
    let own = &started["designs_and_laws"][design];
    let inputs = &own["inputs"];
    let turn_off = Ampere(number(own, "turn_off_current_A"));
    let sum = Farad(2.0 * list(inputs, "fc")[0]);
    let equal = NodeCapacitors { sum, largest_sum: sum, mismatch: 0.0 };
    let at = DriftConditions {
        capacitors: list(inputs, "Lr").iter().skip(1).map(|_| equal).collect(),
        input_voltage: Volt(number(inputs, "Vin")),
        switching_frequency: Hertz(number(own, "operating_frequency_Hz")),
        turn_off_currents: list(inputs, "Lr").iter().map(|_| turn_off).collect(),
    };
    let causes = DriftCauses {
        charging: Charging::ByGates,
        capacitor_leakage: Leakage::default(),
        switch_leakage: Leakage::default(),
        turn_off_skew: Second(0.0),
        operating_time: None,
        balancing_resistance: None,
        balancing_mismatch: 0.01,
        highest_wanted: None,
    };
    Chain { at, causes }
}

fn cases<'a>(started: &'a Value, key: &str, test: &'a str) -> impl Iterator<Item = &'a Value> {
    started[key].as_array().unwrap().iter().filter(move |case| case["test"] == test)
}

fn leakage(least: f64, most: f64) -> Leakage {
    Leakage { least: Siemens(least), most: Siemens(most) }
}

/// Capacitors off by ± 10 % and ± 20 %, charged by the gates from the ramp or the full input; and by
/// resistors.
#[test]
fn a_start_leaves_the_drift_that_was_integrated() {
    let started = started();
    for case in cases(&started, "neutral_mode_and_start_split", "start split") {
        let name = case["design"].as_str().unwrap();
        let Chain { mut at, causes } = chain(&started, name);
        let mismatch = number(case, "mismatch").abs();
        at.capacitors.iter_mut().for_each(|own| own.mismatch = mismatch);
        let by_resistors = case["mode"] == "c";
        let charging =
            if by_resistors { Charging::ByResistors { mismatch: 0.0 } } else { Charging::ByGates };
        let causes = DriftCauses { charging, ..causes };
        let nodes = causes.nodes(&at);
        for (NodeDrift { start, leakage, timing, .. }, end) in
            nodes.iter().zip(list(case, "split_end"))
        {
            if by_resistors {
                assert!(start.0 == 0.0 && end.abs() < 0.01);
            } else {
                near(name, start.0, end.abs(), 0.01);
            }
            assert!(leakage.0 == 0.0 && timing.0 == 0.0, "no other cause");
        }
    }
}

/// Leaking capacitors: each node by itself moves towards its end with τ = (C + C′)/(g + g′). The end
/// lies beyond what was integrated, so the integrated drift is compared on its way there.
#[test]
fn leaking_capacitors_drift_as_integrated() {
    let started = started();
    let mut compared = 0;
    for case in cases(&started, "neutral_mode_and_start_split", "leak") {
        let inputs = &case["inputs"];
        let (Some(legs), None) = (inputs["gleak"].as_array(), inputs.get("ghi")) else { continue };
        let name = case["design"].as_str().unwrap();
        let Chain { at, causes } = chain(&started, name);
        let conductance = |leg: usize, node: usize| legs[leg][node].as_f64().unwrap();
        for (node, drift) in list(case, "split_sim").iter().enumerate() {
            let (driven, returned) = (conductance(0, node), conductance(1, node));
            if driven <= returned {
                continue;
            }
            let causes = DriftCauses { capacitor_leakage: leakage(returned, driven), ..causes };
            let end = causes.nodes(&at)[node].leakage.0;
            let tau = at.capacitors[node].sum.0 / (driven + returned);
            let way = 1.0 - (-number(case, "time_s") / tau).exp();
            near(name, end * way, drift.abs(), 0.013);
            compared += 1;
        }
    }
    assert!(compared >= 2, "{compared} nodes");
}

/// One high switch that leaks: as far as it was integrated, it hardly decays.
#[test]
fn a_leaking_switch_drifts_its_nodes_as_integrated() {
    let started = started();
    let mut leaks = cases(&started, "neutral_mode_and_start_split", "leak");
    let case = leaks.find(|case| case["inputs"]["ghi"][0][0].as_f64() == Some(2e-4)).unwrap();
    let Chain { at, causes } = chain(&started, "A");
    let end_of_each = |switch_leakage: Leakage| {
        // Against resistors so small that the end is the current over their conductance.
        let causes = DriftCauses {
            switch_leakage,
            balancing_resistance: Some(Ohm(0.5)),
            balancing_mismatch: 0.0,
            ..causes
        };
        causes.nodes(&at).iter().map(|node| node.leakage.0 * 2.0 / 0.5).collect::<Vec<_>>()
    };
    let current = end_of_each(leakage(0.0, 2e-4))[0];
    // Of four switches beside the node high 1, high 3 and both low ones, high 1 alone leaks here: it
    // blocks one of their five phase voltages.
    let drift = current / 5.0 * number(case, "time_s") / at.capacitors[0].sum.0;
    let integrated = list(case, "split_sim")[0].abs();
    assert!(integrated < drift && integrated > 0.9 * drift, "{integrated} against {drift}");
}

/// One leg of a phase turns off 20 ns late: each node beside it moves at the rate f ioff Δ/(C + C′), the
/// last one by up to twice that.
#[test]
fn late_gates_drift_their_nodes_at_the_integrated_rate() {
    let started = started();
    for case in cases(&started, "neutral_mode_and_start_split", "timing") {
        let name = case["design"].as_str().unwrap();
        let delay = number(case, "delay_ns");
        if delay > 30.0 {
            continue;
        }
        let Chain { at, causes } = chain(&started, name);
        let time = Second(1e-3);
        let causes = DriftCauses {
            turn_off_skew: Second(delay * 1e-9),
            operating_time: Some(time),
            ..causes
        };
        let nodes = causes.nodes(&at);
        for (k, (node, rate)) in nodes.iter().zip(list(case, "rate_V_per_s")).enumerate() {
            let bound = node.timing.0 / time.0;
            let is_last = k + 1 == nodes.len();
            let one = if is_last { bound / 2.0 } else { bound };
            assert!(rate.abs() < 1.06 * bound, "{name}: {rate} V/s against {bound} V/s");
            if rate.abs() > 100.0 {
                near(name, one, rate.abs(), 0.06);
            }
        }
    }
}

/// Design A, place 1, 10 µA at 253 V, resistors of 1 %, a drift of 6.3 V: 0.8 MΩ, 0.08 W, 39 s, worked by
/// hand in the note of the data's origin. And the resistor found keeps what it promises.
#[test]
fn a_balancing_resistor_keeps_the_drift() {
    let started = started();
    let Chain { at, causes } = chain(&started, "A");
    let causes = DriftCauses { capacitor_leakage: leakage(0.0, 10e-6 / 253.333), ..causes };
    let found = causes.resistor(&at, 1, Volt(6.3), HeldDrift::Leakage).unwrap();
    near("resistance", found.resistance.0, 0.78e6, 0.02);
    near("dissipation", found.dissipation.0, 0.08, 0.04);
    near("time constant", found.time_constant.0, 39.0, 0.02);
    let balancing_resistance = Some(found.resistance);
    let kept = DriftCauses { balancing_resistance, ..causes }.nodes(&at)[0].leakage.0;
    near("drift", kept, 6.3, 1e-9);
    assert!(causes.resistor(&at, 1, Volt(2.5), HeldDrift::Leakage).is_none(), "1 % of 253 V");
}

/// All causes at once: with the resistor found every node drifts as far as it may, and no farther. Where a start
/// leaves more than that, none is found.
#[test]
fn a_balancing_resistor_keeps_the_drift_by_all_causes() {
    let started = started();
    let Chain { mut at, causes } = chain(&started, "A");
    at.capacitors.iter_mut().for_each(|own| own.mismatch = 0.01);
    let causes = DriftCauses {
        capacitor_leakage: leakage(2e-9, 10e-6 / 253.333),
        turn_off_skew: Second(1e-12),
        operating_time: None,
        ..causes
    };
    for node in 1..at.turn_off_currents.len() {
        let highest = Volt(9.0);
        let found = causes.resistor(&at, node, highest, HeldDrift::AllCauses).unwrap();
        let balancing_resistance = Some(found.resistance);
        let own = DriftCauses { balancing_resistance, ..causes }.nodes(&at)[node - 1];
        assert!(own.start.0 > 1.0 && own.timing.0 > 0.05 && own.leakage.0 > 1.0, "{own:?}");
        near("drift", own.total().0, highest.0, 1e-9);
        let leakage = causes.resistor(&at, node, highest, HeldDrift::Leakage).unwrap();
        assert!(leakage.resistance > found.resistance, "{leakage:?} {found:?}");
    }
    assert!(causes.resistor(&at, 1, Volt(4.0), HeldDrift::AllCauses).is_none());
}

/// One leg that leaks strongly: diodes stop the drift just below Vin/N, where one switch blocks twice
/// its normal voltage. Without resistors any leakage ends there.
#[test]
fn diodes_stop_the_drift_at_the_corner() {
    let started = started();
    for case in cases(&started, "corner_equal_delay_no_load", "corner") {
        let name = case["design"].as_str().unwrap();
        let Chain { at, causes } = chain(&started, name);
        let causes = DriftCauses { capacitor_leakage: leakage(0.0, 1e-9), ..causes };
        let nodes = causes.nodes(&at);
        let splits = case["splits"].as_array().unwrap().last().unwrap().as_array().unwrap();
        let phases = at.turn_off_currents.len();
        let phase_voltage = at.input_voltage.0 / phases as f64;
        for (k, (node, split)) in nodes.iter().zip(splits).enumerate() {
            assert!(split.as_f64().unwrap().abs() < node.total().0, "{name}: node {k}");
            near(name, node.total().0, phase_voltage * (k + 1).min(phases - k - 1) as f64, 1e-12);
        }
        let drift = ChainDrift::from_causes(&causes, &at);
        let worst = (0..phases).map(|k| phase_voltage + drift.across_phase(k).0);
        let integrated = case["worst"][1].as_f64().unwrap();
        near(name, worst.fold(0.0, f64::max), integrated, 0.02);
    }
}
