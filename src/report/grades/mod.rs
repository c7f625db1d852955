//! What `grades` says and writes: terminal, page, CSV, summary, and the words that they share.
//!
//! Numbers, names and the page's frame that other verbs use too live in `report::format`; what is
//! computed lives in `study::grades` and `study::allocation`.

mod csv;
mod json;
mod page;
mod terminal;
#[cfg(test)]
mod tests;
mod words;

pub(in crate::report) use self::json::GradesResults;
use crate::report::format::Report;
use crate::scenario::{Grades, Scenario};
use crate::study::allocation::StockAllocation;
use crate::study::grades::Ranking;

/// What `grades` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> anyhow::Result<Report> {
    let mut files = vec![
        ("report.html", page::page(scenario, grades, ranking, stocked)),
        ("grades.csv", csv::grades(grades, ranking, scenario.limits.yield_target)?),
    ];
    if let Some(StockAllocation { stock, allocation: Some(found) }) = stocked {
        files.push(("build_list.csv", csv::build_list(stock, found)?));
    }
    Ok(Report {
        text: terminal::text(scenario, grades, ranking, stocked),
        summary: json::summary(scenario, grades, ranking, stocked).text()?,
        files,
    })
}
