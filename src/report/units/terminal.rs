//! Converters whose parts are known, on the terminal.

use std::fmt::Write as _;

use super::switching;
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, counted, decimals, percent, quantity};
use crate::report::format::terminal::{CAUTION, QUICK_LOOK, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::{Method, Outcome};
use crate::study::units::{Listed, UnitResult};

/// The results of listed units, a table each.
pub(super) fn text(scenario: &Scenario, method: Method, listed: &Listed) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    if method == Method::Averaged {
        text.push_str(QUICK_LOOK);
    }
    let units = || listed.results.chunk_by(|a, b| a.unit == b.unit);
    let _ = writeln!(
        text,
        "{}, {} solver. Sharing error: {}.\n",
        counted(units().count() as u64, "converter"),
        names::method(method).short,
        names::sharing(scenario.limits.sharing)
    );
    for unit in units() {
        text.push_str(&unit_table(unit));
    }
    text.push_str(&switching::text(scenario, listed));
    text.push_str(&configuration::choices(listed.choices.iter()));
    text.push_str(CAUTION);
    folded(&text)
}

fn unit_table(unit: &[UnitResult]) -> String {
    let columns =
        ["operating point", "arrangement", "frequency", "sharing error", "output currents"];
    let mut table = table(&columns);
    for result in unit {
        table.add_row(unit_row(result));
    }
    let mut text = format!("{}\n{}\n", unit[0].unit, trimmed(&table));
    for (result, reason) in unit.iter().filter_map(|r| Some((r, r.outcome.reason()?))) {
        let (point, arrangement) = (&result.point.name, result.arrangement.name());
        let name = result.outcome.name();
        let _ = writeln!(text, "{point}, {arrangement}: {name}: {reason}");
    }
    text
}

fn unit_row(result: &UnitResult) -> [String; 5] {
    let (frequency, currents) = match &result.outcome {
        Outcome::Solved(state) => {
            let currents = state.phases.iter().map(|phase| decimals(phase.output_current.0, 2));
            let currents: Vec<String> = currents.collect();
            (quantity(state.switching_frequency), currents.join(" ") + "\u{a0}A")
        }
        other => (other.name().to_owned(), NONE.to_owned()),
    };
    [
        result.point.name.clone(),
        names::arrangement(result.arrangement).short.into(),
        frequency,
        result.sharing_error.map_or_else(|| NONE.into(), percent),
        currents,
    ]
}
