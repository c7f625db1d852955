//! What `sensors` says and writes: terminal, page, summary, and the words that they share.
//!
//! Numbers, names and the page's frame that other verbs use too live in `report::format`; what is
//! computed lives in `study::sensors`.

mod brief;
mod json;
mod page;
mod terminal;
mod words;

pub(in crate::report) use self::json::SensorResults;
use crate::report::format::Report;
use crate::scenario::{Scenario, SensorRequest};
use crate::study::sensors::SensorStudy;

/// What `sensors` shows and writes.
///
/// # Errors
///
/// When a summary cannot be told in JSON: none of ours.
pub fn report(
    scenario: &Scenario,
    request: &SensorRequest,
    study: &SensorStudy,
) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, request, study),
        summary: json::summary(scenario, request, study).text()?,
        files: vec![("report.html", page::page(scenario, request, study))],
    })
}
