//! The recommended set of `bands` under other assumptions: against trials of the solver, on terminal, page
//! and in the summary, and what it costs. All data are invented.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::cell::RefCell;
use std::sync::atomic::AtomicBool;

use fairphase::converter::Arrangement;
use fairphase::report::bands::report;
use fairphase::scenario::{Scenario, Tolerances};
use fairphase::solver::Method;
use fairphase::statistics::Verdict;
use fairphase::study::bands::rule::VERIFICATION_FACTOR;
use fairphase::study::bands::{Bands, bands};
use fairphase::study::common::assumption::Assumption;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::{Draws, Settings};
use fairphase::study::common::trials::{ConverterVariant, Solving, Trial, trial};
use fairphase::study::common::what_if::VerdictChange;

use crate::bands::{
    LR, SAMPLES, all_or_half, band, failing, priced_scenario, scenario, shown, study_of,
};

/// Every assumption has the outcome of its own trial on the same fresh samples: of the set that can be
/// ordered, with the tolerances that the assumption makes of it.
#[test]
fn other_assumptions_have_the_yields_of_their_own_trials() {
    let text = include_str!("../../scenarios/runway-lights.toml");
    let (start, end) = (text.find("[bands.price]").unwrap(), text.find("[run]").unwrap());
    let text = format!("{}{}", &text[..start], &text[end..]);
    let scenario = Scenario::parse("r.toml", &text).unwrap();
    let settings = Settings { samples: 700, seed: 3, method: Method::Averaged, threads: 0 };
    let stop = AtomicBool::new(false);
    let found = bands(&scenario, settings, &stop, &mut Silent).unwrap();
    let set = found.proposal().unwrap().tolerances;
    let other = found.other_assumptions.as_ref().unwrap();
    assert!(other.source.is_fresh() && other.source.seed == 3);
    let alternatives = Assumption::alternatives(&set);
    assert_eq!((other.what_if.outcomes.len(), alternatives.len()), (10, 10));
    assert_eq!(other.samples, 2800 / 11, "no more converters than a verification run");
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let good = |tolerances: &Tolerances| {
        let variant =
            ConverterVariant { tolerances: tolerances.clone(), arrangement: Arrangement::Chain };
        trial(
            &session,
            variant,
            Draws { source: other.source, samples: other.samples },
            Solving::ToTheEnd,
        )
        .unwrap()
        .good
    };
    let before = good(&set);
    assert_eq!(other.passing, before);
    for (outcome, (assumption, tolerances)) in other.what_if.outcomes.iter().zip(&alternatives) {
        assert_eq!(outcome.assumption, *assumption);
        let (now, all) = (good(tolerances), other.samples as f64);
        let change = &outcome.change;
        assert!((change.now.estimate - now as f64 / all).abs() < 1e-12, "{assumption:?}");
        let difference = (now as f64 - before as f64) / all;
        assert!((change.difference.estimate - difference).abs() < 1e-12, "{assumption:?}");
        assert!((change.now.confidence.get() - 0.95).abs() < 1e-12);
    }
}

/// Whether a set has another assumption than the scenario: another shape, lot share, mean or correlation.
pub(crate) fn is_changed(scenario: &Scenario, bands: &Tolerances) -> bool {
    let differs = bands.iter().any(|(parameter, own)| {
        let known = scenario.tolerances.get(parameter).unwrap();
        own.shape != known.shape || own.lot_share > known.lot_share || !own.is_symmetric()
    });
    differs || !bands.correlations().is_empty()
}

/// What was found where the set passes as assumed, and so many samples fail with other assumptions.
fn found(scenario: &Scenario, share: f64) -> Bands {
    let evaluate = |bands: &Tolerances, draws: Draws| -> Trial {
        let share = if is_changed(scenario, bands) { share } else { 0.0 };
        if band(bands, LR) > 0.15 { all_or_half(false, draws) } else { failing(share, draws) }
    };
    study_of(scenario, SAMPLES, evaluate).unwrap()
}

/// The same answer on terminal, page and in the summary: nothing changes the verdict, all assumptions do,
/// and the samples do not tell. The first set can be ordered, the second can be bought.
#[test]
fn what_changes_the_verdict_is_told_alike() {
    let list =
        "resonant_inductance = [{ band = \"5 %\", price = 2 }, { band = \"20 %\", price = 1 }]\n";
    for scenario in [scenario(), priced_scenario(list)] {
        for (share, verdict, change, words) in [
            (0.0, Verdict::Pass, "same", "The verdict of the set does not change under any of "),
            (
                0.05,
                Verdict::Fail,
                "changed",
                "The verdict of the set becomes fail if all lot shares are 0.9, or if ",
            ),
            (
                0.0095,
                Verdict::NotDecided,
                "open",
                "The samples are too few to tell whether any of ",
            ),
        ] {
            let bands = found(&scenario, share);
            let what_if = &bands.other_assumptions.as_ref().unwrap().what_if;
            assert_eq!(what_if.verdict, Verdict::Pass);
            assert!(what_if.outcomes.iter().all(|outcome| outcome.verdict == verdict));
            for shown in shown(&scenario, &bands) {
                for words in [words, "The bands to specify under other assumptions"] {
                    assert!(shown.contains(words), "{words} in {shown}");
                }
            }
            let summary = report(&scenario, &bands).unwrap().summary.value().unwrap();
            let entries = summary["what_if"].as_array().unwrap();
            assert_eq!(entries.len(), what_if.outcomes.len());
            assert!(entries.iter().all(|entry| entry["change"] == change), "{entries:?}");
            assert_eq!(entries[0]["assumption"], "lot share");
        }
    }
}

/// Where no other set is recommended, the present bands are tried if they pass. Where they do not, nothing
/// is recommended and nothing tried; nor where the scenario asks for no explanation.
#[test]
fn only_a_recommended_set_is_tried() {
    let own = crate::bands::with_steps(scenario(), &[0.45]);
    let square = |kind: f64| {
        move |bands: &Tolerances, draw| failing(kind * (band(bands, LR) / 0.1).powi(2), draw)
    };
    let narrow = study_of(&own, SAMPLES, |bands, draw| {
        let kind = if draw.source.is_fresh() { 0.0085 } else { 0.0099 };
        square(kind)(bands, draw)
    });
    let narrow = narrow.unwrap();
    assert!(narrow.proposal().is_none() && narrow.other_assumptions.is_some());
    for shown in shown(&own, &narrow) {
        assert!(shown.contains("The present bands under other assumptions"), "{shown}");
    }
    let none = study_of(&own, SAMPLES, |_, draw| failing(0.02, draw)).unwrap();
    assert!(none.recommended().is_none() && none.other_assumptions.is_none());
    for shown in shown(&own, &none) {
        assert!(
            shown.contains("Other assumptions were not tried: no set is recommended."),
            "{shown}"
        );
    }
    let mut silent = scenario();
    silent.run.explain = false;
    let streams = RefCell::new(Vec::new());
    let bands = study_of(&silent, SAMPLES, |bands, draws| {
        assert!(!is_changed(&silent, bands));
        streams.borrow_mut().push(draws.source.stream);
        all_or_half(band(bands, LR) <= 0.1, draws)
    });
    let bands = bands.unwrap();
    assert!(bands.other_assumptions.is_none() && bands.recommended().is_some());
    for shown in shown(&silent, &bands) {
        assert!(!shown.contains("ther assumptions"), "{shown}");
    }
    let summary = report(&silent, &bands).unwrap().summary.value().unwrap();
    assert!(
        summary["what_if"].as_array().unwrap().is_empty() && summary["what_if_draws"].is_null()
    );
}

/// Their samples are used for nothing else, and all sets together draw no more than a verification run.
#[test]
fn other_assumptions_draw_fresh_samples_within_their_bound() {
    let own = scenario();
    let draws_of_sets = RefCell::new(Vec::new());
    let bands = study_of(&own, SAMPLES, |bands, draws| {
        draws_of_sets.borrow_mut().push((is_changed(&own, bands), draws));
        all_or_half(band(bands, LR) <= 0.1, draws)
    });
    let bands = bands.unwrap();
    let other = bands.other_assumptions.unwrap();
    let all = draws_of_sets.take();
    let (theirs, others): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|(_, draws)| draws.source == other.source);
    assert!(others.iter().all(|(is_changed, _)| !is_changed));
    let drawn: u64 = theirs.iter().map(|(_, draws)| draws.samples).sum();
    assert_eq!(theirs.len(), other.what_if.outcomes.len() + 1, "the set as it is, once");
    let most = VERIFICATION_FACTOR * SAMPLES;
    assert!(drawn <= most && drawn > most - theirs.len() as u64, "{drawn}");
    let is_same = |change| change == VerdictChange::Same;
    assert!(other.what_if.outcomes.iter().all(|own| is_same(other.what_if.change(own))));
}
