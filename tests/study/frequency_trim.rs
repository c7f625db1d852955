//! Paralleled phases at frequencies of their own: against phases in company, and what the beat costs.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use fairphase::converter::{Arrangement, Converter, Sensor, Sensors, Shared};
use fairphase::population::{Population, SensorScatter};
use fairphase::scenario::Scenario;
use fairphase::solver::trim::{FrequencyTrimCase, Trimmed};
use fairphase::solver::{Case, Method, SteadyState};
use fairphase::study::common::nominal::baselines;
use fairphase::units::{Ampere, Farad, Ohm};

/// Three phases in full bridge; two in half bridge. Both invented.
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
/// Three phases that tell losses apart.
const MAGNET: &str = include_str!("../../scenarios/foundry-magnet.toml");
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

fn scenario(text: &str) -> Scenario {
    Scenario::parse("test.toml", text).unwrap_or_else(|e| panic!("{e}"))
}

/// The paralleled cases of a scenario, whose steady states tell the ripple.
fn cases(scenario: &Scenario) -> Vec<Case> {
    let all = baselines(scenario, Method::Exact).unwrap().into_iter().map(|own| own.case);
    all.filter(|case| case.arrangement == Arrangement::Paralleled).map(Case::with_stress).collect()
}

fn loops(case: &Case, measured: Shared, range: f64) -> FrequencyTrimCase<'_> {
    let (solver, added_resistance) = (Method::Exact.into(), Ohm(0.0));
    FrequencyTrimCase { solver, case, measured, range, added_resistance }
}

fn ideal(phases: usize) -> Sensors {
    std::iter::repeat_n(Sensor::IDEAL, phases).collect()
}

fn state(trimmed: &Trimmed) -> &SteadyState {
    trimmed.outcome.solved().unwrap_or_else(|| panic!("{:?}", trimmed.outcome.reason()))
}

/// The first samples of a scenario with settled loops.
fn settled(
    scenario: &Scenario,
    loops: &FrequencyTrimCase,
    sensors: impl Fn(u64) -> Sensors,
) -> Vec<(Sensors, Trimmed)> {
    let population = Population::new(scenario, 3);
    let start = loops.prepare(population.nominal()).1.unwrap();
    let one = |k: u64| {
        let sensors = sensors(k);
        let trimmed = loops.settle(&population.draw(k), &sensors, &start);
        (sensors, trimmed)
    };
    (0..25).map(one).collect()
}

/// The frequencies of the phases, from trims and their mean.
fn frequencies(trimmed: &Trimmed) -> Vec<f64> {
    let mean = state(trimmed).switching_frequency.0;
    let sum: f64 = trimmed.trims.iter().map(|x| 1.0 + x).sum();
    let common = mean * trimmed.trims.len() as f64 / sum;
    trimmed.trims.iter().map(|x| common * (1.0 + x)).collect()
}

fn relative(a: f64, b: f64) -> f64 {
    (a / b - 1.0).abs()
}

/// A phase among copies of itself, paralleled, runs at one frequency with them: a whole converter of
/// equal phases, solved as such, needs no loop and knows the answer.
#[test]
fn a_phase_runs_as_among_copies_of_itself() {
    for text in [LAMPS, PUMP] {
        let scenario = scenario(text);
        for case in cases(&scenario) {
            let loops = loops(&case, Shared::OutputCurrent, 0.3);
            for (_, trimmed) in settled(&scenario, &loops, |_| ideal(scenario.phases)) {
                let phases = &state(&trimmed).phases;
                let output: f64 = phases.iter().map(|own| own.output_current.0).sum();
                assert!(relative(output, case.point.output_current.0) < 1e-6, "{output}");
                for (k, f) in frequencies(&trimmed).into_iter().enumerate() {
                    let copies =
                        Converter::uniform(scenario.phases, trimmed.converter.tanks[k], Farad(1.0));
                    let mut alone = Case { start: None, ..case.clone() };
                    let share = phases[k].output_current.0 * scenario.phases as f64;
                    alone.point.output_current = Ampere(share);
                    let found = Method::Exact.solve(&copies, &alone);
                    let found = found.solved().unwrap();
                    assert!(relative(f, found.switching_frequency.0) < 1e-8, "{k}");
                    assert!(
                        relative(phases[k].rms_current.0, found.phases[k].rms_current.0) < 1e-7
                    );
                }
            }
        }
    }
}

/// Sensors with errors: what they read agrees, not what flows.
#[test]
fn readings_agree_whatever_is_measured() {
    let scenario = scenario(LAMPS);
    let scatter = SensorScatter::new(scenario.sensors.as_ref().unwrap());
    let population = Population::new(&scenario, 3);
    for case in cases(&scenario) {
        for measured in Shared::ALL {
            let loops = loops(&case, measured, 0.5);
            let drawn = |k| population.draw_sensors(&scatter, k);
            for (sensors, trimmed) in settled(&scenario, &loops, drawn) {
                assert!(trimmed.at_end.iter().all(|end| !end));
                let phases = state(&trimmed).phases.iter().zip(&sensors);
                let readings: Vec<f64> = phases
                    .map(|(own, s)| s.at(&case.point.condition, 0).reading(own.shared(measured)))
                    .collect();
                for reading in &readings {
                    assert!(relative(*reading, readings[0]) < 1e-6, "{measured:?}: {readings:?}");
                }
                let f = frequencies(&trimmed);
                let high = f.iter().copied().fold(f64::MIN, f64::max);
                let low = f.iter().copied().fold(f64::MAX, f64::min);
                // Two pulses a period behind a full-bridge rectifier.
                assert!((trimmed.beat.0 - 2.0 * (high - low)).abs() < 1e-6 * high);
            }
        }
    }
}

/// In a narrow range some phases stay at an end. There each carries less than the others if it would have
/// to go lower, more if it would have to go higher.
#[test]
fn phases_at_an_end_of_the_range_stay_there() {
    let (scenario, range) = (scenario(LAMPS), 0.004);
    let mut ends = 0;
    for case in cases(&scenario) {
        let loops = loops(&case, Shared::OutputCurrent, range);
        for (_, trimmed) in settled(&scenario, &loops, |_| ideal(scenario.phases)) {
            let Some(state) = trimmed.outcome.solved() else {
                assert_eq!(trimmed.outcome.name(), "out of range");
                continue;
            };
            let output: f64 = state.phases.iter().map(|own| own.output_current.0).sum();
            assert!(relative(output, case.point.output_current.0) < 1e-6, "{output}");
            let free = trimmed.at_end.iter().zip(&state.phases).find(|(end, _)| !**end).unwrap();
            let common = free.1.output_current.0;
            for ((x, end), own) in trimmed.trims.iter().zip(&trimmed.at_end).zip(&state.phases) {
                assert!(x.abs() <= range + 1e-8, "{x}");
                if *end {
                    ends += 1;
                    assert!((x.abs() - range).abs() < 1e-8, "{x}");
                    let is_low = *x < 0.0;
                    assert_eq!(own.output_current.0 < common, is_low, "{x}");
                } else {
                    assert!(relative(own.output_current.0, common) < 1e-6);
                }
            }
        }
    }
    assert!(ends > 20, "{ends}");
}

/// Equal phases need no loops: one frequency, that of all together, and no beat. The ripple is still that
/// of phases that nothing keeps in step: with equal ripples r it is √N r, not N r, and from lowest to
/// highest N times one phase's.
#[test]
fn equal_phases_do_not_beat() {
    let scenario = scenario(LAMPS);
    for case in cases(&scenario) {
        let loops = loops(&case, Shared::MeanTankCurrent, 0.1);
        let nominal = scenario.nominal_converter();
        let (together, start) = loops.prepare(&nominal);
        let trimmed = loops.settle(&nominal, &ideal(scenario.phases), &start.unwrap());
        assert!(trimmed.trims.iter().all(|x| x.abs() < 1e-9), "{:?}", trimmed.trims);
        assert!(trimmed.beat.0 < 1e-3, "{:?}", trimmed.beat);
        let in_step = together.solved().unwrap().output_ripple.unwrap();
        let apart = state(&trimmed).output_ripple.unwrap();
        // Full-wave rectifiers: half a period of delay leaves the ripples in step.
        assert!(relative(in_step.rms.0, 3.0_f64.sqrt() * apart.rms.0) < 1e-4);
        assert!(relative(in_step.peak_to_peak.0, apart.peak_to_peak.0) < 2e-3);
    }
}

/// That squares of RMS values add where frequencies differ: the time average of two rectified sines at
/// frequencies of no common period, over many beats.
#[test]
fn squares_of_ripples_of_different_frequencies_add() {
    let (n, mut sum, mut square) = (2_000_000_u32, 0.0, 0.0);
    for k in 0..n {
        let t = f64::from(k) * 0.013;
        let i = (t).sin().abs() + 0.7 * (t * (1.0 + 0.017 * 2.0_f64.sqrt())).sin().abs();
        sum += i;
        square += i * i;
    }
    let n = f64::from(n);
    let ripple = (square / n - (sum / n).powi(2)).sqrt();
    let one = (0.5 - (2.0 / std::f64::consts::PI).powi(2)).sqrt();
    assert!(relative(ripple, one * 1.0_f64.hypot(0.7)) < 2e-3, "{ripple}");
}

/// Equal phases with losses told apart need no loop. Each alone then sees the resistances that all see
/// together, and its switches lose as much at turn-on.
#[test]
fn phases_alone_see_their_resistances() {
    let scenario = scenario(MAGNET);
    for case in cases(&scenario) {
        let loops = loops(&case, Shared::OutputCurrent, 0.3);
        let (outcome, start) = loops.prepare(&scenario.nominal_converter());
        let (sensors, start) = (ideal(scenario.phases), start.unwrap());
        let trimmed = loops.settle(&scenario.nominal_converter(), &sensors, &start);
        let (together, alone) = (outcome.solved().unwrap(), state(&trimmed));
        let loss = |state: &SteadyState| state.commutation.as_ref().map(|own| own.loss.0).unwrap();
        assert!((loss(together) - loss(alone)).abs() < 1e-3, "{} W", loss(alone));
        let is_equal = case.point.condition.phase_rise <= 0.0;
        for (one, other) in together.phases.iter().zip(&alone.phases).filter(|_| is_equal) {
            let off = relative(one.rms_current.0, other.rms_current.0);
            assert!(off < 1e-5, "{}: {off:.1e}", case.point.name);
        }
        let off = relative(together.switching_frequency.0, alone.switching_frequency.0);
        assert!(off < 1e-3, "{}: {off:.1e}", case.point.name);
    }
}
