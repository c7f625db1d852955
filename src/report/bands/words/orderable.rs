//! The set of bands that can be ordered: how its search ended, and what keeps each band from being wider.

use super::limits::limit_and_point;
use super::names::listed;
use super::numbers::step;
use crate::report::format::names;
use crate::report::format::numbers::{counted, yield_interval, yield_percent};
use crate::scenario::ToleranceLetter;
use crate::study::bands::orderable::{OrderEnding, OrderableBand, OrderableSet};
use crate::study::bands::{Bands, StepLimit};

/// What the letters are; none where no band of the set has one.
pub(in crate::report) fn letters(found: &OrderableSet) -> Option<&'static str> {
    let has_letter = |own: &OrderableBand| ToleranceLetter::of_band(own.band).is_some();
    found.bands.iter().any(has_letter).then_some("Letters in brackets: IEC 60062.")
}

/// Why no set of steps is specified; none where one is, or where parts have prices.
pub(in crate::report) fn not_found(bands: &Bands) -> Option<String> {
    let found = bands.orderable.as_ref()?;
    Some(match found.ending {
        OrderEnding::Confirmed => return None,
        OrderEnding::NoStep => format!(
            "No set can be ordered: no step is narrow enough for {}.",
            listed(found.without_step())
        ),
        OrderEnding::NoneMeets if found.rules_out(bands.rule.target) => {
            format!("No set of steps meets the target. {}", nearest(found))
        }
        OrderEnding::NoneMeets => {
            format!("Whether a set of steps meets the target is open. {}", nearest(found))
        }
        OrderEnding::NotConfirmed => {
            format!("Fresh samples confirmed no set of steps. {}", nearest(found))
        }
    })
}

/// The set that comes nearest to the target, with its yield and what it misses most.
fn nearest(found: &OrderableSet) -> String {
    let Some(set) = &found.set else { return String::new() };
    let bands = found.parts.iter().zip(&set.places).map(|(part, place)| {
        format!("{} {}", names::parameter(part.parameter).long, step(part.steps[*place]))
    });
    let bands = bands.collect::<Vec<_>>().join(", ");
    let (good, binding) = found
        .verifications
        .last()
        .map_or((&set.good, &set.trial.binding), |run| (&run.good, &run.binding));
    let missed = binding
        .as_ref()
        .map_or_else(String::new, |binding| format!(" Missed most: {}.", limit_and_point(binding)));
    format!("Nearest: {bands}. Yield {}.{missed}", yield_interval(good))
}

/// A row of the table of the set: what a step more does.
pub(in crate::report) struct NextStep {
    /// The next step; none at the last one.
    pub(in crate::report) band: Option<String>,
    /// The yield seen with it.
    pub(in crate::report) searched_yield: Option<String>,
    /// What keeps the band from it.
    pub(in crate::report) limit: &'static str,
    /// Where, if that is a limit of the scenario.
    pub(in crate::report) operating_point: Option<String>,
}

/// What a step more does to a band.
pub(in crate::report) fn next_step(bands: &Bands, own: &OrderableBand) -> NextStep {
    let wider = own.wider.as_ref();
    let (limit, operating_point) = match bands.step_limit(own) {
        StepLimit::LastStep => ("last step", None),
        StepLimit::WidestAsked => ("[bands] widest", None),
        StepLimit::Samples => ("samples", None),
        StepLimit::NotConfirmed => ("fresh samples", None),
        StepLimit::Limit(None) => ("limits", None),
        StepLimit::Limit(Some(binding)) => {
            (names::limit(&binding.demand).short, Some(binding.operating_point.clone()))
        }
    };
    NextStep {
        band: wider.map(|wider| step(wider.band)),
        searched_yield: wider.map(|wider| yield_percent(wider.good.estimate)),
        limit,
        operating_point,
    }
}

/// What the table of next steps says.
pub(in crate::report) const NEXT_STEPS: &str = "Yield there: seen in the search with this band one step \
     wider and all others as they are.";

/// What is to know about the next steps.
pub(in crate::report) fn remarks(bands: &Bands, found: &OrderableSet) -> Vec<String> {
    let limits = || found.bands.iter().map(|own| bands.step_limit(own));
    let mut remarks = Vec::new();
    if limits().any(|limit| limit == StepLimit::Samples) {
        remarks.push(
            "samples: the yield seen there meets the target, but so few samples do not show it."
                .to_owned(),
        );
    }
    for own in &found.bands {
        if let (Some(samples), Some(wider)) = (bands.samples_for_step(own), &own.wider) {
            remarks.push(format!(
                "{}: about {} a run may show {} (estimate).",
                names::parameter(own.parameter).long,
                counted(samples, "sample"),
                step(wider.band)
            ));
        }
    }
    let is_rounded = |own: &OrderableBand| {
        let present = bands.present.get(own.parameter).map_or(0.0, |present| present.band);
        own.band < present && own.wider.as_ref().is_some_and(|wider| wider.band > present)
    };
    let rounded: Vec<_> =
        found.bands.iter().filter(|own| is_rounded(own)).map(|own| own.parameter).collect();
    if !rounded.is_empty() {
        remarks.push(format!(
            "The present band lies between two steps: {}. If it can be ordered, add it to [bands] steps.",
            listed(rounded)
        ));
    }
    if limits().any(|limit| limit == StepLimit::NotConfirmed) {
        remarks.push("fresh samples: they confirmed no wider set.".to_owned());
    }
    remarks
}

/// How the set was chosen, and how sure it is.
pub(in crate::report) fn method(bands: &Bands) -> Option<&'static str> {
    bands.orderable.as_ref().map(|_| {
        "Bands to order: every band is one of [bands] steps. The search starts from the present bands, \
         rounded down to steps. The band that adds the fewest failing samples grows by a step, until no \
         single band can grow. Fresh samples verify the set."
    })
}
