//! The main job: what terminal, page and files tell of a run.
//!
//! Samples are drawn, solved and counted in `study::run`; `parquet` writes them as they pass. What
//! other verbs write in the same form lives in `report::format`.

mod csv;
mod json;
mod page;
pub mod parquet;
mod terminal;
mod words;

pub(in crate::report) use self::json::RunResults;
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
        summary: json::summary(scenario, run).text()?,
        files: vec![
            ("report.html", page::page(scenario, run)),
            ("worst_converters.csv", csv::worst_converters(run)?),
        ],
    })
}
