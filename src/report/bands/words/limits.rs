//! What limits a band: a limit of the scenario, the widest band it asks for, or the number of samples.

use crate::report::format::names;
use crate::report::format::numbers::count;
use crate::study::bands::{Bands, LimitedBy, WidestBand};
use crate::study::common::demand::Binding;

/// A limit with its operating point, in a sentence.
pub(in crate::report) fn limit_and_point(binding: &Binding) -> String {
    format!("{} at “{}”", names::limit(&binding.demand).long, binding.operating_point)
}

/// What limits a row, in a cell, and the operating point where it is a limit of the scenario.
pub(in crate::report) struct LimitCells<'a> {
    pub(in crate::report) limit: &'static str,
    pub(in crate::report) operating_point: Option<&'a str>,
}

/// What limits a row, for a table.
pub(in crate::report) fn limit_cells<'a>(
    bands: &Bands,
    row: &'a WidestBand,
) -> Option<LimitCells<'a>> {
    let without_point = |limit| LimitCells { limit, operating_point: None };
    Some(match bands.limited_by(row)? {
        LimitedBy::WidestAsked => without_point("[bands] widest"),
        LimitedBy::Samples => without_point("samples"),
        LimitedBy::Limit(binding) => LimitCells {
            limit: names::limit(&binding.demand).short,
            operating_point: Some(&binding.operating_point),
        },
    })
}

/// What limits a row, as a sentence.
pub(in crate::report) fn limited_by(bands: &Bands, row: &WidestBand) -> Option<String> {
    Some(match bands.limited_by(row)? {
        LimitedBy::WidestAsked => "Limited by: [bands] widest of the scenario.".into(),
        LimitedBy::Samples => "Limited by: the number of samples.".into(),
        LimitedBy::Limit(binding) => format!("Limited by: {}.", limit_and_point(binding)),
    })
}

/// What it means that the number of samples is the limit.
pub(in crate::report) fn few(bands: &Bands) -> String {
    format!(
        "with {} samples one failure fails a run. More samples may show a wider band (--samples).",
        count(bands.settings.samples)
    )
}
