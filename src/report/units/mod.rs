//! Converters whose parts are known: terminal, page, CSV, summary.

mod csv;
mod json;
mod page;
mod terminal;

use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::Listed;

/// What `units` shows and writes; `parts` is the name of the file that lists them.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    parts: &str,
    method: Method,
    listed: &Listed,
) -> anyhow::Result<Report> {
    Ok(Report {
        text: terminal::text(scenario, listed),
        summary: json::summary(scenario, method, listed),
        files: vec![
            ("report.html", page::page(scenario, parts, listed, method)),
            ("units.csv", csv::units(&listed.results, method)?),
        ],
    })
}
