//! Waveforms against the integrals of the same steady state, and against the circuit's own equations.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::{Arrangement, Converter};
use fairphase::scenario::Scenario;
use fairphase::solver::waveforms::{PhaseWaveforms, WaveformPoint, waveforms};
use fairphase::solver::{Case, Method, SteadyState};
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;

/// Invented converters: both drives, with losses and without.
const SCENARIOS: [&str; 3] = [
    include_str!("../../scenarios/telecom-shelf.toml"),
    include_str!("../../scenarios/pump-drive.toml"),
    include_str!("../../scenarios/foundry-magnet.toml"),
];

/// Solved cases with unequal tanks, whose half periods differ.
fn solved(text: &str) -> Vec<(Converter, Case, SteadyState)> {
    let scenario = Scenario::parse("a scenario", text).unwrap();
    let settings = Settings { samples: 1, seed: 1, method: Method::Exact, threads: 1 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let mut all = Vec::new();
    for baseline in session.baselines() {
        let mut converter = scenario.nominal_converter();
        for (k, tank) in converter.tanks.iter_mut().enumerate() {
            tank.resonant_inductance.0 *= 1.0 + 0.03 * k as f64;
        }
        let case = baseline.case.clone();
        let at = converter.at(&case.point.condition).into_owned();
        if let Some(state) = Method::Exact.solve(&converter, &case).solved() {
            all.push((at, case, state.clone()));
        }
    }
    assert!(!all.is_empty());
    all
}

/// ∫ f dt by the trapezoidal rule over points that may share times.
fn integral(points: &[WaveformPoint], value: impl Fn(&WaveformPoint) -> f64) -> f64 {
    let slices = points.windows(2);
    slices.map(|p| 0.5 * (p[1].time.0 - p[0].time.0) * (value(&p[0]) + value(&p[1]))).sum()
}

fn for_every_phase(check: impl Fn(&PhaseWaveforms, usize, &Converter, &Case, &SteadyState)) {
    for text in SCENARIOS {
        for (converter, case, state) in solved(text) {
            let phases = waveforms(&converter, &case, &state).unwrap();
            assert_eq!(phases.len(), converter.phases());
            for (k, phase) in phases.iter().enumerate() {
                check(phase, k, &converter, &case, &state);
            }
        }
    }
}

/// The currents close over the period, and their means are those that the solver integrates in closed form.
#[test]
fn integrals_of_the_waveforms_are_those_of_the_steady_state() {
    for_every_phase(|phase, k, converter, _, state| {
        let own = &state.phases[k];
        let period = 1.0 / state.switching_frequency.0;
        let (points, peak) = (&phase.points, own.peak_current.0);
        let (first, last) = (points.first().unwrap(), points.last().unwrap());
        assert!(first.time.0 == 0.0 && (last.time.0 / period - 1.0).abs() < 1e-9);
        // Junction temperatures that warm the resistances are settled to about a millionth.
        let closes = if converter.losses.is_some() { 1e-4 } else { 1e-8 };
        assert!((first.tank_current.0 - last.tank_current.0).abs() < closes * peak);
        let swing = points.iter().map(|p| p.capacitor_voltage.0.abs()).fold(0.0, f64::max);
        assert!((first.capacitor_voltage.0 - last.capacitor_voltage.0).abs() < closes * swing);
        let square = integral(points, |p| p.tank_current.0.powi(2)) / period;
        assert!((square.sqrt() / own.rms_current.0 - 1.0).abs() < 2e-3, "{k}");
        let mean = integral(points, |p| p.tank_current.0.abs()) / period;
        assert!((mean / own.mean_abs_current.0 - 1.0).abs() < 2e-3, "{k}");
        let most = points.iter().map(|p| p.tank_current.0.abs()).fold(0.0, f64::max);
        assert!(most <= peak * (1.0 + closes) && most > 0.995 * peak, "{most} {peak}");
    });
}

/// In the chain all phases pass the same charge in their high half periods; charge over time agrees.
#[test]
fn the_charge_of_a_chain_is_that_of_all_its_phases() {
    for_every_phase(|phase, _, _, case, state| {
        let half = 0.5 / state.switching_frequency.0;
        let high: Vec<WaveformPoint> = phase
            .points
            .iter()
            .filter(|p| {
                let late = p.time.0 > half * (1.0 + 1e-9);
                let early = p.time.0 < half * (1.0 - 1e-9);
                if phase.is_late { !early } else { !late }
            })
            .copied()
            .collect();
        // The instant half-way has a point of each half: those of the other one take no time.
        let charge = integral(&high, |p| p.tank_current.0);
        assert!((charge / phase.charge - 1.0).abs() < 5e-3, "{charge} {}", phase.charge);
        if case.arrangement == Arrangement::Chain {
            let first = state.phases[0].charge;
            assert!((phase.charge / first - 1.0).abs() < 1e-8);
        }
    });
}

/// Kirchhoff's voltage law at every point: Lr i' = source − capacitor − winding − R i, with Lm im' for the
/// winding, and C v' = i, all by differences over short steps.
#[test]
fn the_circuit_equations_hold_between_points() {
    for_every_phase(|phase, k, converter, case, _| {
        let tank = &converter.tanks[k];
        let volt = case.point.input_voltage.0 / converter.phases() as f64;
        let mut checked = 0;
        for p in phase.points.windows(2) {
            let dt = p[1].time.0 - p[0].time.0;
            if dt <= 0.0 {
                continue;
            }
            let slope = |f: fn(&WaveformPoint) -> f64| (f(&p[1]) - f(&p[0])) / dt;
            let mean = |f: fn(&WaveformPoint) -> f64| 0.5 * (f(&p[0]) + f(&p[1]));
            let charged = tank.resonant_capacitance.0 * slope(|p| p.capacitor_voltage.0);
            let current = mean(|p| p.tank_current.0);
            assert!((charged - current).abs() < 0.02 * largest_current(phase), "C v' = i: {k}");
            if converter.losses.is_some() {
                continue; // its resistances are those of warm parts
            }
            let winding = tank.magnetising_inductance.0 * slope(|p| p.magnetising_current.0);
            let inductor = tank.resonant_inductance.0 * slope(|p| p.tank_current.0);
            let rest = mean(|p| p.bridge_voltage.0) - mean(|p| p.capacitor_voltage.0);
            let missing = rest - winding - inductor - tank.series_resistance.0 * current;
            assert!(missing.abs() < 0.01 * volt, "{k}: {missing} V of {volt} V");
            checked += 1;
        }
        assert!(converter.losses.is_some() || checked > 60);
    });
}

/// The largest tank current of a phase.
fn largest_current(phase: &PhaseWaveforms) -> f64 {
    phase.points.iter().map(|p| p.tank_current.0.abs()).fold(0.0, f64::max)
}

/// The averaged solver does not tell the instants that waveforms start from.
#[test]
fn averaged_states_have_no_waveforms() {
    let (converter, case, _) = solved(SCENARIOS[0]).remove(0);
    let outcome = Method::Averaged.solve(&converter, &case);
    assert_eq!(waveforms(&converter, &case, outcome.solved().unwrap()), None);
}
