//! The main job: terminal, page, Parquet, CSV, summary.

mod csv;
mod json;
mod page;
pub mod parquet;
mod terminal;

use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::run::Run;

/// What `run` shows and writes, beside what [`parquet`] has written of the samples.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(scenario: &Scenario, run: &Run) -> anyhow::Result<Report> {
    Ok(Report {
        text: terminal::text(scenario, run),
        summary: json::summary(scenario, run),
        files: vec![
            ("report.html", page::page(scenario, run)),
            ("worst_converters.csv", csv::worst_converters(run)?),
        ],
    })
}
