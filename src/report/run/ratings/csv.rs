//! `ratings.csv`.

use super::json::RatingEntry;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::scenario::Scenario;
use crate::study::run::Run;

/// Columns of `ratings.csv`.
const COLUMNS: [&str; 9] = [
    "arrangement",
    "part",
    "figure",
    "operating_point",
    "nominal",
    "rating",
    "order",
    "largest",
    "limit",
];

/// The entries of the summary, a row each.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(in crate::report::run) fn ratings(scenario: &Scenario, run: &Run) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(COLUMNS)?;
    for own in RatingEntry::all(scenario, run) {
        table.row([
            CsvCell::text(own.arrangement.name()),
            CsvCell::text(&own.part),
            CsvCell::text(&own.figure),
            CsvCell::text(&own.operating_point),
            CsvCell::number(own.nominal),
            CsvCell::number(own.rating),
            CsvCell::number(own.order),
            CsvCell::number(own.largest),
            CsvCell::number(own.limit),
        ])?;
    }
    table.text()
}
