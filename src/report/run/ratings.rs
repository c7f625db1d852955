//! `ratings.csv`.

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::report::format::ratings::json::RatingEntry;
use crate::scenario::Scenario;
use crate::study::common::ratings::PopulationRatings;

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
pub(super) fn csv(scenario: &Scenario, ratings: &PopulationRatings) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(COLUMNS)?;
    for own in RatingEntry::all(scenario, ratings) {
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
