//! Flying capacitors: what terminal, page, `capacitors.csv` and summary tell of them.
//!
//! What one question has to say lives in its folder (`size`, `settling`, `drift`,
//! `start_up`); the files beside it join the parts.

mod brief;
mod drift;
mod json;
mod page;
mod settling;
mod size;
mod start_up;
mod terminal;
mod undelivered;

pub(in crate::report) use self::json::CapacitorsResults;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::capacitors::CapacitorStudy;

/// What `capacitors` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(scenario: &Scenario, study: &CapacitorStudy) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, study),
        summary: json::summary(scenario, study).text()?,
        files: vec![
            ("report.html", page::page(scenario, study)),
            ("capacitors.csv", size::csv::capacitors(&study.size)?),
        ],
    })
}
