//! What a reader should know before the numbers.

use super::names::{demand, shared};
use super::numbers::{given, percent_of};
use crate::converter::Arrangement;
use crate::report::format::numbers::grouped;
use crate::scenario::{Scenario, SensorRequest};
use crate::study::common::figures::Figure;
use crate::study::sensors::{NominalMiss, SensorStudy, Unfinished, Variant};

/// A sentence or two each; none for the most part.
pub(in crate::report::sensors) fn warnings(
    scenario: &Scenario,
    request: &SensorRequest,
    study: &SensorStudy,
) -> Vec<String> {
    let mut all: Vec<_> = Arrangement::ALL
        .iter()
        .filter_map(|arrangement| nominal(scenario, study, *arrangement))
        .collect();
    let limited = scenario.limits.sharing.share;
    if request.measured != limited {
        all.push(format!(
            "The sensors measure the {}, the limit speaks of the {}: equal readings leave a \
             sharing error.",
            shared(request.measured),
            shared(limited)
        ));
    }
    all
}

/// Limits that the nominal converter misses already.
fn nominal(scenario: &Scenario, study: &SensorStudy, arrangement: Arrangement) -> Option<String> {
    let own = Variant::ALL.into_iter().filter(|v| v.arrangement() == arrangement);
    let missing: Vec<_> =
        own.filter_map(|v| Some((v.letter(), study.variant(v).nominal_miss.as_ref()?))).collect();
    let NominalMiss { operating_point, demand: missed, value } = missing.first()?.1;
    let letters: Vec<_> = missing.iter().map(|(letter, _)| format!("({letter})")).collect();
    let verb = if letters.len() > 1 { "miss" } else { "misses" };
    let amount = |x: f64| match missed.figure {
        Some(Figure::SharingError(_)) => percent_of(x),
        Some(Figure::WorstBlocking) => format!("{x:.0} V"),
        _ => format!("{x:.2} A"),
    };
    let limits = &scenario.limits;
    let inherited = arrangement == Arrangement::Paralleled && limits.paralleled == limits.chain;
    let why = if inherited {
        " The limits are those of the chain's switches: [limits.paralleled] states others."
    } else {
        ""
    };
    Some(format!(
        "Warning: even with nominal parts {} {verb} a limit: {} {} at “{operating_point}”, {} \
         allowed.{why}",
        letters.join(" and "),
        demand(missed),
        amount(*value),
        amount(missed.limit),
    ))
}

/// What words mean that the text takes for granted.
pub(in crate::report::sensors) fn meaning(scenario: &Scenario) -> String {
    format!(
        "Surely: by the whole {} interval. A failed converter counts as scrapped at its full price.",
        given(scenario.limits.confidence)
    )
}

/// What is missing of a study that was stopped.
pub(in crate::report::sensors) fn unfinished(study: &SensorStudy) -> Option<String> {
    Some(match study.unfinished? {
        Unfinished::Samples => format!(
            "PARTIAL: stopped after {} of {} samples; break-even factors were not searched for.",
            grouped(study.samples),
            grouped(study.settings.samples)
        ),
        Unfinished::Factors => "PARTIAL: stopped before all break-even factors were found.".into(),
    })
}
