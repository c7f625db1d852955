//! What explains a run, against derivatives, and against trials of all its samples.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::{AtomicBool, Ordering};

use fairphase::converter::{Arrangement, Converter, Parameter, Property};
use fairphase::report::run::report;
use fairphase::scenario::{Correlation, Scenario, Shape, Tolerance, Tolerances};
use fairphase::solver::Method;
use fairphase::study::common::assumption::Assumption;
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::{Progress, Silent};
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::common::trials::{ConverterVariant, Solving, paired_trials};
use fairphase::study::common::what_if::Change;
use fairphase::study::explanation::{
    Driver, DriverPart, Explained, Explanation, explain, samples_to_keep,
};
use fairphase::study::run::{Run, SampleSize, run};

/// Invented converters.
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

const LR: Parameter = Parameter::ResonantInductance;
const CR: Parameter = Parameter::ResonantCapacitance;
const LM: Parameter = Parameter::MagnetisingInductance;
const N: Parameter = Parameter::TurnsRatio;

fn scenario(text: &str) -> Scenario {
    Scenario::parse("pump.toml", text).unwrap()
}

fn settings(samples: u64) -> Settings {
    Settings { samples, seed: 5, method: Method::Averaged, threads: 0 }
}

/// A run and what explains it.
fn explained(session: &Session, progress: &mut dyn Progress) -> (Run, Explanation) {
    let mut kept = samples_to_keep(session.scenario());
    let size = SampleSize::Fixed(session.settings().samples);
    let run = run(session, 5.into(), size, &mut kept, &mut Silent).unwrap();
    let explained = Explained { session, run: &run, kept: &kept };
    let explanation = explain(explained, progress).unwrap();
    (run, explanation)
}

/// Parts that scatter little: the variance of a current is Σ (∂I/∂p)² p² b²/3 over all parts, for
/// uniform parts of half width b (JCGM 100:2008, equation 10). Central differences of 10⁻⁴.
#[test]
fn shares_of_a_nearly_linear_current_follow_from_its_derivatives() {
    let bands = [(LR, 0.01), (CR, 0.005), (LM, 0.02), (N, 0.001)];
    let mut scenario = scenario(PUMP);
    scenario.tolerances = bands.iter().fold(Tolerances::default(), |all, (parameter, band)| {
        all.with(*parameter, Some(Tolerance::new(Shape::Uniform, *band)))
    });
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings(4000), &stop).unwrap();
    let (run, explanation) = explained(&session, &mut Silent);
    let drivers = explanation.drivers.unwrap();
    for (place, case) in run.cases.iter().enumerate() {
        let case = &case.baseline.case;
        let current = |converter: &Converter| {
            session.solve(converter, case).solved().unwrap().phases[0].output_current.0
        };
        let variance = |(parameter, band): &(Parameter, f64)| -> f64 {
            let of_part = |k: usize| {
                let [low, high] = [-1e-4, 1e-4].map(|step| {
                    let mut converter = session.nominal().clone();
                    *converter.tanks[k].value_mut(*parameter).unwrap() *= 1.0 + step;
                    current(&converter)
                });
                ((high - low) / 2e-4 * band).powi(2) / 3.0
            };
            (0..2).map(of_part).sum()
        };
        let variances: Vec<f64> = bands.iter().map(variance).collect();
        let all: f64 = variances.iter().sum();
        let of_case = &drivers.cases[place];
        let found = of_case.figures.iter().find(|f| f.figure == Figure::OutputCurrent(0)).unwrap();
        assert!(found.linear.unwrap() > 0.97, "{:?}", found.linear);
        assert_eq!((found.shares.len(), of_case.left_out), (4, 0));
        for (shares, variance) in found.shares.iter().zip(&variances) {
            let truth = variance / all;
            for share in [shares.shares.first_order, shares.shares.total] {
                let reach = (share.upper - share.lower).max(0.01);
                assert!((share.estimate - truth).abs() < reach, "{truth} {shares:?}");
                assert!(share.upper - share.lower < 0.12, "{shares:?}");
            }
        }
    }
}

/// Fewer failures than the scenario has, so that all of them are tried again.
fn few_failures() -> String {
    PUMP.replace("sharing_error = \"3 %\"", "sharing_error = \"4.5 %\"")
}

/// The change of the chain's outcomes over all samples of the run.
#[track_caller]
fn check_against_all_samples(session: &Session, tolerances: Tolerances, change: &Change) {
    let variant = |tolerances| ConverterVariant { tolerances, arrangement: Arrangement::Chain };
    let variants = [variant(session.scenario().tolerances.clone()), variant(tolerances)];
    let draws = session.settings().draws();
    let pairs = paired_trials(session, &variants, draws, Solving::ToTheEnd, &mut Silent)
        .unwrap()
        .pairs
        .counts(0, 1);
    let (outcomes, samples) = (change.outcomes, draws.samples);
    assert_eq!(outcomes.failing_among, samples, "all failing ones are tried again");
    assert_eq!((outcomes.saved, outcomes.still_failing), (pairs.second, pairs.neither));
    assert!(outcomes.lost <= pairs.first && outcomes.passing_among < samples, "{outcomes:?}");
    let difference = (pairs.second as f64 - pairs.first as f64) / samples as f64;
    let found = change.difference;
    assert!((found.lower..=found.upper).contains(&difference), "{found:?} {difference}");
    let good = (pairs.both + pairs.second) as f64 / samples as f64;
    assert!((change.now.lower..=change.now.upper).contains(&good), "{change:?} {good}");
}

#[test]
fn changed_outcomes_are_those_of_all_samples() {
    let scenario = scenario(&few_failures());
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings(4000), &stop).unwrap();
    let (_, explanation) = explained(&session, &mut Silent);
    let chain = &explanation.failure_drivers[0];
    assert_eq!((chain.arrangement, chain.parts.len()), (Arrangement::Chain, 6));
    for part in &chain.parts {
        let exact = scenario.tolerances.with(part.property.parameter, None);
        check_against_all_samples(&session, exact, &part.change.joint);
    }
    // Lots that are all alike are tried on the same failing samples; what they draw: `population.rs`.
    let has_lot =
        |p: &Parameter| scenario.tolerances.get(*p).is_some_and(|own| own.lot_share > 0.0);
    let lots = &explanation.lot_failure_drivers[0];
    let with_lots: Vec<Parameter> = Parameter::ALL.into_iter().filter(has_lot).collect();
    assert_eq!(
        lots.parts.iter().map(|part| part.property.parameter).collect::<Vec<_>>(),
        with_lots
    );
    for lot in &lots.parts {
        let whole = chain.parts.iter().find(|part| part.property == lot.property).unwrap();
        let [lot, whole] = [lot, whole].map(|part| part.change.joint.outcomes);
        assert_eq!(lot.saved + lot.still_failing, whole.saved + whole.still_failing);
    }
    let what_if = explanation.what_if.unwrap();
    let alternatives = Assumption::alternatives(&scenario.tolerances);
    assert_eq!(what_if.outcomes.len(), alternatives.len());
    for (outcome, (assumption, tolerances)) in what_if.outcomes.iter().zip(alternatives) {
        assert_eq!(outcome.assumption, assumption);
        check_against_all_samples(&session, tolerances, &outcome.change);
    }
}

/// The scenario without its tables of limits.
fn without_limits() -> String {
    let mut is_left_out = false;
    let keeps = |line: &&str| {
        if line.starts_with('[') {
            is_left_out = line.starts_with("[limits");
        }
        !is_left_out
    };
    PUMP.lines().filter(keeps).map(|line| line.to_owned() + "\n").collect()
}

/// Without any limit a converter with a steady state passes, which is no verdict that an assumption might change.
#[test]
fn without_limits_there_is_no_verdict_to_change() {
    let scenario = scenario(&without_limits());
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings(4000), &stop).unwrap();
    let (run, explanation) = explained(&session, &mut Silent);
    assert_eq!(run.joint[0].good.successes, 4000);
    assert!(!run.joint[0].is_judged && explanation.what_if.is_none());
    let chain = ConverterVariant {
        tolerances: scenario.tolerances.clone(),
        arrangement: Arrangement::Chain,
    };
    for solving in [Solving::ToTheEnd, Solving::UntilClear] {
        let draws = session.settings().draws();
        let tried =
            paired_trials(&session, std::slice::from_ref(&chain), draws, solving, &mut Silent)
                .unwrap();
        assert_eq!(tried.trials[0].good, 4000, "{solving:?}");
    }
}

/// Correlated parameters are one driver; lots come after the parameters.
#[test]
fn drivers_are_independent_groups() {
    let own = Tolerance::new(Shape::Uniform, 0.05);
    let lot = Tolerance { lot_share: 0.3, ..own.clone() };
    let exact = Tolerance::new(Shape::Uniform, 0.0);
    let tolerances = Tolerances::default()
        .with(LR, Some(own.clone()))
        .with(CR, Some(lot))
        .with(LM, Some(own))
        .with(N, Some(exact));
    let driver = |parameters: &[Parameter], part| Driver {
        properties: parameters.iter().map(|p| Property::from(*p)).collect(),
        part,
    };
    let (whole, of_lot) = (DriverPart::Whole, DriverPart::Lot);
    assert_eq!(
        Driver::all(&tolerances),
        [driver(&[LR], whole), driver(&[CR], whole), driver(&[LM], whole), driver(&[CR], of_lot)]
    );
    let pair = Correlation { between: [LM, LR], coefficient: 0.5, across: None };
    assert_eq!(
        Driver::all(&tolerances.with_correlation(pair)),
        [driver(&[LR, LM], whole), driver(&[CR], whole), driver(&[CR], of_lot)]
    );
}

/// Wishes to stop when a stage begins.
struct StopAt<'a>(&'static str, &'a AtomicBool);

impl Progress for StopAt<'_> {
    fn stage(&mut self, name: &'static str, _: u64) {
        if name == self.0 {
            self.1.store(true, Ordering::SeqCst);
        }
    }

    fn advance(&mut self, _: u64) {}

    fn expect(&mut self, _: u64) {}
}

/// What was found before the user stopped stays, and so does the run.
#[test]
fn an_interrupted_explanation_keeps_the_run() {
    let scenario = scenario(PUMP);
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings(2000), &stop).unwrap();
    let mut progress = StopAt("other assumptions, converters", &stop);
    let (run, explanation) = explained(&session, &mut progress);
    assert!(explanation.interrupted && explanation.what_if.is_none());
    assert!(explanation.drivers.is_some() && !explanation.failure_drivers.is_empty());
    let said = report(&scenario, &run, Some(&explanation)).unwrap();
    let summary = said.summary.value().unwrap();
    assert_eq!(summary["explanation"], "interrupted");
    assert!(summary["partial"].is_null() && summary["joint"].is_object());
    for text in [&said.screen.text(true), said.page()] {
        assert!(text.replace("\n  ", " ").contains("The explanation was interrupted."), "{text}");
    }
    let whole = report(&scenario, &run, None).unwrap();
    assert_eq!(whole.summary.value().unwrap()["explanation"], "left out");
    assert!(!whole.page().contains("What drives it"));
}
