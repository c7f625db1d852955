//! The main job: what terminal, page and files tell of a run.
//!
//! Samples are drawn, solved and counted in `study::run`; `parquet` writes them as they pass. What
//! other verbs write in the same form lives in `report::format`.

mod batches;
mod brief;
pub mod columns;
mod csv;
mod explanation;
mod figures;
mod json;
mod losses;
mod nominal;
mod over_points;
mod page;
pub mod parquet;
mod ratings;
mod terminal;
mod words;
mod worst_case;

pub(in crate::report) use self::json::RunResults;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::explanation::Explanation;
use crate::study::run::Run;

/// What `run` shows and writes, beside what [`parquet`] has written of the samples.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    run: &Run,
    explanation: Option<&Explanation>,
) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, run, explanation),
        summary: json::summary(scenario, run, explanation).text()?,
        files: vec![
            ("report.html", page::page(scenario, run, explanation)),
            ("worst_converters.csv", csv::worst_converters(scenario, run, explanation)?),
            ("ratings.csv", ratings::csv(scenario, &run.ratings)?),
        ],
    })
}
