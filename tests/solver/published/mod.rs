//! The solvers against published worked examples and closed forms; one module a source.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use fairphase::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier, Tank,
};
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};

mod bouziani_2026;
mod common_practice;
mod huang_2010;
mod series_capacitor_buck;

const BAND: FrequencyBand = FrequencyBand { minimum: Hertz(20e3), maximum: Hertz(500e3) };

fn lossless(lr: f64, cr: f64, lm: f64, turns_ratio: f64) -> Tank {
    Tank {
        resonant_inductance: Henry(lr),
        resonant_capacitance: Farad(cr),
        magnetising_inductance: Henry(lm),
        turns_ratio,
        series_resistance: Ohm(0.0),
        rectifier_drop: Volt(0.0),
    }
}

/// Half-bridge drive and a full-bridge rectifier.
fn operating(input: f64, output: f64, current: f64) -> OperatingPoint {
    OperatingPoint {
        name: String::new(),
        input_voltage: Volt(input),
        output_voltage: Volt(output),
        output_current: Ampere(current),
        drive: Drive::HalfBridge,
        rectifier: Rectifier::FullBridge,
        condition: fairphase::converter::Condition::default(),
    }
}

fn solved(outcome: Outcome) -> SteadyState {
    match outcome {
        Outcome::Solved(state) => state,
        other => panic!("{}", other.name()),
    }
}

fn exactly(converter: &Converter, point: &OperatingPoint, arrangement: Arrangement) -> SteadyState {
    solved(Method::Exact.solve(converter, &Case::new(point.clone(), BAND, arrangement)))
}

/// One phase by the averaged solver.
fn averaged_phase(tank: Tank, point: &OperatingPoint) -> SteadyState {
    let converter = Converter::uniform(1, tank, Farad(1.0));
    let case = Case::new(point.clone(), BAND, Arrangement::Paralleled);
    solved(Method::Averaged.solve(&converter, &case))
}

fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found} against {expected}");
}
