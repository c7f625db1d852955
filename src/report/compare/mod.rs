//! Results side by side: what terminal, page, `comparison.csv` and summary tell of them.
//!
//! What differs, and what the samples show of it, is computed in `study::compare`.

mod brief;
mod csv;
mod json;
mod page;
mod terminal;
mod values;
mod words;

pub(in crate::report) use self::json::{CompareBasis, CompareResults};
use crate::report::format::Report;
use crate::study::compare::Comparison;

/// Whether it is known how people read the number at a place of a summary's basis.
#[cfg(test)]
pub(in crate::report) fn is_known_number(place: &str) -> bool {
    values::is_known(place)
}

/// What `compare` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(found: &Comparison) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(found),
        summary: json::summary(found).text()?,
        files: vec![
            ("report.html", page::page(found)),
            ("comparison.csv", csv::comparison(found)?),
        ],
    })
}
