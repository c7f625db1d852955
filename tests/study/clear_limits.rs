//! Limits that converters are clear of, told close to their solutions, against full solutions: sample by
//! sample, with bands as wide as a search tries them.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::Arrangement;
use fairphase::engine::Status;
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::common::clear_limits::ClearLimits;
use fairphase::study::common::demand::Demand;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::common::trials::{ConverterVariant, Solving, paired_trials};

const SHELF: &str = include_str!("../../scenarios/telecom-shelf.toml");
const RUNWAY: &str = include_str!("../../scenarios/runway-lights.toml");
const SEABED: &str = include_str!("../../scenarios/seabed-node.toml");
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

/// How many were told, of how many.
#[derive(Debug, Default)]
struct Told {
    all: u64,
    clear: u64,
}

fn compare(text: &str, samples: u64, factor: f64) -> Told {
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
        for arrangement in Arrangement::ALL {
            for case in session.cases(arrangement) {
                let clear = ClearLimits::new(&scenario.limits, case, &figures).unwrap();
                told.all += 1;
                let found = measurement.take_if_clear(&converter, case, &clear, &mut row);
                if found.is_none() {
                    continue;
                }
                told.clear += 1;
                let status = measurement.take(&converter, case, &mut solved);
                assert_eq!(status, Status::Solved, "sample {sample} of {}", case.point.name);
                for demand in Demand::all(&scenario.limits, arrangement) {
                    let Some(figure) = demand.figure else { continue };
                    let column = figures.iter().position(|own| *own == figure).unwrap();
                    let (end, value) = (row[column], solved[column]);
                    assert_eq!(end <= demand.limit, value <= demand.limit, "{figure:?}");
                    let is_met = end <= demand.limit;
                    let is_inside = if is_met { value <= end } else { value >= end };
                    assert!(is_inside, "{figure:?} of sample {sample}: {value} beyond {end}");
                }
            }
        }
    }
    told
}

#[test]
fn what_is_told_clear_agrees_with_full_solutions() {
    for (text, samples) in [(SHELF, 250), (RUNWAY, 250), (SEABED, 250), (LAMPS, 250), (PUMP, 250)] {
        for factor in [0.3, 1.0, 2.5] {
            let told = compare(text, samples, factor);
            assert!(told.clear * 10 > told.all * 3, "{told:?}");
        }
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
