//! Converters of the data files, and comparison with them.
#![allow(
    dead_code,
    missing_docs,
    unreachable_pub,
    clippy::panic,
    clippy::unwrap_used,
    reason = "each test uses its part"
)]

use arrayvec::ArrayVec;
use fairphase::converter::{
    Condition, Converter, Drive, FlyingCapacitors, FrequencyBand, MAX_PHASES, OperatingPoint,
    Rectifier, Tank,
};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};
use serde_json::Value;

pub fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap_or_else(|| panic!("{key} is missing"))
}

pub fn list(v: &Value, key: &str) -> Vec<f64> {
    v[key].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

pub fn converter(case: &Value) -> Converter {
    let drop = Volt(number(case, "rectifier_drop_V"));
    let tanks = case["parts"].as_array().unwrap().iter().map(|p| Tank {
        resonant_inductance: Henry(number(p, "resonant_inductance_H")),
        resonant_capacitance: Farad(number(p, "resonant_capacitance_F")),
        magnetising_inductance: Henry(number(p, "magnetising_inductance_H")),
        turns_ratio: number(p, "turns_ratio"),
        series_resistance: Ohm(number(p, "series_resistance_ohm")),
        rectifier_drop: drop,
    });
    let leg = |key: &str| -> FlyingCapacitors { list(case, key).into_iter().map(Farad).collect() };
    let flying = leg("flying_capacitance_F");
    let flying_return = match case.get("return_flying_capacitance_F") {
        Some(Value::Array(_)) => leg("return_flying_capacitance_F"),
        _ => flying.clone(),
    };
    let tanks: ArrayVec<Tank, MAX_PHASES> = tanks.collect();
    Converter {
        healthy_phases: tanks.len(),
        places: None,
        tanks,
        flying,
        flying_return,
        responses: Vec::new(),
        losses: None,
    }
}

pub fn operating_point(case: &Value) -> OperatingPoint {
    OperatingPoint {
        name: case["id"].as_str().unwrap().into(),
        input_voltage: Volt(number(case, "input_voltage_V")),
        output_voltage: Volt(number(case, "output_voltage_V")),
        output_current: Ampere(case["output_current_A"].as_f64().unwrap_or(0.0)),
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
        condition: fairphase::converter::Condition::default(),
    }
}

/// Compares one number a phase, relative to the largest of them.
pub fn check_list(
    what: &str,
    expected: &Value,
    key: &str,
    tolerance: f64,
    get: impl Fn(usize) -> f64,
) {
    let values = list(expected, key);
    assert!(!values.is_empty(), "{what}: {key} is empty");
    for (k, value) in values.into_iter().enumerate() {
        let (found, phase) = (get(k), k + 1);
        let error = (found - value).abs() / value.abs().max(1e-12);
        assert!(
            error < tolerance,
            "{what}, {key} of {phase}: {found} against {value} ({error:.1e})"
        );
    }
}

/// Starts integrated with body diodes, independently of this program; designs A to F, invented.
pub fn started() -> Value {
    serde_json::from_str(include_str!("../data/startup.json")).unwrap()
}

/// One of their designs, with equal phases.
pub struct StartedDesign {
    pub phases: usize,
    pub tank: Tank,
    pub flying: Farad,
    pub point: OperatingPoint,
    pub band: FrequencyBand,
}

impl StartedDesign {
    pub fn new(started: &Value, name: &str) -> Self {
        let inputs = &started["designs_and_laws"][name]["inputs"];
        let first = |key: &str| list(inputs, key)[0];
        let is_full = inputs["FB"].as_bool().unwrap();
        Self {
            phases: list(inputs, "Lr").len(),
            tank: Tank {
                resonant_inductance: Henry(first("Lr")),
                resonant_capacitance: Farad(first("Cr")),
                magnetising_inductance: Henry(first("Lm")),
                turns_ratio: first("n"),
                series_resistance: Ohm(first("R")),
                rectifier_drop: Volt(number(inputs, "Vd")),
            },
            flying: Farad(first("fc")),
            point: OperatingPoint {
                name: name.to_owned(),
                input_voltage: Volt(number(inputs, "Vin")),
                output_voltage: Volt(number(inputs, "Vo")),
                output_current: Ampere(number(inputs, "Io")),
                drive: if is_full { Drive::FullBridge } else { Drive::HalfBridge },
                rectifier: Rectifier::FullBridge,
                condition: Condition::default(),
            },
            band: FrequencyBand {
                minimum: Hertz(number(inputs, "fmin")),
                maximum: Hertz(number(inputs, "fmax")),
            },
        }
    }
}
