//! `faults` as a study: what is sampled, what is judged, and how often an interval is wrong.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::{Arrangement, FailureMode};
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::settings::Settings;
use fairphase::study::faults::{FaultStudy, faults, judged_limits, unjudged};
use fairphase::units::Ampere;

/// Invented: two phases in half bridge.
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

fn scenario() -> Scenario {
    let mut scenario = Scenario::parse("pump.toml", PUMP).unwrap();
    scenario.operating_points.truncate(1);
    scenario.faults.remaining = vec![0.1];
    scenario
}

fn study(scenario: &Scenario, samples: u64, seed: u64) -> FaultStudy {
    let settings = Settings { samples, seed, method: Method::Exact, threads: 1 };
    faults(scenario, settings, &AtomicBool::new(false), &mut Silent).unwrap()
}

/// Limits at what the nominal converter does with a phase bypassed, so that about half of the drawn ones
/// keep to it.
fn half_pass() -> Scenario {
    let mut scenario = scenario();
    let found = study(&scenario, 1, 1);
    let is_bypassed = |failure: FailureMode| failure == FailureMode::Bypassed;
    let bypassed = found.results.iter().find(|own| is_bypassed(own.fault().failure)).unwrap();
    scenario.limits.chain.rms_current = Some(Ampere(bypassed.tank_rms_current.unwrap().0));
    scenario.limits.chain.peak_current = None;
    scenario
}

/// Each interval is told at 95 %: over many seeds it misses the yield of a large sample no more often. The
/// same samples serve all faults, so that each is counted by itself.
#[test]
fn intervals_are_seldom_wrong() {
    const SEEDS: u64 = 120;
    let scenario = half_pass();
    let truth = study(&scenario, 20_000, 999);
    let mut wrong = vec![0_u64; truth.results.len()];
    for seed in 0..SEEDS {
        let found = study(&scenario, 25, seed);
        for (wrong, (own, truth)) in wrong.iter_mut().zip(found.results.iter().zip(&truth.results))
        {
            let (Some(own), Some(truth)) = (&own.remaining_yield, &truth.remaining_yield) else {
                continue;
            };
            let held = own.good.lower..=own.good.upper;
            *wrong += u64::from(!held.contains(&truth.good.estimate));
        }
    }
    // 5 % of 120 are 6, and four standard errors of 2.4 more.
    let most = wrong.iter().max().unwrap();
    assert!(*most <= 15, "{wrong:?}");
    let is_open = |own: &&fairphase::study::faults::FaultResult| {
        own.remaining_yield.as_ref().is_some_and(|own| (0.2..0.8).contains(&own.good.estimate))
    };
    assert!(truth.results.iter().filter(is_open).count() >= 2, "yields that can be missed");
}

/// Faults that leave the same circuit have the same yield, to the last sample.
#[test]
fn equal_circuits_have_equal_yields() {
    let found = study(&half_pass(), 200, 3);
    let of = |arrangement: Arrangement, failure: FailureMode| {
        let is = move |own: &&fairphase::study::faults::FaultResult| {
            own.arrangement() == arrangement && own.fault().failure == failure
        };
        let own = found.results.iter().filter(is);
        own.map(|own| own.remaining_yield.as_ref().unwrap().good.successes).collect::<Vec<_>>()
    };
    let chain = Arrangement::Chain;
    assert_eq!(of(chain, FailureMode::LowSwitchShort), of(chain, FailureMode::Bypassed));
    let paralleled = Arrangement::Paralleled;
    assert_eq!(of(paralleled, FailureMode::RectifierOpen), of(paralleled, FailureMode::TankOpen));
    assert_eq!(of(paralleled, FailureMode::BothGatesOff), of(paralleled, FailureMode::TankOpen));
}

/// Limits of soft switching and of single parts are named and not judged.
#[test]
fn what_is_not_judged_is_named() {
    let read = |text: &str| Scenario::parse("scenarios/any.toml", text).unwrap().limits;
    let supply = read(include_str!("../../scenarios/electrolyser-supply.toml"));
    assert_eq!(unjudged(&supply), ["soft_switching"]);
    let ferry = read(include_str!("../../scenarios/ferry-lighting.toml"));
    assert_eq!(unjudged(&ferry), ["output_capacitor_rms_current_A"], "of both arrangements, once");
    let magnet = read(include_str!("../../scenarios/foundry-magnet.toml"));
    assert_eq!(unjudged(&magnet), ["junction_temperature_C", "lost_share"]);
    assert!(!ferry.parts.is_empty());
    assert!(unjudged(&judged_limits(&ferry)).is_empty());
    assert!(unjudged(&read(PUMP)).is_empty());
}
