//! The set of bands that can be ordered: how its search ended, and what keeps each band from being wider.

use super::limits::{TOO_CLOSE, limit_and_point};
use super::names::listed;
use super::numbers::{band_of, short_percent, step};
use crate::converter::Parameter;
use crate::report::format::names;
use crate::report::format::numbers::{counted, yield_interval, yield_percent};
use crate::scenario::ToleranceLetter;
use crate::study::bands::orderable::{OrderEnding, OrderableBand, OrderableSet};
use crate::study::bands::{Bands, StepLimit};
use crate::study::common::demand::Binding;

/// What the letters are; none where no band of the set has one.
pub(in crate::report) fn letters(bands: &Bands, found: &OrderableSet) -> Option<&'static str> {
    let has_letter = |own: &OrderableBand| ToleranceLetter::of_band(own.band).is_some();
    let is_plain = |own: &&OrderableBand| !is_unequal(bands, own);
    found.bands.iter().filter(is_plain).any(has_letter).then_some("Letters in brackets: IEC 60062.")
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
            format!("No set of steps meets the target. {}", nearest(bands, found))
        }
        OrderEnding::NoneMeets => {
            format!(
                "Whether a set of steps meets the target is not decided. {}",
                nearest(bands, found)
            )
        }
        OrderEnding::NotConfirmed => {
            format!("Fresh samples confirmed no set of steps. {}", nearest(bands, found))
        }
    })
}

/// The set that comes nearest to the target, with its yield and what it misses most.
fn nearest(bands: &Bands, found: &OrderableSet) -> String {
    let Some(set) = &found.set else { return String::new() };
    let ordered = found.parts.iter().zip(&set.places).map(|(part, place)| {
        let (name, band) = (names::parameter(part.parameter).long, part.steps[*place]);
        format!("{name} {}", ordered(bands, part.parameter, band))
    });
    let ordered = ordered.collect::<Vec<_>>().join(", ");
    let (good, binding) = found
        .verifications
        .last()
        .map_or((&set.good, &set.trial.binding), |run| (&run.good, &run.binding));
    let missed = binding
        .as_ref()
        .map_or_else(String::new, |binding| format!(" Missed most: {}.", limit_and_point(binding)));
    format!("Nearest: {ordered}. Yield {}.{missed}", yield_interval(good))
}

/// The present band of a part, or both of its ends.
pub(in crate::report) fn present(bands: &Bands, parameter: Parameter) -> String {
    bands.present.get(parameter).map_or_else(String::new, band_of)
}

/// A band of a part as it is ordered: both ends, if the present band has unequal ones.
pub(in crate::report) fn ordered(bands: &Bands, parameter: Parameter, band: f64) -> String {
    let own = bands.present.get(parameter).map(|own| own.with_band(band));
    own.as_ref().map_or_else(String::new, step)
}

/// A row of the table of the set: what a step more does.
pub(in crate::report) struct NextStep {
    /// The next step; none at the last one.
    pub(in crate::report) band: Option<String>,
    /// The yield seen with it.
    pub(in crate::report) searched_yield: Option<String>,
    /// Both ends of its interval.
    pub(in crate::report) interval: Option<String>,
    /// What keeps the band from it.
    pub(in crate::report) limit: String,
    /// Where a limit of the scenario is missed most.
    pub(in crate::report) operating_point: Option<String>,
}

/// What a step more does to a band.
pub(in crate::report) fn next_step(bands: &Bands, own: &OrderableBand) -> NextStep {
    let wider = own.wider.as_ref();
    let name = |binding: &Binding| names::limit(&binding.demand).short;
    let (limit, binding) = match bands.step_limit(own) {
        StepLimit::LastStep => ("last step".to_owned(), None),
        StepLimit::WidestAsked => ("[bands] widest".to_owned(), None),
        StepLimit::Samples => ("samples".to_owned(), None),
        StepLimit::NotConfirmed => ("fresh samples".to_owned(), None),
        StepLimit::Limit(binding) => (binding.map_or_else(|| "limits".to_owned(), name), binding),
        StepLimit::NotDecided(binding) => {
            let missed = binding.map_or_else(String::new, |own| format!(" ({})", name(own)));
            (format!("not decided{missed}"), binding)
        }
    };
    NextStep {
        band: wider.map(|wider| ordered(bands, own.parameter, wider.band)),
        searched_yield: wider.map(|wider| yield_percent(wider.good.estimate)),
        interval: wider.map(|wider| {
            format!("{} to {}", yield_percent(wider.good.lower), yield_percent(wider.good.upper))
        }),
        limit,
        operating_point: binding.map(|binding| binding.operating_point.clone()),
    }
}

/// What the table of next steps says.
pub(in crate::report) fn next_steps(bands: &Bands) -> String {
    format!(
        "Yield there: seen in the search with this band one step wider and all others as they are, with \
         its {} interval. A limit of the scenario is named where the whole interval misses the target.",
        short_percent(bands.rule.shared.get())
    )
}

/// What is to know about the next steps.
pub(in crate::report) fn remarks(bands: &Bands, found: &OrderableSet) -> Vec<String> {
    let limits = || found.bands.iter().map(|own| bands.step_limit(own));
    let mut remarks = Vec::new();
    let measured = listed(bands.measured());
    if !measured.is_empty() {
        remarks.push(format!("Measured parts stay as they are: {measured}."));
    }
    if found.bands.iter().any(|own| is_unequal(bands, own)) {
        remarks.push(
            "Unequal bands: the end farther from the nominal value is a step. The other end stays in \
             proportion, or stays where it is if the band does not hold the nominal value."
                .to_owned(),
        );
    }
    if limits().any(|limit| limit == StepLimit::Samples) {
        remarks.push(
            "samples: the yield seen there meets the target, but so few samples do not show it."
                .to_owned(),
        );
    }
    if limits().any(|limit| matches!(limit, StepLimit::NotDecided(_))) {
        remarks.push(
            "not decided: the yield seen there misses the target, but so few samples do not show it. In \
             brackets: the limit missed most there."
                .to_owned(),
        );
    }
    remarks.extend(found.bands.iter().filter_map(|own| samples_needed(bands, own)));
    remarks.extend(no_step(bands, found));
    if limits().any(|limit| limit == StepLimit::NotConfirmed) {
        remarks.push("fresh samples: they confirmed no wider set.".to_owned());
    }
    remarks
}

/// Whether the present band of a part has unequal ends.
pub(in crate::report) fn is_unequal(bands: &Bands, own: &OrderableBand) -> bool {
    bands.present.get(own.parameter).is_some_and(|present| !present.is_symmetric())
}

/// How many samples may decide on the next step of a band; none where they are not what it lacks.
fn samples_needed(bands: &Bands, own: &OrderableBand) -> Option<String> {
    let limit = bands.step_limit(own);
    let wider = own.wider.as_ref().filter(|_| limit.is_open())?;
    let (name, next) =
        (names::parameter(own.parameter).long, ordered(bands, own.parameter, wider.band));
    Some(match bands.samples_for_step(own) {
        None => {
            format!("{name}: {TOO_CLOSE} {next}: the yield seen there is too close to the target.")
        }
        Some(samples) => {
            let verb = if limit == StepLimit::Samples { "show" } else { "decide on" };
            format!(
                "{name}: about {} a run may {verb} {next} (estimate).",
                counted(samples, "sample")
            )
        }
    })
}

/// Present bands that are no step, so that the band to order is narrower, and what to do.
fn no_step(bands: &Bands, found: &OrderableSet) -> Option<String> {
    let is_rounded = |own: &&OrderableBand| {
        let present = bands.present.get(own.parameter).map_or(0.0, |present| present.band);
        // Ends of an unequal band give its half width but for the last digits.
        let [below, above] = [present * (1.0 - 1e-9), present * (1.0 + 1e-9)];
        own.band < below && own.wider.as_ref().is_none_or(|wider| wider.band > above)
    };
    let rounded: Vec<_> = found.bands.iter().filter(is_rounded).collect();
    if rounded.is_empty() {
        return None;
    }
    let unequal = rounded.iter().any(|own| is_unequal(bands, own));
    let what = if unequal { "it, or its farther end," } else { "it" };
    let names = listed(rounded.iter().map(|own| own.parameter));
    Some(format!(
        "The present band is no step: {names}. If it can be ordered, add {what} to [bands] steps."
    ))
}

/// How the set was chosen, and how sure it is.
pub(in crate::report) fn method(bands: &Bands) -> Option<&'static str> {
    bands.orderable.as_ref().map(|_| {
        "Bands to order: every band is one of [bands] steps. The search starts from the present bands, \
         rounded down to steps. The band that adds the fewest failing samples grows by a step, until no \
         single band can grow. Fresh samples verify the set."
    })
}
