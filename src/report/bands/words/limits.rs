//! What limits a band: a limit of the scenario, the widest band it asks for, or the number of samples.

use super::names::varied;
use super::numbers::width;
use crate::report::format::names;
use crate::report::format::numbers::{count, counted};
use crate::study::bands::{Bands, LimitedBy, MoreSamples, WidestBand};
use crate::study::common::demand::Binding;

/// Where no number of samples can be told; what they would not decide on follows.
pub(in crate::report) const TOO_CLOSE: &str = "ten million samples a run would not decide on";

/// A limit with its operating point, in a sentence.
pub(in crate::report) fn limit_and_point(binding: &Binding) -> String {
    format!("{} at “{}”", names::limit(&binding.demand).long, binding.operating_point)
}

/// What limits a row, in a cell, and the operating point where it is a limit of the scenario.
pub(in crate::report) struct LimitCells<'a> {
    pub(in crate::report) limit: String,
    pub(in crate::report) operating_point: Option<&'a str>,
}

/// What limits a row, for a table.
pub(in crate::report) fn limit_cells<'a>(
    bands: &Bands,
    row: &'a WidestBand,
) -> Option<LimitCells<'a>> {
    let then = || bands.more_samples(row).and_then(|more| more.binding);
    let (prefix, binding) = match bands.limited_by(row)? {
        LimitedBy::WidestAsked => ("[bands] widest", None),
        LimitedBy::Samples => ("samples", then()),
        LimitedBy::Limit(binding) => ("", Some(binding)),
    };
    let limit = binding.map(|binding| names::limit(&binding.demand).short);
    let words = [Some(prefix).filter(|prefix| !prefix.is_empty()), limit.as_deref()];
    Some(LimitCells {
        limit: words.into_iter().flatten().collect::<Vec<_>>().join(", then "),
        operating_point: binding.map(|binding| binding.operating_point.as_str()),
    })
}

/// Where the yield seen falls below the target, for a table.
pub(in crate::report) fn estimate(bands: &Bands, row: &WidestBand) -> Option<String> {
    let more = bands.more_samples(row)?;
    let least = if more.is_open_ended { "≥" } else { "≈" };
    Some(format!("{least}\u{a0}{}", width(row, more.limit_at)))
}

/// What that column says.
pub(in crate::report) const ESTIMATE: &str = "Estimate: where the yield seen in the search falls below \
     the target. More samples may show a band up to there.";

/// What limits a row, as a sentence.
pub(in crate::report) fn limited_by(bands: &Bands, row: &WidestBand) -> Option<String> {
    Some(match bands.limited_by(row)? {
        LimitedBy::WidestAsked => "Limited by: [bands] widest of the scenario.".into(),
        LimitedBy::Samples => {
            let more = bands
                .more_samples(row)
                .map_or_else(String::new, |more| format!(" {}", with_more_samples(row, &more)));
            format!("Limited by: the number of samples.{more}")
        }
        LimitedBy::Limit(binding) => {
            let more = bands.more_samples(row).map_or_else(String::new, |more| {
                let or_more = if more.is_open_ended { " or more" } else { "" };
                let at = width(row, more.limit_at);
                format!(" More samples may show {at}{or_more} (estimate).")
            });
            format!("Limited by: {}.{more}", limit_and_point(binding))
        }
    })
}

/// What more samples may show, and what limits the band then.
fn with_more_samples(row: &WidestBand, more: &MoreSamples) -> String {
    let shown_at = width(row, more.shown_at);
    let shown = match more.samples {
        Some(samples) => {
            format!("About {} a run may show {shown_at} (estimate). ", counted(samples, "sample"))
        }
        None => format!(
            "No number of samples is told: {TOO_CLOSE} {shown_at}, where the yield is too close to the \
             target. "
        ),
    };
    let at = width(row, more.limit_at);
    let then = more.binding.map(limit_and_point).filter(|_| !more.is_open_ended);
    then.map_or_else(
        || format!("{shown}No limit of the scenario was seen up to {at}."),
        |limit| format!("{shown}Then the limit is {limit} (≈\u{a0}{at})."),
    )
}

/// What it means that the number of samples is the limit.
pub(in crate::report) fn few(bands: &Bands) -> String {
    let why = if bands.one_failure_fails() {
        format!("with {} samples one failure fails a run.", count(bands.settings.samples))
    } else {
        "the yield seen meets the target beyond the widest band, but so few samples do not show it."
            .to_owned()
    };
    format!("samples: {why} More samples may show a wider band (--samples).")
}

/// How many samples a row needs to become wider, where their number limits it.
pub(in crate::report) fn samples_needed(bands: &Bands, row: &WidestBand) -> Option<String> {
    bands.limited_by(row).filter(|limit| *limit == LimitedBy::Samples)?;
    let more = bands.more_samples(row)?;
    let (name, at) = (varied(row.subject), width(row, more.shown_at));
    Some(match more.samples {
        Some(samples) => {
            let samples = counted(samples, "sample");
            format!("{name}: about {samples} a run may show {at} (estimate).")
        }
        None => format!("{name}: {TOO_CLOSE} {at}: the yield there is too close to the target."),
    })
}
