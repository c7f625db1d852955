//! `bands`: how wide each tolerance may be. `words` says what terminal, page and summary have in
//! common, `terminal`, `page` and `json` lay it out. What the bands are and what limits them is
//! decided in the study; numbers and names that other verbs share live in `format`.

mod brief;
mod json;
mod page;
mod terminal;
mod words;

pub(in crate::report) use self::json::BandsResults;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::bands::Bands;

/// What `bands` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(scenario: &Scenario, bands: &Bands) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, bands),
        summary: json::summary(scenario, bands).text()?,
        files: vec![("report.html", page::page(scenario, bands))],
    })
}
