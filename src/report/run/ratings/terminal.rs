//! The table of what to order on the terminal: that of the chain.

use std::fmt::Write as _;

use super::words::{meaning, remarks, rows};
use crate::converter::Arrangement;
use crate::report::format::part_loads::{self, PartGroup};
use crate::scenario::Scenario;
use crate::study::run::Run;

/// What to order for the chain; nothing where no ratings are known.
pub(in crate::report::run) fn text(scenario: &Scenario, run: &Run) -> String {
    let rows = rows(scenario, run, Arrangement::Chain);
    if rows.is_empty() {
        return String::new();
    }
    let table = part_loads::terminal_table(&[PartGroup { name: None, rows }]);
    let mut text = format!("What to order for the chain\n{table}{}\n", meaning(scenario));
    for remark in remarks(scenario, run, Arrangement::Chain) {
        let _ = writeln!(text, "{remark}");
    }
    text.push_str(
        "The paralleled reference, each operating point, nominal and largest: ratings.csv.\n\n",
    );
    text
}
