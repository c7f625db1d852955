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
    let rows = rows(scenario, ratings, Arrangement::Chain);
    if rows.is_empty() {
        return String::new();
    }
    let table = part_loads::terminal_table(&[PartGroup { name: None, rows }]);
    let mut text = format!("What to order for the chain\n{table}{}\n", meaning(scenario));
    for remark in remarks(scenario, ratings, Arrangement::Chain) {
        let _ = writeln!(text, "{remark}");
    }
    let _ = writeln!(
        text,
        "The paralleled reference, each operating point, nominal and largest: {file}.\n"
    );
    text
}
