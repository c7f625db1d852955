//! The table of what to order on the terminal: that of the chain.

use std::fmt::Write as _;

use super::words::{meaning, remarks, rows};
use crate::converter::Arrangement;
use crate::report::format::part_loads::{self, PartGroup};
use crate::scenario::Scenario;
use crate::study::common::ratings::PopulationRatings;

/// What to order for the chain; nothing where no ratings are known. `file` holds what it leaves out.
pub(in crate::report) fn text(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    file: &str,
) -> String {
    let mut text =
        of_arrangement(scenario, ratings, Arrangement::Chain, "What to order for the chain");
    if !text.is_empty() {
        let _ = writeln!(
            text,
            "The paralleled reference, each operating point, nominal and largest: {file}.\n"
        );
    }
    text
}

/// The table of an arrangement under a heading; nothing where no ratings are known.
pub(in crate::report) fn of_arrangement(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    arrangement: Arrangement,
    heading: &str,
) -> String {
    let rows = rows(scenario, ratings, arrangement, None);
    if rows.is_empty() {
        return String::new();
    }
    let table = part_loads::terminal_table(&[PartGroup { name: None, rows }]);
    let remarks = remarks(scenario, ratings, arrangement);
    let lines = std::iter::once(meaning(scenario)).chain(remarks);
    lines.fold(format!("{heading}\n{table}"), |text, line| text + &line + "\n")
}
