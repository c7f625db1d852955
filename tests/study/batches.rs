//! Delivered batches against closed forms: all variance in the lots, and none of it.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::scenario::{LotSettings, Scenario, Tolerance};
use fairphase::solver::Method;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::run::{NoSink, Run, SampleSize, run};
use fairphase::units::Ampere;

/// The shelf with this lot share of all parts, and a limit on the switch current that some miss.
fn shelf(lot_share: f64, lots: LotSettings) -> Scenario {
    let mut scenario =
        Scenario::parse("shelf", include_str!("../../scenarios/telecom-shelf.toml")).unwrap();
    let own: Vec<_> = scenario.tolerances.iter().map(|(p, own)| (p, own.clone())).collect();
    for (parameter, own) in own {
        let shared = Tolerance { lot_share, ..own };
        scenario.tolerances = scenario.tolerances.with(parameter, Some(shared));
    }
    scenario.operating_points.truncate(1);
    scenario.lots = Some(lots);
    scenario.limits.sharing_error = None;
    scenario.limits.chain.rms_current = None;
    scenario.limits.chain.peak_current = None;
    scenario.limits.chain.blocking_voltage = None;
    scenario.limits.paralleled = scenario.limits.chain;
    scenario
}

fn carried_out(scenario: &Scenario, samples: u64, threads: usize) -> Run {
    let settings = Settings { samples, seed: 8, method: Method::Averaged, threads };
    let stop = AtomicBool::new(false);
    let session = Session::new(scenario, settings, &stop).unwrap();
    run(&session, 8.into(), SampleSize::Fixed(samples), &mut NoSink, &mut Silent).unwrap()
}

/// A limit on the switch current that a tenth of the converters or so misses.
fn limited(mut scenario: Scenario) -> Scenario {
    let run = carried_out(&scenario, 400, 0);
    let place = run
        .figures
        .iter()
        .position(|figure| *figure == fairphase::study::common::figures::Figure::WorstSwitchRms);
    let current = run.cases[0].key_figures[place.unwrap()].as_ref().unwrap();
    let quantile = current.mean + 1.28 * current.sd.unwrap();
    scenario.limits.chain.rms_current = Some(Ampere(quantile));
    scenario
}

/// Index of dispersion of the failures per batch: about its number of batches less one, with a standard
/// deviation of √(2 (B − 1)), where all converters are independent (R. A. Fisher 1925; from memory).
fn dispersion(passing: &[u64], size: u64) -> f64 {
    let (batches, size) = (passing.len() as f64, size as f64);
    let mean = passing.iter().map(|n| *n as f64).sum::<f64>() / batches;
    let squares: f64 = passing.iter().map(|n| (*n as f64 - mean).powi(2)).sum();
    squares / (mean * (1.0 - mean / size))
}

/// All variance in the lots: the converters of a batch are alike, so that a batch passes as a whole or
/// not at all. The chance that it fails is the share of converters that fail.
#[test]
fn with_all_variance_in_the_lots_a_batch_passes_as_a_whole() {
    let lots = LotSettings { converters: 20, batches: 400 };
    let scenario = limited(shelf(1.0, lots));
    let run = carried_out(&scenario, 4000, 0);
    let batches = run.batches.as_ref().unwrap();
    let chain = &batches.arrangements[0];
    assert_eq!(chain.passing.len(), 400);
    assert!(chain.passing.iter().all(|n| [0, 20].contains(n)), "{:?}", chain.passing);
    let failing = 1.0 - run.joint[0].good.estimate;
    let error = (failing * (1.0 - failing) * (1.0 / 4000.0 + 1.0 / 400.0)).sqrt();
    let found = chain.below_target.estimate;
    assert!(error < 0.02 && (found - failing).abs() < 4.0 * error, "{found} against {failing}");
    assert!(dispersion(&chain.passing, 20) > 400.0 + 4.0 * 800.0_f64.sqrt(), "not independent");
    assert_eq!((chain.quantile(0.0), chain.quantile(1.0)), (0, 20));
    // The same for any number of threads.
    let single = carried_out(&scenario, 4000, 1);
    assert_eq!(single.batches, run.batches);
}

/// No variance in the lots: a batch is any other converters, its failures are binomial.
#[test]
fn without_lots_the_failures_of_a_batch_are_binomial() {
    let lots = LotSettings { converters: 50, batches: 200 };
    let scenario = limited(shelf(0.0, lots));
    let run = carried_out(&scenario, 4000, 0);
    let batches = run.batches.unwrap();
    let chain = &batches.arrangements[0];
    let found = dispersion(&chain.passing, 50);
    assert!((found - 199.0).abs() < 4.0 * 398.0_f64.sqrt(), "{found}");
    let failing = 1.0 - run.joint[0].good.estimate;
    let seen = 1.0 - chain.passing.iter().sum::<u64>() as f64 / 10_000.0;
    let error = (failing * (1.0 - failing) * (1.0 / 4000.0 + 1.0 / 10_000.0)).sqrt();
    assert!((seen - failing).abs() < 4.0 * error, "{seen} against {failing}");
    // Below the target by hand.
    let target = scenario.limits.yield_target * 50.0;
    let below = chain.passing.iter().filter(|n| (**n as f64) < target).count() as u64;
    assert_eq!((chain.below_target.successes, chain.below_target.trials), (below, 200));
}
