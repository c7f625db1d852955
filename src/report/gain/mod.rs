//! Voltage gain over frequency: what terminal, page, `gain.csv` and summary tell of it.
//!
//! Curves, coverage and the choice of configurations are computed in `study::gain`; how a
//! configuration was chosen is told by `report::format::configuration`.

mod brief;
mod csv;
mod curves;
mod json;
mod page;
mod terminal;
mod words;

pub(in crate::report) use self::json::GainResults;
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
        screen: terminal::screen(scenario, gain),
        summary: json::summary(scenario, gain).text()?,
        files: vec![("report.html", page::page(scenario, gain)), ("gain.csv", csv::gain(gain)?)],
    })
}
