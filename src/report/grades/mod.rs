//! What `grades` says and writes: terminal, page, CSV, summary, and the words that they share.
//!
//! Numbers, names and the page's frame that other verbs use too live in `report::format`; what is
//! computed lives in `study::grades` and `study::allocation`.

mod allotted_stock;
mod brief;
mod csv;
mod json;
mod page;
mod subject;
mod terminal;
#[cfg(test)]
mod tests;
mod words;

pub use self::allotted_stock::AllottedStock;
pub(in crate::report) use self::json::{GradesResults, StockResults};
pub use self::words::price_gap;
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
    files.extend(stocked.map(lists).transpose()?.into_iter().flatten());
    Ok(Report {
        screen: terminal::screen(scenario, grades, ranking, stocked),
        summary: json::summary(scenario, grades, ranking, stocked).text()?,
        files,
    })
}

/// What `grades` shows and writes where the stock alone is allotted.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn stock_report(allotted: AllottedStock) -> anyhow::Result<Report> {
    let mut files = vec![("report.html", page::stock_page(allotted))];
    files.extend(lists(allotted.stocked)?);
    Ok(Report {
        screen: terminal::stock_screen(allotted),
        summary: json::stock_summary(allotted).text()?,
        files,
    })
}

/// The lists of converters to build and of those that fail; none where it was interrupted before.
fn lists(stocked: &StockAllocation) -> anyhow::Result<Vec<(&'static str, String)>> {
    let StockAllocation { stock, allocation: Some(found) } = stocked else { return Ok(Vec::new()) };
    Ok(vec![
        ("build_list.csv", csv::build_list(stock, found)?),
        ("not_passing.csv", csv::not_passing(stock, found)?),
    ])
}
