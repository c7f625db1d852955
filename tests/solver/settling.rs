//! How flying capacitors settle, against brute-force integration of the whole circuit
//! (`tests/reference/settling.py` with `NumPy` and `SciPy`, `tests/data/settling.json`), against starts
//! integrated independently (`tests/data/startup.json`), and against closed forms. Invented designs.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::cases::{StartedDesign, converter, list, number, operating_point, started};
use fairphase::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};
use fairphase::solver::settling::{PeriodMap, Settling};
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::units::{Ampere, Hertz};
use serde_json::Value;

fn file(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn solved(converter: &Converter, point: &OperatingPoint, band: FrequencyBand) -> SteadyState {
    let case = Case::new(point.clone(), band, Arrangement::Chain);
    match Method::Exact.solve(converter, &case) {
        Outcome::Solved(state) => state,
        other => panic!("{}: {}", point.name, other.name()),
    }
}

fn map_of(converter: &Converter, point: &OperatingPoint, band: FrequencyBand) -> PeriodMap {
    PeriodMap::new(&solved(converter, point, band), converter, point).unwrap()
}

/// The cases of the script, each with what it found.
fn integrated() -> Vec<(String, PeriodMap, Value)> {
    let all = file(include_str!("../data/settling.json"));
    let one = |case: &Value| {
        let expected = case["expected"].clone();
        let mut point = operating_point(case);
        point.output_current = Ampere(number(&expected, "total_output_current_A"));
        let f = number(&expected, "switching_frequency_Hz");
        let band = FrequencyBand { minimum: Hertz(0.9 * f), maximum: Hertz(1.1 * f) };
        let converter = converter(case);
        let state = solved(&converter, &point, band);
        let found = state.switching_frequency.0;
        assert!((found / f - 1.0).abs() < 1e-7, "{}: {found} Hz against {f} Hz", point.name);
        (point.name.clone(), PeriodMap::new(&state, &converter, &point).unwrap(), expected)
    };
    all["cases"].as_array().unwrap().iter().map(one).collect()
}

fn relative(a: f64, b: f64) -> f64 {
    (a / b - 1.0).abs()
}

/// The script fits its slowest mode to disturbed periods that are integrated without linearisation; it
/// agrees with the derivative of its own period within 2e-3 of the decay.
#[test]
fn decay_per_period_agrees_with_brute_force_integration() {
    for (name, map, expected) in integrated() {
        let Settling { slowest, neutral_modes, .. } = map.settling().unwrap();
        let decay = 1.0 - number(&expected, "slowest_modulus");
        let found = slowest.decay_per_period();
        assert!(relative(found, decay) < 4e-3, "{name}: decay {found} against {decay}");
        let [re, im] = list(&expected, "slowest_mode")[..] else { panic!("two parts") };
        assert!((slowest.eigenvalue.re - re).abs() < 2e-4, "{name}: {}", slowest.eigenvalue);
        assert!((slowest.eigenvalue.im.abs() - im).abs() < 2e-4, "{name}: {}", slowest.eigenvalue);
        let neutral = number(&expected, "neutral_modes");
        assert!((neutral_modes as f64 - neutral).abs() < 0.5, "{name}: {neutral_modes} neutral");
    }
}

/// All modes, not the slowest alone: moduli of the derivative that the script carries along exactly.
#[test]
fn all_modes_agree_with_the_derivative_of_the_whole_circuit() {
    for (name, map, expected) in integrated() {
        let found = map.settling().unwrap().eigenvalues;
        let moduli = list(&expected, "moduli_of_the_derivative");
        assert_eq!(found.len(), moduli.len(), "{name}");
        for (found, modulus) in found.iter().zip(moduli) {
            // Moduli of nothing come as roots of rounding.
            let close = (found.re.hypot(found.im) - modulus).abs() < 1e-5;
            assert!(close || modulus < 1e-3, "{name}: {found} against {modulus}");
        }
    }
}

/// Whether it has settled within some periods is told without the modes, and only close to them not at all.
/// The largest modulus is that of the derivative.
#[test]
fn settling_within_some_periods_agrees_with_the_derivative() {
    for (name, map, expected) in integrated() {
        let largest = list(&expected, "moduli_of_the_derivative")[0];
        for periods in [1_i32, 40, 300] {
            let within = |modulus: f64| map.settles_within(periods.into(), modulus.powi(periods));
            assert!(within(largest + 2e-3), "{name}: {periods} periods, {largest}");
            assert!(!within(largest - 1e-5), "{name}: {periods} periods, {largest}");
        }
    }
}

fn design(started: &Value, name: &str) -> (Converter, OperatingPoint, FrequencyBand) {
    let StartedDesign { phases, tank, flying, point, band } = StartedDesign::new(started, name);
    (Converter::uniform(phases, tank, flying), point, band)
}

/// Integrated with body diodes: after 5 V on the first flying capacitor, the periods until no capacitor
/// is off by more than 10 % and 2 % of them for good. A ring passes such a level once every half
/// oscillation, 7 to 9 periods; and 5 V are no longer small, 3 % of a phase's voltage.
#[test]
fn a_disturbance_comes_back_as_integrated_with_body_diodes() {
    let started = started();
    for case in started["common_mode_settling"].as_array().unwrap() {
        let name = case["design"].as_str().unwrap();
        let (converter, point, band) = design(&started, name);
        let map = map_of(&converter, &point, band);
        let track = map.after_disturbance(0, 1, 600);
        let settled = |share: f64| {
            let off = |now: &Vec<f64>| now.iter().any(|v| v.abs() > share);
            track.iter().rposition(off).unwrap() as f64
        };
        for (key, share) in [("to10pct", 0.1), ("to2pct", 0.02)] {
            let (found, integrated) = (settled(share), number(case, key));
            assert!(
                (found - integrated).abs() < 3.0 + 0.06 * integrated,
                "{name}: {found} {integrated}"
            );
        }
    }
}

/// Near resonance the chain rings with τ = 4 Lr/R: the tanks lose at the rate R/Lr what they hold, which
/// is half of the energy of the ring. Designs B, C and D run within 1 % of their resonance.
#[test]
fn near_resonance_the_ring_decays_with_four_lr_over_r() {
    let started = started();
    for name in ["B", "C", "D"] {
        let (converter, point, band) = design(&started, name);
        let map = map_of(&converter, &point, band);
        let Settling { slowest, period, .. } = map.settling().unwrap();
        let tank = &converter.tanks[0];
        let tau = 4.0 * tank.resonant_inductance.0 / tank.series_resistance.0;
        let periods = -1.0 / (1.0 - slowest.decay_per_period()).ln();
        let found = periods * period.0;
        assert!(relative(found, tau) < 0.02, "{name}: {found} s against {tau} s");
        assert!(relative(slowest.periods_until(0.01), periods * 100_f64.ln()) < 1e-12);
    }
}
