//! Two phases with the parts of a published worked example (H. Huang, "Designing an LLC resonant
//! half-bridge power converter", seminar SEM1900 topic 3, 2010; inputs from memory), without loss,
//! 50 A together. The currents were computed for this project by two solvers written apart from
//! each other and from this crate, which agree to the seven digits given.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use fairphase::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Parameter, Rectifier, Tank,
};
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};

fn solve(
    arrangement: Arrangement,
    parameter: Parameter,
    mismatch: f64,
    output: f64,
) -> SteadyState {
    let tank = Tank {
        resonant_inductance: Henry(60e-6),
        resonant_capacitance: Farad(27.3e-9),
        magnetising_inductance: Henry(210e-6),
        turns_ratio: 16.0,
        series_resistance: Ohm(0.0),
        rectifier_drop: Volt(0.0),
    };
    // A farad between the phases: the charge is balanced, the ripple nil.
    let mut converter = Converter::uniform(2, tank, Farad(1.0));
    for (tank, sign) in converter.tanks.iter_mut().zip([1.0, -1.0]) {
        *tank.value_mut(parameter).unwrap() *= 1.0 + sign * mismatch;
    }
    // Half-bridge sources of ±195 V each: 780 V over both.
    let point = OperatingPoint {
        name: String::new(),
        input_voltage: Volt(780.0),
        output_voltage: Volt(output),
        output_current: Ampere(50.0),
        drive: Drive::HalfBridge,
        rectifier: Rectifier::FullBridge,
        condition: fairphase::converter::Condition::default(),
    };
    let band = FrequencyBand { minimum: Hertz(90e3), maximum: Hertz(200e3) };
    match Method::Exact.solve(&converter, &Case::new(point, band, arrangement)) {
        Outcome::Solved(state) => state,
        other => panic!("{parameter:?} {mismatch}: {}", other.name()),
    }
}

/// The output voltage carries eight digits, the source impedance near resonance is a few times
/// below the load's, and the mismatch sets the split: 1e-5 of the frequency, 2e-4 of a current.
fn check(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found / expected - 1.0).abs() < tolerance, "{what}: {found} against {expected}");
}

#[test]
fn without_balancing_one_phase_hogs_the_current() {
    use Parameter::{MagnetisingInductance, ResonantCapacitance, ResonantInductance, TurnsRatio};
    let table = [
        (145e3, ResonantCapacitance, 0.025, 10.842_881, [19.23715, 30.76285]),
        (145e3, ResonantInductance, 0.05, 10.884_379, [9.57380, 40.42620]),
        (145e3, MagnetisingInductance, 0.10, 10.820_548, [29.81054, 20.18946]),
        (145e3, TurnsRatio, 0.005, 10.831_065, [22.16427, 27.83573]),
        (130e3, ResonantCapacitance, 0.025, 11.883_146, [2.19772, 47.80228]),
    ];
    for (frequency, parameter, mismatch, output, currents) in table {
        let state = solve(Arrangement::Paralleled, parameter, mismatch, output);
        let what = format!("{parameter:?} at {frequency}");
        check(&what, state.switching_frequency.0, frequency, 1e-5);
        for (phase, current) in state.phases.iter().zip(currents) {
            check(&what, phase.output_current.0, current, 2e-4);
        }
    }
}

#[test]
fn with_equal_charge_the_currents_are_as_the_voltages() {
    use Parameter::{ResonantCapacitance, ResonantInductance};
    let table = [
        (110e3, ResonantCapacitance, 13.456_791, [199.41754, 190.58246], [25.56635, 24.43365]),
        (130e3, ResonantInductance, 11.790_423, [198.93182, 191.06818], [25.50408, 24.49592]),
        (145e3, ResonantInductance, 10.824_112, [199.96533, 190.03467], [25.63658, 24.36342]),
    ];
    for (frequency, parameter, output, voltages, currents) in table {
        let state = solve(Arrangement::Chain, parameter, 0.05, output);
        let what = format!("{parameter:?} at {frequency}");
        check(&what, state.switching_frequency.0, frequency, 1e-5);
        for ((phase, voltage), current) in state.phases.iter().zip(voltages).zip(currents) {
            check(&what, phase.start_voltage.0 / 2.0, voltage, 1e-5);
            check(&what, phase.output_current.0, current, 1e-5);
        }
        // Without loss the power of a phase is Q·V, and the common output makes it the current.
        let [a, b] = [&state.phases[0], &state.phases[1]];
        let ratio = a.output_current.0 / b.output_current.0;
        check(&what, ratio, a.start_voltage.0 / b.start_voltage.0, 1e-7);
    }
}
