//! `comparison.csv`.

use super::words::letter;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::study::compare::{Comparison, Measured};

/// Columns of `comparison.csv`.
const COMPARISON_COLUMNS: [&str; 10] = [
    "other",
    "quantity",
    "subject",
    "arrangement",
    "first_value",
    "other_value",
    "difference",
    "difference_lower",
    "difference_upper",
    "shown",
];

/// A row a value of the scenario that differs, a row a yield and a row another number of both results, every other
/// result against the first. Values of the scenario are told as they stand in the summary; yields are fractions.
/// `shown` is `yes` or `no`, empty of numbers without an interval.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn comparison(found: &Comparison) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(COMPARISON_COLUMNS)?;
    for (n, compared) in found.others.iter().enumerate() {
        let other = letter(n + 1);
        for own in &compared.basis {
            let [first, second] = [&own.first, &own.other].map(|own| own.as_deref().unwrap_or(""));
            let told = [&other, "scenario", &own.place, "", first, second];
            table.row(told.into_iter().chain([""; 4]).map(CsvCell::text))?;
        }
        for own in &compared.yields {
            let [first, second] = [&own.first, &own.other]
                .map(|own| own.passes.successes as f64 / own.passes.trials as f64);
            table.row([
                CsvCell::text(&other),
                CsvCell::text("yield"),
                CsvCell::text(&own.first.subject),
                CsvCell::text(&own.first.arrangement),
                CsvCell::number(first),
                CsvCell::number(second),
                CsvCell::number(own.difference.estimate),
                CsvCell::number(own.difference.lower),
                CsvCell::number(own.difference.upper),
                CsvCell::text(word(Some(own.is_shown()))),
            ])?;
        }
        for own in &compared.values {
            let change = |first: &Measured, other: &Measured| Some(other.value? - first.value?);
            table.row([
                CsvCell::text(&other),
                CsvCell::text("value"),
                CsvCell::text(&own.first.name),
                CsvCell::text(&own.first.arrangement),
                CsvCell::number(own.first.value),
                CsvCell::number(own.other.value),
                CsvCell::number(change(&own.first, &own.other)),
                CsvCell::number(None),
                CsvCell::number(None),
                CsvCell::text(word(own.is_apart())),
            ])?;
        }
    }
    table.text()
}

fn word(shown: Option<bool>) -> &'static str {
    match shown {
        Some(true) => "yes",
        Some(false) => "no",
        None => "",
    }
}
