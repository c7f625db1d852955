//! What more samples may show of a band: estimates against a closed form, and against new searches.
//!
//! The sharing error is abs(A x + A y), with x and y uniform over −1..1. A share of (1 − L/(2 A))² of the
//! samples is above the limit L: the area of two triangles. With a common factor s of the bands, A is s
//! times its present value, so the factor at which a share f fails is L/(2 A (1 − √f)).
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use fairphase::converter::{Drive, Parameter};
use fairphase::solver::Method;
use fairphase::study::bands::{Bands, LimitedBy, Subject, WidestBand, bands_by};
use fairphase::study::common::progress::Silent;
use fairphase::study::common::settings::Settings;
use fairphase::study::common::trials::Trial;

use crate::bands::{LR, linear, scenario, shown};
use crate::stand_in::nested;

const CR: Parameter = Parameter::ResonantCapacitance;
/// The limit: both reaches together are twice 0.05 at present.
const LIMIT: f64 = 0.12;

/// The factor at which this share fails.
fn factor(share: f64) -> f64 {
    LIMIT / (0.1 * (1.0 - share.sqrt()))
}

fn study(samples: u64, seed: u64) -> Bands {
    let evaluate = linear(&[(LR, 0.5), (CR, 1.0)], LIMIT);
    let mut evaluate = nested(|_, bands, draws| {
        let trial: Trial = evaluate(bands, draws);
        Ok(trial)
    });
    let settings = Settings { samples, seed, method: Method::Exact, threads: 1 };
    bands_by(&scenario(), settings, &[Drive::FullBridge], &mut evaluate, &mut Silent).unwrap()
}

fn together(bands: &Bands) -> &WidestBand {
    bands.parts[0].row(Subject::Together).unwrap()
}

/// With 700 samples one failure fails a run: up to 1.2 no sample can fail, and 1 % does so at 1.333. The
/// estimate finds the latter. Its scatter is that of the failures: ds/s = df/(2 √f (1 − √f)) = 2.1 %.
#[test]
fn the_estimate_finds_where_the_yield_falls_below_the_target() {
    const SEEDS: u64 = 40;
    let exact = factor(0.01);
    assert!((exact - 0.12 / 0.09).abs() < 1e-12);
    let deviation = (0.01_f64 * 0.99 / 700.0).sqrt() / (2.0 * 0.1 * 0.9);
    let mut sum = 0.0;
    for seed in 0..SEEDS {
        let bands = study(700, seed);
        let row = together(&bands);
        let more = bands.more_samples(row).unwrap();
        let confirmed = row.confirmed().unwrap().at;
        assert!((more.limit_at / exact - 1.0).abs() < 5.0 * deviation, "{}", more.limit_at);
        assert!(confirmed <= more.shown_at && more.shown_at <= more.limit_at);
        assert!(!more.is_open_ended && more.samples.unwrap() > 700);
        sum += more.limit_at / exact;
    }
    let mean = sum / SEEDS as f64;
    // A straight line between places up to 14 % apart lies above the curve: the place comes out short.
    assert!(mean > 1.0 - 0.02 - 4.0 * deviation / (SEEDS as f64).sqrt(), "{mean}");
    assert!(mean < 1.0 + 4.0 * deviation / (SEEDS as f64).sqrt(), "{mean}");
}

/// Fresh samples that were seen below the target at a place bound the estimate, which comes from the samples of the
/// search alone.
#[test]
fn no_estimate_reaches_beyond_what_fresh_samples_refute() {
    let mut refuted = 0;
    for seed in 0..200 {
        let bands = study(3000, seed);
        let row = together(&bands);
        let below = row.verifications.iter().filter(|run| run.good.estimate < bands.rule.target);
        let Some(narrowest) = below.map(|run| run.at).reduce(f64::min) else { continue };
        let Some(more) = bands.more_samples(row) else { continue };
        refuted += 1;
        let confirmed = row.confirmed().unwrap().at;
        assert!(more.limit_at <= narrowest.max(confirmed), "{} {narrowest}", more.limit_at);
        assert!(!more.is_open_ended || more.limit_at < narrowest, "{seed}");
    }
    assert!(refuted > 0, "no study was refuted: choose another number of samples");
}

/// A new search with the number of samples told shows the place told, more often than not: the number
/// rests on few failures.
#[test]
fn the_number_of_samples_told_mostly_shows_what_it_may() {
    const SEEDS: u64 = 30;
    let mut shown = 0;
    for seed in 0..SEEDS {
        let bands = study(700, seed);
        let more = bands.more_samples(together(&bands)).unwrap();
        let again = study(more.samples.unwrap(), 1000 + seed);
        let found = together(&again).search.widest().unwrap().at;
        shown += u64::from(found >= more.shown_at * 0.98);
    }
    assert!(shown >= SEEDS / 2, "{shown} of {SEEDS}");
}

/// The fewer samples, the more of the margin they cost; with many the limit is that of the scenario.
#[test]
fn few_samples_limit_a_band_and_many_do_not() {
    let few = study(700, 3);
    assert_eq!(few.limited_by(together(&few)), Some(LimitedBy::Samples));
    for shown in shown(&scenario(), &few) {
        assert!(shown.contains("Limited by: the number of samples. About "), "{shown}");
        assert!(shown.contains("a run may show ×"), "{shown}");
    }
    let many = study(60_000, 3);
    let row = together(&many);
    assert_ne!(many.limited_by(row), Some(LimitedBy::Samples));
    let more = many.more_samples(row).unwrap();
    assert!(more.limit_at / row.confirmed().unwrap().at < 1.05);
    let summary =
        fairphase::report::bands::report(&scenario(), &few).unwrap().summary.value().unwrap();
    let told = &summary["arrangements"]["chain"]["widest"][0];
    assert_eq!(told["limited_by"], "samples");
    let more = few.more_samples(together(&few)).unwrap();
    assert_eq!(told["more_samples"]["limit_at"], more.limit_at);
    assert_eq!(told["more_samples"]["samples"], more.samples.unwrap());
}
