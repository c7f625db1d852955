//! The nominal converter: its design table and summary.

mod json;
mod terminal;

pub(in crate::report) use self::json::CheckResults;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::nominal::Baseline;

/// What `check` shows; it writes no files.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    method: Method,
    baselines: &[Baseline],
) -> anyhow::Result<Report> {
    Ok(Report {
        text: terminal::text(scenario, baselines),
        summary: json::summary(scenario, method, baselines).value()?,
        files: Vec::new(),
    })
}
