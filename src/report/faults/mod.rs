//! One failed part: what terminal, page, `faults.csv` and summary tell of it.
//!
//! What becomes of the converter is computed in `study::faults`.

mod csv;
mod findings;
mod json;
mod page;
mod terminal;
mod words;

pub(in crate::report) use self::json::FaultsResults;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::faults::FaultStudy;

/// What `faults` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(scenario: &Scenario, study: &FaultStudy) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, study),
        summary: json::summary(scenario, study).text()?,
        files: vec![
            ("report.html", page::page(scenario, study)),
            ("faults.csv", csv::faults(study)?),
        ],
    })
}
