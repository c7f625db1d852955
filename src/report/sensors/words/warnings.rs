//! What a reader should know before the numbers.

use super::names::letters_of;
use crate::converter::Arrangement;
use crate::report::format::missed;
use crate::report::format::names::{self, PARTIAL};
use crate::report::format::numbers::{count, given_percent, level};
use crate::report::format::switching;
use crate::report::format::tolerance;
use crate::scenario::{Scenario, SensorRequest};
use crate::study::common::figures::Figure;
use crate::study::sensors::{SensorStudy, Unfinished, Variant};

/// Doubts about the scenario, a few sentences each; none for the most part.
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
            "The sensors measure the {}; the limit is on the {}. Equal readings leave a sharing \
             error.",
            names::shared(request.measured).long,
            names::shared(limited).long
        ));
    }
    let shift = study.sharing_shift.as_ref();
    all.extend(shift.map(|own| switching::shift_beside_limit(scenario, own)));
    all.extend(too_few_samples(scenario, study));
    all.extend(tolerance::measured_parts_alone(scenario.tolerances.iter().map(|(_, own)| own)));
    all
}

/// Samples with which no variant can meet the target.
fn too_few_samples(scenario: &Scenario, study: &SensorStudy) -> Option<String> {
    let needed = study
        .fewest_samples
        .map_or_else(String::new, |fewest| format!(": at least {} are needed", count(fewest)));
    study.cannot_pass().then(|| {
        format!(
            "Warning: {} samples cannot show {}, even if all pass{needed}.",
            count(study.samples),
            given_percent(scenario.limits.yield_target)
        )
    })
}

/// Limits that the nominal converter misses already.
fn nominal(scenario: &Scenario, study: &SensorStudy, arrangement: Arrangement) -> Option<String> {
    let variants = Variant::ALL.into_iter().filter(|v| v.arrangement() == arrangement);
    let missing: Vec<Variant> =
        variants.filter(|v| study.variant(*v).nominal_miss.is_some()).collect();
    let miss = study.variant(*missing.first()?).nominal_miss.as_ref()?;
    let verb = if missing.len() > 1 { "miss" } else { "misses" };
    let limits = &scenario.limits;
    let is_of_switches =
        !matches!(miss.missed.demand.figure, Some(Figure::SharingError(_) | Figure::Rating(_)));
    let is_inherited = arrangement == Arrangement::Paralleled && limits.paralleled == limits.chain;
    let advice = if is_inherited && is_of_switches {
        " These limits are those of the chain’s switches; [limits.paralleled] sets others."
    } else {
        ""
    };
    Some(format!(
        "Warning: {} {verb} a limit with nominal parts: {}, at “{}”.{advice}",
        letters_of(missing.into_iter()),
        missed::figure_and_limit(&miss.missed),
        miss.operating_point,
    ))
}

/// What the text takes for granted, and how sure it is.
pub(in crate::report::sensors) fn method(scenario: &Scenario, study: &SensorStudy) -> String {
    let confidence = given_percent(scenario.limits.confidence);
    format!(
        "A variant meets the target when the whole {} interval of its yield lies above. The four \
         such intervals hold together at {confidence} confidence, and with them all verdicts and the \
         lowest cost. A yield in the text has the {confidence} interval of that variant alone. Each \
         break-even is a {confidence} interval by itself. All of this holds for one study, not for \
         the best of several. Each study is a chance to be wrong: the errors of several add. A failed \
         converter is scrapped at its full price.",
        level(study.joint_level())
    )
}

/// What is missing of a study that was stopped.
pub(in crate::report::sensors) fn unfinished(study: &SensorStudy) -> Option<String> {
    Some(match study.unfinished? {
        Unfinished::Samples => format!(
            "{PARTIAL} {} of {} samples were done. No break-even factors were searched for.",
            count(study.samples),
            count(study.settings.samples)
        ),
        Unfinished::Factors => format!("{PARTIAL} Not all break-even factors were found."),
    })
}
