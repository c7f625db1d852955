//! Converters whose parts are known: what terminal, page, `units.csv` and summary tell of them.
//!
//! They are solved in `study::units`; the parts file is read by `population::parts_file`.

mod csv;
mod json;
mod page;
mod source;
mod switching;
mod terminal;

pub(in crate::report) use self::json::UnitsResults;
pub use self::source::PartsSource;
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::Listed;

/// What `units` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    parts: &PartsSource,
    method: Method,
    listed: &Listed,
) -> anyhow::Result<Report> {
    Ok(Report {
        text: terminal::text(scenario, method, listed),
        summary: json::summary(scenario, parts, method, listed).text()?,
        files: vec![
            ("report.html", page::page(scenario, parts, listed, method)),
            ("units.csv", csv::units(&listed.results, method)?),
        ],
    })
}
