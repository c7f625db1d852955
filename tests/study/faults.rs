//! `faults` as a study: what is sampled, what is judged, and how often an interval is wrong.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use fairphase::converter::{
    Arrangement, FailedLegs, FailureMode, Fault, Parameter, RatedPart, Rating, Stress,
};
use fairphase::population::Population;
use fairphase::scenario::{MeasuredParts, PartLimit, Scenario, Shape, Tolerance, Tolerances};
use fairphase::solver::fault::{FaultCase, FaultOutcome, NoSteadyState};
use fairphase::solver::{Case, Method, Solver};
use fairphase::statistics::normal::quantile;
use fairphase::statistics::{IntervalMethod, Yield};
use fairphase::study::common::demand::Demand;
use fairphase::study::common::figures::{Figure, SolvedConverter};
use fairphase::study::common::loss_figures::LossFigure;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::settings::Settings;
use fairphase::study::common::switching_figures::SwitchingFigure;
use fairphase::study::faults::{
    FaultResult, FaultStudy, faults, judged_limits, not_always_judged, not_judged,
};
use fairphase::units::{Ampere, Celsius};
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

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

fn bypassed(found: &FaultStudy) -> &FaultResult {
    let is_bypassed = |own: &&FaultResult| own.fault().failure == FailureMode::Bypassed;
    found.results.iter().find(is_bypassed).unwrap()
}

/// The pump with its limit at a multiple of what the nominal converter does with a phase bypassed: at 1 about
/// half of the drawn ones keep to it.
fn limited_at(share: f64) -> Scenario {
    let mut scenario = scenario();
    let nominal = study(&scenario, 1, 1);
    let current = bypassed(&nominal).tank_rms_current.unwrap().0;
    scenario.limits.chain.rms_current = Some(Ampere(share * current));
    scenario.limits.chain.peak_current = None;
    scenario
}

/// What repeated small studies tell of the yields of a large one.
struct Repeated {
    /// Of each result, how many intervals miss the yield.
    wrong: Vec<u64>,
    /// The same of normal intervals about the estimate, which are too narrow near 0 and 1.
    wrong_normal: Vec<u64>,
}

const SEEDS: u64 = 120;

fn repeated(scenario: &Scenario, truth: &FaultStudy) -> Repeated {
    let none = vec![0_u64; truth.results.len()];
    let mut counted = Repeated { wrong: none.clone(), wrong_normal: none };
    for seed in 0..SEEDS {
        let found = study(scenario, 25, seed);
        for (n, (own, truth)) in found.results.iter().zip(&truth.results).enumerate() {
            let (Some(own), Some(truth)) = (&own.remaining_yield, &truth.remaining_yield) else {
                continue;
            };
            let (own, truth) = (own.good, truth.good.estimate);
            counted.wrong[n] += u64::from(!(own.lower..=own.upper).contains(&truth));
            let half = 1.96 * (own.estimate * (1.0 - own.estimate) / own.trials as f64).sqrt();
            counted.wrong_normal[n] += u64::from((own.estimate - truth).abs() > half);
        }
    }
    counted
}

/// Each interval is told at 95 %: over many seeds it misses the yield of a large sample no more often. The
/// same samples serve all faults, so that each is counted by itself. Normal intervals, counted in the same
/// way, are found out where the yield is near 1.
#[test]
fn intervals_are_seldom_wrong() {
    // 5 % of 120 are 6, and four standard errors of 2.4 more.
    const MOST: u64 = 15;
    for (share, yields) in [(1.0, 0.2..0.8), (1.02, 0.85..0.99)] {
        let scenario = limited_at(share);
        let truth = study(&scenario, 20_000, 999);
        let Repeated { wrong, wrong_normal } = repeated(&scenario, &truth);
        assert!(wrong.iter().all(|wrong| *wrong <= MOST), "{share}: {wrong:?}");
        let is_asked = |own: &FaultResult| {
            let good = own.remaining_yield.as_ref().map(|own| own.good.estimate);
            good.is_some_and(|good| yields.contains(&good))
        };
        let asked: Vec<usize> =
            (0..truth.results.len()).filter(|n| is_asked(&truth.results[*n])).collect();
        assert!(asked.len() >= 2, "{share}: yields that can be missed");
        if share > 1.0 {
            let most = asked.iter().map(|n| wrong_normal[*n]).max().unwrap();
            assert!(most > MOST, "normal intervals: {wrong_normal:?}");
        }
    }
}

fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}

/// Resonant inductors of a normal production: ±10 % are five standard deviations.
fn measured(mut values: Vec<f64>) -> Tolerances {
    for value in &mut values {
        *value /= 5.0;
    }
    values.sort_by(f64::total_cmp);
    let (file, column) = ("cores.csv".to_owned(), "Lr_H".to_owned());
    let parts = MeasuredParts { file, column, read_as: None, values: values.into() };
    let tolerance = Tolerance::new(Shape::Measured(Arc::new(parts)), 0.1);
    Tolerances::default().with(Parameter::ResonantInductance, Some(tolerance))
}

/// With measured parts the interval holds the yield of the whole production, as in `run`: over many files of
/// 30 parts it misses no more often than told. The interval of the samples alone is found out.
#[test]
fn intervals_hold_the_yield_of_the_production_of_measured_parts() {
    const FILES: u64 = 60;
    // 5 % of 60 are 3, and four standard errors of 1.7 more.
    const MOST: u64 = 10;
    let mut scenario = limited_at(1.0);
    let solved = |scenario: &Scenario, samples: u64, seed: u64| {
        let settings = Settings { samples, seed, method: Method::Averaged, threads: 2 };
        faults(scenario, settings, &AtomicBool::new(false), &mut Silent).unwrap()
    };
    let nominal = solved(&scenario, 1, 1);
    scenario.limits.chain.rms_current =
        Some(Ampere(bypassed(&nominal).tank_rms_current.unwrap().0));
    // Nearly the whole production.
    scenario.tolerances =
        measured((0..4000).map(|n| quantile((f64::from(n) + 0.5) / 4e3)).collect());
    let truth = bypassed(&solved(&scenario, 20_000, 999)).remaining_yield.clone().unwrap();
    let truth = truth.good.estimate;
    assert!((0.2..0.95).contains(&truth), "{truth}");
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let (mut wrong, mut wrong_of_samples) = (0, 0);
    for seed in 0..FILES {
        scenario.tolerances = measured((0..30).map(|_| quantile(uniform(&mut rng))).collect());
        let found = solved(&scenario, 300, seed);
        let own = bypassed(&found).remaining_yield.clone().unwrap();
        let misses = |own: &Yield| u64::from(!(own.lower..=own.upper).contains(&truth));
        assert_eq!(own.good.method, IntervalMethod::MeasuredFiles);
        wrong += misses(&own.good);
        wrong_of_samples += misses(&own.good_of_measured_parts.unwrap());
    }
    assert!(wrong <= MOST, "{wrong} of {FILES}");
    assert!(wrong_of_samples > MOST, "of samples alone: {wrong_of_samples} of {FILES}");
}

/// Faults that leave the same circuit have the same yield, to the last sample.
#[test]
fn equal_circuits_have_equal_yields() {
    let found = study(&limited_at(1.0), 200, 3);
    let of = |arrangement: Arrangement, failure: FailureMode| {
        let is = move |own: &&FaultResult| {
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

fn named(demands: &[Demand]) -> Vec<String> {
    demands.iter().map(Demand::name).collect()
}

/// Limits on what a failed part leaves open are named: of a scenario, and of each fault.
#[test]
fn what_is_not_judged_is_named() {
    let read = |text: &str| Scenario::parse("scenarios/any.toml", text).unwrap();
    let supply = read(include_str!("../../scenarios/electrolyser-supply.toml"));
    // Where capacitors meet in switches, their currents are not judged.
    let [rms, peak] = ["switch_rms_current_A", "switch_peak_current_A"];
    // Behind a dead low gate phases part by more than is known.
    let sharing = "sharing_error";
    assert_eq!(named(&not_always_judged(&supply)), [sharing, rms, peak, "soft_switching"]);
    // Of phases that switch all at once, dead times add to what switches block.
    let at_once = include_str!("../../scenarios/electrolyser-supply.toml");
    let at_once = read(&at_once.replace("falling-first", "together"));
    let with_blocking = [sharing, rms, peak, "blocking_voltage_V", "soft_switching"];
    assert_eq!(named(&not_always_judged(&at_once)), with_blocking);
    let ferry = read(include_str!("../../scenarios/ferry-lighting.toml"));
    let names = named(&not_always_judged(&ferry));
    let once = [sharing, rms, peak, "output_capacitor_rms_current_A"];
    assert_eq!(names, once, "of both arrangements, once");
    let magnet = read(include_str!("../../scenarios/foundry-magnet.toml"));
    let losses = [rms, peak, "junction_temperature_C", "lost_share"];
    assert_eq!(named(&not_always_judged(&magnet)), [&[sharing], &losses[..]].concat());
    assert_eq!(named(&not_always_judged(&read(PUMP))), [sharing, peak]);

    let scenario = scenario();
    let found = study(&scenario, 1, 1);
    let case = |failure: FailureMode, phase: usize, arrangement: Arrangement| {
        let is = |own: &&FaultResult| {
            (own.fault().failure, own.fault().phase, own.arrangement())
                == (failure, phase, arrangement)
        };
        found.results.iter().find(is).unwrap().case.clone()
    };
    let (chain, paralleled) = (Arrangement::Chain, Arrangement::Paralleled);
    let aged = FailureMode::FlyingCapacitorAged(0.1);
    for (failure, phase, arrangement) in [
        (aged, 0, chain),
        (FailureMode::TankOpen, 1, paralleled),
        (FailureMode::HighGateOff, 0, paralleled),
    ] {
        let all = case(failure, phase, arrangement);
        assert_eq!(judged_limits(&ferry.limits, &all), ferry.limits);
        assert!(not_judged(&magnet, &all).is_empty(), "{:?}", all.fault);
        assert!(not_judged(&at_once, &all).is_empty(), "{:?}", all.fault);
    }
    // One phase is left, with all of its parts: in half-bridge drive, where no turn-on is asked for. If falling
    // phases go first, low switches may carry more in dead times.
    let short = case(FailureMode::FlyingCapacitorShort, 0, chain);
    assert_eq!(named(&not_judged(&magnet, &short)), [rms, peak]);
    assert_eq!(named(&not_judged(&supply, &short)), [rms, peak, "soft_switching"]);
    assert_eq!(named(&not_judged(&at_once, &short)), ["blocking_voltage_V", "soft_switching"]);
    // Capacitors meet in each period.
    let bypassed = case(FailureMode::Bypassed, 0, chain);
    assert_eq!(named(&not_judged(&magnet, &bypassed)), losses);
    // Limits on currents of switches stay among those that are judged: they can be missed.
    let limits = judged_limits(&ferry.limits, &bypassed);
    assert_eq!(named(&not_judged(&Scenario { limits, ..ferry }, &bypassed)), [rms, peak]);
}

/// Limits that nothing meets, so that the value of each is told.
fn unmet(text: &str, ratings: &[Rating]) -> Scenario {
    let mut scenario = Scenario::parse("any.toml", text).unwrap();
    scenario.operating_points.truncate(1);
    scenario.faults.remaining = vec![0.1];
    let limits = &mut scenario.limits;
    limits.parts = Arrangement::ALL
        .iter()
        .flat_map(|arrangement| {
            ratings.iter().map(|rating| PartLimit {
                arrangement: *arrangement,
                rating: *rating,
                limit: 1e-9,
            })
        })
        .collect();
    scenario
}

const INDUCTOR: Rating = Rating { part: RatedPart::ResonantInductor, stress: Stress::RmsCurrent };

/// An aged capacitor leaves every part at work: all limits are judged, by the figures of a healthy converter
/// whose capacitor has that value. Temperatures and losses are solved together with it.
#[test]
fn an_aged_capacitor_is_judged_by_all_limits() {
    let ratings = [
        INDUCTOR,
        Rating { part: RatedPart::OutputCapacitor, stress: Stress::RmsCurrent },
        Rating { part: RatedPart::FlyingCapacitor(1), stress: Stress::RippleVoltage },
    ];
    let mut scenario = unmet(include_str!("../../scenarios/foundry-magnet.toml"), &ratings);
    let limits = &mut scenario.limits.chain;
    limits.junction_temperature = Some(Celsius(-200.0));
    limits.efficiency = Some(1.0);
    limits.soft_turn_on = Some(-100.0);
    let found = study(&scenario, 1, 1);
    let aged = Fault {
        failure: FailureMode::FlyingCapacitorAged(0.1),
        phase: 1,
        legs: Some(FailedLegs::Driven),
    };
    let is_aged = |own: &&FaultResult| *own.fault() == aged;
    let result = found.results.iter().find(is_aged).unwrap();

    let mut converter = scenario.nominal_converter();
    converter.flying[1].0 *= 0.1;
    let point = result.case.point.clone();
    let case = Case::new(point.clone(), scenario.frequency, Arrangement::Chain).with_stress();
    let case = Case { switch: scenario.warmed_switch(Arrangement::Chain), ..case };
    let outcome = Method::Exact.solve(&converter, &case);
    let state = outcome.solved().unwrap();
    let solved =
        SolvedConverter::new(state, &converter, &point, Arrangement::Chain, &scenario.drift)
            .with_switches(scenario.switch.as_ref());
    let mut told = 0;
    for missed in result.missed.as_ref().unwrap() {
        let Demand { figure: Some(figure), .. } = missed.demand else { continue };
        let (own, expected) = (missed.value.unwrap(), solved.value(figure));
        assert!((own / expected - 1.0).abs() < 1e-6, "{figure:?}: {own} {expected}");
        told += 1;
    }
    // Three parts, junction, efficiency, soft turn-on.
    assert!(told >= 6, "{told}");
}

/// What loads tanks is judged after every fault: the highest of the tank currents that are told, in the
/// paralleled reference on the whole input.
#[test]
fn what_loads_tanks_is_judged_after_every_fault() {
    let scenario = unmet(PUMP, &[INDUCTOR]);
    let found = study(&scenario, 1, 1);
    let mut told = 0;
    for result in &found.results {
        let Some(missed) = &result.missed else { continue };
        let is_of_part = |demand: &Demand| demand.name().contains("inductor");
        let own = missed.iter().find(|own| is_of_part(&own.demand)).unwrap();
        let scale = if result.arrangement() == Arrangement::Chain { 1.0 } else { 0.5 };
        let expected = scale * result.tank_rms_current.unwrap().0;
        let error = own.value.unwrap() / expected - 1.0;
        assert!(error.abs() < 1e-9, "{:?}: {error}", result.fault());
        told += 1;
    }
    assert!(told >= 8, "{told}");
}

/// A phase that carries all of the current has no steady temperature: each kelvin makes more than one. By
/// hand, with the current that it has where it is cooled well: Θ Ron c I² of a switch that carries it half of
/// the time is near 1 or above (`src/solver/dissipation/model.md`: not solved from 0.95 on).
#[test]
fn a_junction_that_runs_away_is_the_cause() {
    let magnet = include_str!("../../scenarios/foundry-magnet.toml");
    let first = |text: &str| {
        let mut scenario = Scenario::parse("any.toml", text).unwrap();
        scenario.operating_points.truncate(1);
        scenario.service_life = None;
        let found = study(&scenario, 1, 1);
        let is_first = |own: &FaultResult| {
            own.fault().failure == FailureMode::FlyingCapacitorShort && own.fault().phase == 0
        };
        found.results.into_iter().find(is_first).unwrap()
    };
    let hot = first(magnet);
    let expected = FaultOutcome::NoSteadyState(NoSteadyState::JunctionRunaway);
    assert_eq!(hot.outcome, expected);
    assert!(hot.outcome.cause().unwrap().contains("no steady temperature"));
    let cooled = magnet.replace("\"9 K/W\"", "\"0.1 K/W\"").replace("\"2.5 K/W\"", "\"0.1 K/W\"");
    let cool = first(&cooled);
    let state = cool.outcome.state().unwrap();
    assert_eq!(state.carrying[..], [0]);
    let squared = 0.5 * cool.tank_rms_current.unwrap().0.powi(2);
    let gain = 9.0 * 24e-3 * 0.007 * squared;
    assert!(gain > 0.95, "{gain}");
}

/// The pump at the operating point `haze` with losses told apart, and no limit that it keeps to. All invented.
fn with_losses(replaced: &[(&str, &str)]) -> Scenario {
    const LOSSES: &str = "[converter.losses]\non_resistance = \"25 mΩ\"\nrectifier_resistance = \"4 mΩ\"\n\
                          primary_winding_resistance = \"15 mΩ\"\nswitch_thermal_resistance = \"6 K/W\"\n\
                          rectifier_thermal_resistance = \"8 K/W\"\n[temperature_coefficient.on_resistance]\n\
                          value = \"7000 ppm/K\"\n[converter.frequency]";
    let mut text = PUMP.replacen("[converter.frequency]", LOSSES, 1);
    text = text.replacen("[limits]", "[limits]\nefficiency = \"99.99 %\"", 1);
    text = text.replacen("[limits]", "[limits]\njunction_temperature = \"1 °C\"", 1);
    text = text.replace("drive     =", "temperature = \"25 °C\"\ndrive     =");
    for (old, new) in replaced {
        assert!(text.contains(old), "{old}");
        text = text.replace(old, new);
    }
    let mut scenario = Scenario::parse("pump.toml", &text).unwrap();
    scenario.operating_points.remove(0);
    scenario
}

/// Figures of the nominal converter of a scenario, healthy.
struct Healthy {
    frequency: f64,
    values: Vec<(Figure, f64)>,
}

fn healthy(scenario: &Scenario, arrangement: Arrangement, figures: &[Figure]) -> Healthy {
    let found = study(scenario, 1, 1);
    let own = found.healthy.iter().find(|own| own.arrangement == arrangement).unwrap();
    let result = found.results.iter().find(|own| own.arrangement() == arrangement).unwrap();
    let converter = scenario.nominal_converter();
    let (state, point) = (&own.state, &result.case.point);
    let solved = SolvedConverter::new(state, &converter, point, arrangement, &scenario.drift)
        .with_switches(scenario.switch.as_ref());
    let values = figures.iter().map(|figure| (*figure, solved.value(*figure))).collect();
    Healthy { frequency: state.switching_frequency.0, values }
}

fn expect_missed(result: &FaultResult, expected: &Healthy) {
    let state = &result.outcome.state().unwrap().state;
    let error = state.switching_frequency.0 / expected.frequency - 1.0;
    assert!(error.abs() < 1e-7, "frequency {error}");
    for (figure, value) in &expected.values {
        let missed = result.missed.as_ref().unwrap();
        let own = missed.iter().find(|own| own.demand.figure == Some(*figure));
        let own = own.unwrap_or_else(|| panic!("{figure:?} is not judged")).value.unwrap();
        assert!((own - value).abs() < 1e-6 * value.abs(), "{figure:?}: {own} {value}");
    }
}

const JUNCTION: Figure = Figure::Losses(LossFigure::Junction);
const LOST: Figure = Figure::Losses(LossFigure::LostShare);

/// By symmetry: one of two equal paralleled phases that carries all does so as both of a healthy converter with
/// twice the load. Its switches still carry half of its tank's current: losses, temperatures, frequency and
/// turn-on are the same.
#[test]
fn a_lost_paralleled_phase_leaves_the_others_as_at_a_higher_load() {
    let soft = ("[limits]", "[limits]\nsoft_switching = true");
    let unmet = |mut scenario: Scenario| {
        scenario.limits.paralleled.soft_turn_on = Some(-100.0);
        scenario
    };
    let lost = study(&unmet(with_losses(&[soft])), 1, 1);
    let twice = unmet(with_losses(&[soft, ("\"300 W\"", "\"600 W\"")]));
    let turn_on = Figure::Switching(SwitchingFigure::Shortfall);
    let expected = healthy(&twice, Arrangement::Paralleled, &[JUNCTION, LOST, turn_on]);
    for failure in [FailureMode::TankOpen, FailureMode::BothGatesOff] {
        let is = |own: &&FaultResult| {
            own.arrangement() == Arrangement::Paralleled && own.fault().failure == failure
        };
        for result in lost.results.iter().filter(is) {
            expect_missed(result, &expected);
        }
    }
}

/// A half-bridge chain of three phases with its second flying capacitor shorted, or its first high switch, is one
/// of two phases on the same input.
#[test]
fn a_shorter_chain_is_judged_by_its_losses() {
    let start = PUMP.find("[switch]").unwrap();
    let switch = &PUMP[start..PUMP.find("[run]").unwrap()];
    let wide = [(switch, ""), ("\"200 kHz\"", "\"600 kHz\""), ("\"350 V\"", "\"480 V\"")];
    let two = with_losses(&wide);
    let three = with_losses(&[&wide[..], &[("phases = 2", "phases = 3")]].concat());
    let expected = healthy(&two, Arrangement::Chain, &[JUNCTION, LOST]);
    let found = study(&three, 1, 1);
    let of = |failure: FailureMode, phase: usize| {
        let is = |own: &&FaultResult| {
            let fault = own.fault();
            own.arrangement() == Arrangement::Chain
                && (fault.failure, fault.phase) == (failure, phase)
        };
        found.results.iter().find(is).unwrap()
    };
    expect_missed(of(FailureMode::FlyingCapacitorShort, 1), &expected);
    expect_missed(of(FailureMode::HighSwitchShort, 0), &expected);
    // Capacitors meet in each period: what that loses in which switch is not known.
    let bypassed = of(FailureMode::Bypassed, 1);
    assert_eq!(
        named(&not_judged(&three, &bypassed.case)),
        ["switch_peak_current_A", "junction_temperature_C", "lost_share"]
    );
}

/// Two phases in half bridge, of which the flying capacitor ages. Invented.
const AGEING: &str = concat!(
    include_str!("../data/ageing_phases.toml"),
    r#"[tolerance.resonant_inductance]
shape = "uniform"
band = "5 %"
[tolerance.resonant_capacitance]
shape = "uniform"
band = "5 %"
[tolerance.flying_capacitance]
shape = "uniform"
band = "10 %"
[limits]
sharing_error = "5 %"
[faults]
remaining = ["10 %", "1.8 %", "1.6 %", "1.4 %", "1.2 %", "1 %"]
"#
);

/// Each drawn converter is followed by itself, from its own frequency before the fault. At 10 % of the
/// capacitance none is trapped, at less some are.
#[test]
fn trapped_converters_are_those_that_were_followed() {
    const SAMPLES: u64 = 12;
    let scenario = Scenario::parse("b.toml", AGEING).unwrap();
    let settings = Settings { samples: SAMPLES, seed: 4, method: Method::Exact, threads: 1 };
    let found = faults(&scenario, settings, &AtomicBool::new(false), &mut Silent).unwrap();
    let population = Population::with_tolerances(
        scenario.nominal_converter(),
        &scenario.tolerances,
        settings.draws().source,
    );
    let is_trapped = |case: &FaultCase, sample: u64| {
        let converter = population.draw(sample);
        let healthy = Case::new(case.point.clone(), case.band, Arrangement::Chain);
        let before = Method::Exact.solve(&converter, &healthy);
        let frequency = before.solved().unwrap().switching_frequency;
        let after = case.solve(&Solver::from(Method::Exact), &converter);
        after.state().is_some_and(|state| case.trap(&converter, frequency, state).is_some())
    };
    let mut shares = Vec::new();
    for result in &found.results {
        let trapped = result.remaining_yield.as_ref().and_then(|own| own.trapped);
        let Some(share) = result.fault().failure.remaining() else {
            assert!(trapped.is_none(), "{:?}", result.fault());
            continue;
        };
        let own = trapped.unwrap();
        let counted = (0..SAMPLES).filter(|sample| is_trapped(&result.case, *sample)).count();
        assert_eq!((own.successes, own.trials), (counted as u64, SAMPLES), "{share}");
        shares.push(counted as u64);
    }
    assert_eq!(shares[0], 0, "{shares:?}");
    assert!(shares.iter().any(|own| (1..SAMPLES).contains(own)), "{shares:?}");
}
