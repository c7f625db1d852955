//! Voltage gain over frequency: terminal, page, CSV, summary.

mod csv;
mod curves;
mod json;
mod page;
mod terminal;

use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::gain::Gain;

/// What `gain` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(scenario: &Scenario, gain: &Gain) -> anyhow::Result<Report> {
    Ok(Report {
        text: terminal::text(scenario, gain),
        summary: json::summary(scenario, gain),
        files: vec![
            ("report.html", page::page(scenario, gain)),
            ("gain.csv", csv::gain(scenario, gain)?),
        ],
    })
}
