//! The nominal converter: its design table on the terminal and its summary. It has no page.
//!
//! What is computed lives in `study::check`; how a configuration was chosen is told by
//! `report::format::configuration`.

mod json;
mod losses;
mod part_loads;
mod switching;
mod terminal;

pub(in crate::report) use self::json::CheckResults;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::check::Check;

/// What `check` shows; it writes no files.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(scenario: &Scenario, check: &Check) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, check),
        summary: json::summary(scenario, check).text()?,
        files: Vec::new(),
    })
}
