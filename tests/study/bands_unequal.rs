//! Bands of unequal ends, bands beside the nominal value, and measured parts: what `bands` tries, says
//! and writes. All data are invented.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::cell::RefCell;

use fairphase::converter::Parameter;
use fairphase::report::bands::report;
use fairphase::scenario::{BandSettings, MeasuredParts, Scenario, Shape, Tolerance, Tolerances};
use fairphase::study::bands::orderable::OrderEnding;
use fairphase::study::bands::{BandsError, ProposalSource, Subject};

use crate::bands::{
    LR, SAMPLES, all_or_half, band, failing, scenario, shown, study_of, with_steps,
};

const CR: Parameter = Parameter::ResonantCapacitance;
const LM: Parameter = Parameter::MagnetisingInductance;

/// The three parts with bands of these ends, uniform.
fn with_ends(ends: [[f64; 2]; 3]) -> Scenario {
    let own = |[low, high]: [f64; 2]| Tolerance {
        middle: 0.5 * (low + high),
        ..Tolerance::new(Shape::Uniform, 0.5 * (high - low))
    };
    let parts = [LR, CR, LM].into_iter().zip(ends);
    let tolerances =
        parts.fold(Tolerances::default(), |all, (p, ends)| all.with(p, Some(own(ends))));
    Scenario { tolerances, ..scenario() }
}

fn measured(deviations: [f64; 2]) -> Tolerance {
    let parts = MeasuredParts {
        file: "cores.csv".into(),
        column: "L_H".into(),
        read_as: None,
        values: deviations.into(),
    };
    Tolerance::new(Shape::Measured(parts.into()), 0.04)
}

/// One band holds the nominal value, one lies above it, one below it. Of all sets that a whole study tries,
/// without other assumptions, no wider band lacks a part of the present one, and no narrower one has a part
/// that the present one lacks.
#[test]
fn wider_bands_hold_the_present_ones_in_a_whole_study() {
    let mut scenario = with_ends([[0.02, 0.08], [-0.03, 0.08], [-0.3, -0.1]]);
    scenario.run.explain = false;
    let tried = RefCell::new(Vec::new());
    let bands = study_of(&scenario, SAMPLES, |bands, draws| {
        tried.borrow_mut().push(bands.clone());
        all_or_half(band(bands, LR) <= 0.05, draws)
    });
    bands.unwrap();
    let mut counts = [0, 0];
    for tolerances in tried.take() {
        for (parameter, own) in tolerances.iter() {
            let present = scenario.tolerances.get(parameter).unwrap();
            let is_wider = own.band > present.band;
            let [inner, outer] = if is_wider { [present, own] } else { [own, present] };
            let ([low, high], [from, to]) = (inner.ends(), outer.ends());
            let holds = from <= low + 1e-12 && high <= to + 1e-12;
            assert!(holds, "{parameter:?}: {:?} and {:?}", own.ends(), present.ends());
            counts[usize::from(is_wider)] += 1;
        }
    }
    assert!(counts.iter().all(|n| *n > 100), "{counts:?}");
}

/// Where all bands are unequal there is a set of steps all the same. By hand, with steps of 5 %, 10 %, 20 %
/// and 50 %: from −3 % to +8 % the farther end goes to +5 %, +10 %, +20 %, the other one to three eighths
/// of that; from +2 % to +8 % the end at +2 % stays; −4 % to 0 % ends at 0 % whatever the step.
#[test]
fn unequal_bands_have_steps() {
    let scenario =
        with_steps(with_ends([[-0.03, 0.08], [0.02, 0.08], [-0.04, 0.0]]), &[0.05, 0.1, 0.2]);
    // Lr may reach +10 %, Cr +5 %, Lm −20 %.
    let reach = |bands: &Tolerances, p| bands.get(p).unwrap().reach();
    let bands = study_of(&scenario, SAMPLES, |bands, draws| {
        all_or_half(reach(bands, LR) < 0.11 && reach(bands, CR) < 0.081, draws)
    });
    let bands = bands.unwrap();
    let found = bands.orderable.as_ref().unwrap();
    assert_eq!(found.ending, OrderEnding::Confirmed);
    let proposal = bands.proposal().unwrap();
    assert_eq!(proposal.source, ProposalSource::Steps);
    for (parameter, ends) in [(LR, [-0.0375, 0.1]), (CR, [0.02, 0.05]), (LM, [-0.2, 0.0])] {
        let own = proposal.tolerances.get(parameter).unwrap().ends();
        assert!(own.iter().zip(ends).all(|(a, b)| (a - b).abs() < 1e-12), "{own:?} {ends:?}");
    }
    for shown in shown(&scenario, &bands) {
        for words in ["−3.75 % to +10 %", "+2 % to +5 %", "−20 % to 0 %"] {
            assert!(shown.contains(words), "{words} in {shown}");
        }
        let words = "Unequal bands: the end farther from the nominal value is a step.";
        assert!(shown.contains(words) && !shown.contains("Letters in brackets"), "{shown}");
        assert!(shown.contains("The present band is no step: resonant capacitance."), "{shown}");
        assert!(shown.contains("Unequal bands are told by their half widths here."), "{shown}");
    }
    let summary = report(&scenario, &bands).unwrap().summary.value().unwrap();
    let ordered = &summary["orderable"]["bands"][0];
    assert!((ordered["lower"].as_f64().unwrap() + 0.0375).abs() < 1e-12, "{ordered}");
    assert!((ordered["next_step"]["upper"].as_f64().unwrap() - 0.2).abs() < 1e-12, "{ordered}");
    assert!(ordered["letter"].is_null(), "{ordered}");
}

/// A step no farther than the end that stays is none.
#[test]
fn a_band_beside_the_nominal_value_skips_steps_that_it_cannot_end_at() {
    let ends = [[0.06, 0.08], [-0.05, 0.05], [-0.05, 0.05]];
    let scenario = with_steps(with_ends(ends), &[0.05, 0.06, 0.07, 0.1]);
    let bands = study_of(&scenario, SAMPLES, |_, draws| all_or_half(true, draws)).unwrap();
    let found = bands.orderable.unwrap();
    assert_eq!(found.parts[0].steps.len(), 2, "{:?}", found.parts[0]);
    assert!((found.bands[0].band - 0.02).abs() < 1e-12 && !found.bands[0].is_cut);
}

/// No row, no comparison, no map and no step is about measured parts: nobody can order them otherwise. They
/// are never tried otherwise either, but under other assumptions.
#[test]
fn measured_parts_are_never_varied() {
    let mut scenario = scenario();
    scenario.tolerances = scenario.tolerances.with(LM, Some(measured([-0.01, 0.01])));
    scenario.bands = BandSettings { trade: Some([LR, LM]), ..BandSettings::default() };
    scenario.run.explain = false;
    let own = scenario.tolerances.get(LM).cloned();
    let bands = study_of(&scenario, SAMPLES, |bands, draws| {
        assert_eq!(bands.get(LM), own.as_ref());
        failing(0.005 * (band(bands, LR) / 0.1).powi(2), draws)
    });
    let bands = bands.unwrap();
    for part in &bands.parts {
        let subjects: Vec<Subject> = part.rows.iter().map(|row| row.subject).collect();
        assert_eq!(subjects, [Subject::Together, Subject::Alone(LR), Subject::Alone(CR)]);
        let compared = part.comparison.as_ref().unwrap();
        assert!(compared.others.iter().all(|other| other.parameter != Some(LM)));
    }
    assert_eq!(bands.map.as_ref().unwrap().pair, [LR, CR]);
    assert!(!bands.orderable.as_ref().unwrap().has_steps(LM));
    for shown in shown(&scenario, &bands) {
        let words = "Measured parts cannot be ordered with another band: magnetising inductance.";
        assert!(shown.contains(words), "{shown}");
    }
    let summary = report(&scenario, &bands).unwrap().summary.value().unwrap();
    assert_eq!(summary["measured_parts"], serde_json::json!(["magnetising_inductance"]));
}

/// Measured parts stay where all others are exact, and the words say so.
#[test]
fn exact_parts_are_told_from_measured_ones() {
    let mut scenario = scenario();
    scenario.tolerances = scenario.tolerances.with(LM, Some(measured([-0.01, 0.01])));
    let bands = study_of(&scenario, SAMPLES, |_, draws| all_or_half(false, draws)).unwrap();
    for shown in shown(&scenario, &bands) {
        let words = "Even exact parts beside the measured ones miss the target";
        assert!(shown.contains(words), "{shown}");
    }
}

/// With measured parts alone there is nothing to search.
#[test]
fn measured_parts_alone_are_refused() {
    let mut scenario = scenario();
    scenario.tolerances = Tolerances::default().with(LM, Some(measured([-0.01, 0.01])));
    let refused = study_of(&scenario, SAMPLES, |_, draws| all_or_half(true, draws)).unwrap_err();
    assert!(matches!(refused, BandsError::AllMeasured), "{refused}");
    assert!(refused.to_string().contains("measured parts have no band to search"), "{refused}");
}
