//! Limits that converters are clear of, told close to their solutions, against full solutions: sample by
//! sample, with bands as wide as a search tries them.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::{Arrangement, Parameter};
use fairphase::engine::Status;
use fairphase::population::SensorScatter;
use fairphase::scenario::Scenario;
use fairphase::solver::trim::{ApproachedTrims, Trim, TrimCase};
use fairphase::solver::{Method, Outcome};
use fairphase::study::common::clear_limits::ClearLimits;
use fairphase::study::common::demand::Demand;
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::{NearlySolved, Session};
use fairphase::study::common::settings::Settings;
use fairphase::study::common::settling_figures::SettlingFigure;
use fairphase::study::common::trials::{ConverterVariant, Solving, paired_trials};
use fairphase::units::Second;

const SHELF: &str = include_str!("../../scenarios/telecom-shelf.toml");
const RUNWAY: &str = include_str!("../../scenarios/runway-lights.toml");
const SEABED: &str = include_str!("../../scenarios/seabed-node.toml");
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
const CANAL: &str = include_str!("../../scenarios/canal-lock.toml");
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

/// How many were told, of how many.
#[derive(Debug, Default)]
struct Told {
    all: u64,
    clear: u64,
}

/// Ends that were told meet the same limits as figures of a full solution, which lie inside.
fn agree(
    scenario: &Scenario,
    arrangement: Arrangement,
    figures: &[Figure],
    [ends, solved]: [&[f64]; 2],
) {
    for demand in Demand::all(&scenario.limits, arrangement) {
        let Some(figure) = demand.figure else { continue };
        let column = figures.iter().position(|own| *own == figure).unwrap();
        let (end, value) = (ends[column], solved[column]);
        assert_eq!(end <= demand.limit, value <= demand.limit, "{figure:?}");
        let is_inside = if end <= demand.limit { value <= end } else { value >= end };
        assert!(is_inside, "{figure:?}: {value} beyond {end}");
    }
}

/// What was approached and solved to the end is the solution from the case's start, as closely as solutions hold.
fn agree_at_the_end(finished: &Outcome, solved: &Outcome) {
    let frequency = |outcome: &Outcome| outcome.solved().unwrap().switching_frequency.0;
    assert!((frequency(finished) / frequency(solved) - 1.0).abs() < 1e-9);
    let currents = |outcome: &Outcome| {
        let phases = &outcome.solved().unwrap().phases;
        phases.iter().map(|phase| phase.output_current.0).collect::<Vec<_>>()
    };
    for (one, other) in currents(finished).iter().zip(currents(solved)) {
        assert!((one - other).abs() < 1e-7 * other.abs().max(1.0), "{one} {other}");
    }
}

fn compare(text: &str, arrangements: &[Arrangement], samples: u64, factor: f64) -> Told {
    let scenario = Scenario::parse("clear", text).unwrap();
    let settings = Settings { samples, seed: 9, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap().for_many_samples();
    let population = session.population(&scenario.tolerances.scaled(factor), settings.draws());
    let figures = Demand::figures(&scenario.limits);
    let measurement = session.measurement(&figures);
    let (mut row, mut solved) = (vec![0.0; figures.len()], vec![0.0; figures.len()]);
    let mut told = Told::default();
    for sample in 0..samples {
        let converter = population.draw(sample);
        for &arrangement in arrangements {
            for case in session.cases(arrangement) {
                let clear = ClearLimits::new(&scenario.limits, case, &figures).unwrap();
                told.all += 1;
                let solver = session.solver();
                let approach = solver.approach(&converter, case, clear.detail());
                let Some(approach) = &approach else { continue };
                let near = NearlySolved { approach, converter: &converter, case };
                if measurement.take_near(&near, &clear, &mut row).is_none() {
                    let finished = solver.finish(&converter, case, approach);
                    agree_at_the_end(&finished, &solver.solve(&converter, case));
                    continue;
                }
                told.clear += 1;
                let status = measurement.take(&converter, case, &mut solved);
                assert_eq!(status, Status::Solved, "sample {sample} of {}", case.point.name);
                agree(&scenario, arrangement, &figures, [&row, &solved]);
            }
        }
    }
    told
}

#[test]
fn what_is_told_clear_agrees_with_full_solutions() {
    for (text, samples) in [(SHELF, 250), (RUNWAY, 250), (SEABED, 250), (LAMPS, 250), (PUMP, 250)] {
        for factor in [0.3, 1.0, 2.5] {
            let told = compare(text, &Arrangement::ALL, samples, factor);
            assert!(told.clear * 10 > told.all * 3, "{told:?}");
        }
    }
}

/// One of them carries nearly all, far from the nominal currents: nearly all are far beyond their limit all the same.
#[test]
fn paralleled_phases_are_told_from_afar() {
    for factor in [1.0, 2.5] {
        let told = compare(SEABED, &[Arrangement::Paralleled], 400, factor);
        assert!(told.clear * 10 > told.all * 9, "{told:?}");
    }
}

/// The same of converters whose loops are approached and not settled.
#[test]
fn what_is_told_of_loops_agrees_with_settled_ones() {
    let scenario = Scenario::parse("clear", LAMPS).unwrap();
    let request = scenario.sensors.as_ref().unwrap();
    let settings = Settings { samples: 200, seed: 9, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let (scatter, figures) = (SensorScatter::new(request), Demand::figures(&scenario.limits));
    let measurement = session.measurement(&figures);
    let (mut row, mut settled) = (vec![0.0; figures.len()], vec![0.0; figures.len()]);
    let trim = Trim {
        measured: request.measured,
        parameter: Parameter::ResonantInductance,
        range: request.trim_range,
        added_resistance: request.added_resistance,
    };
    for (factor, most) in [(1.0, 0.5), (1.5, 0.4)] {
        let population = session.population(&scenario.tolerances.scaled(factor), settings.draws());
        let mut told = Told::default();
        for case in Arrangement::ALL.into_iter().flat_map(|own| session.cases(own)) {
            let loops = TrimCase { solver: session.solver(), case, trim };
            let from = loops.prepare(session.nominal()).1.unwrap();
            let clear = ClearLimits::new(&scenario.limits, case, &figures).unwrap();
            for sample in 0..settings.samples {
                let (converter, sensors) =
                    (population.draw(sample), population.draw_sensors(&scatter, sample));
                told.all += 1;
                let near = loops.approach(&converter, &sensors, &from, clear.detail());
                let Some(ApproachedTrims { approach, converter: trimmed }) = &near else {
                    continue;
                };
                let near = NearlySolved { approach, converter: trimmed, case };
                if measurement.take_near(&near, &clear, &mut row).is_none() {
                    continue;
                }
                told.clear += 1;
                let full = loops.settle(&converter, &sensors, &from);
                let state = full.outcome.solved().unwrap();
                assert!(full.at_end.iter().all(|end| !*end), "inside the range");
                settled.fill(f64::NAN);
                measurement.write(state, &full.converter, case, &mut settled);
                agree(&scenario, case.arrangement, &figures, [&row, &settled]);
            }
        }
        assert!(told.clear as f64 > most * told.all as f64, "{told:?}");
    }
}

/// The counts of a search are those of full solutions: of samples that pass, of pairs, and of the demand missed most.
#[test]
fn the_same_samples_pass_and_the_same_limit_binds() {
    for text in [SHELF, RUNWAY, SEABED] {
        let scenario = Scenario::parse("clear", text).unwrap();
        let settings = Settings { samples: 700, seed: 2, method: Method::Exact, threads: 0 };
        let stop = AtomicBool::new(false);
        let session = Session::new(&scenario, settings, &stop).unwrap().for_many_samples();
        let variants: Vec<ConverterVariant> = [0.5, 1.0, 2.0]
            .into_iter()
            .flat_map(|factor| {
                let tolerances = scenario.tolerances.scaled(factor);
                let of =
                    |arrangement| ConverterVariant { tolerances: tolerances.clone(), arrangement };
                Arrangement::ALL.map(of)
            })
            .collect();
        let tried = |solving| {
            paired_trials(&session, &variants, settings.draws(), solving, &mut Silent).unwrap()
        };
        let (quick, full) = (tried(Solving::UntilClear), tried(Solving::ToTheEnd));
        assert_eq!(quick.trials, full.trials);
        assert_eq!(quick.pairs, full.pairs);
        assert!(full.trials.iter().any(|trial| trial.good < trial.samples));
    }
}

/// That a chain settles within a limit is told by a bound, which lies above the time and not above the limit.
/// Of those that do not, and of the closest, the modes tell the time itself.
#[test]
fn what_settles_within_a_limit_agrees_with_the_modes() {
    let scenario = Scenario::parse("canal", CANAL).unwrap();
    let settings = Settings { samples: 60, seed: 9, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let population = session.population(&scenario.tolerances, settings.draws());
    let figure = Figure::Settling(SettlingFigure::Time);
    let measurement = session.measurement(&[]);
    let (mut bounded, mut far) = (0, 0);
    for sample in 0..settings.samples {
        let converter = population.draw(sample);
        for case in session.cases(Arrangement::Chain) {
            let outcome = session.solver().solve(&converter, case);
            let solved = || measurement.solved(outcome.solved().unwrap(), &converter, case);
            let time = solved().value(figure);
            for factor in [0.3, 0.98, 1.0 - 1e-6, 1.0 + 1e-6, 1.02, 1.5, 5.0] {
                let limit = factor * time;
                let told = solved().with_settling_limit(Some(Second(limit))).value(figure);
                assert_eq!(told <= limit, factor > 1.0, "sample {sample}: {told} s of {time} s");
                assert!(told >= time, "sample {sample}: {told} s of {time} s");
                bounded += u64::from(told > time);
                far += u64::from(factor > 1.1);
            }
        }
    }
    assert!(bounded >= far, "{bounded} of {far}");
}
