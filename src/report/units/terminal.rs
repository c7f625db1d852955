//! Listed units on the terminal.

use std::fmt::Write as _;

use crate::report::format::configuration::terminal as configuration;
use crate::report::format::numbers::percent;
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Outcome;
use crate::study::units::{Listed, UnitResult};

/// The results of listed units, a table each.
pub(super) fn text(scenario: &Scenario, listed: &Listed) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    for unit in listed.results.chunk_by(|a, b| a.unit == b.unit) {
        let mut table =
            table(&["operating point", "arrangement", "fs", "sharing error", "output currents"]);
        for result in unit {
            table.add_row(unit_row(result));
        }
        let _ = writeln!(text, "{}\n{}", unit[0].unit, trimmed(&table));
        for (result, reason) in unit.iter().filter_map(|r| Some((r, r.outcome.reason()?))) {
            let (point, arrangement) = (&result.point.name, result.arrangement.name());
            let name = result.outcome.name();
            let _ = writeln!(text, "{point}, {arrangement}: {name}: {reason}");
        }
    }
    text.push_str(&configuration::choices(listed.choices.iter()));
    text.push_str(CAUTION);
    folded(&text)
}

fn unit_row(result: &UnitResult) -> [String; 5] {
    let (frequency, currents) = match &result.outcome {
        Outcome::Solved(state) => {
            let each = state.phases.iter().map(|p| format!("{:.2}", p.output_current.0));
            let currents: Vec<String> = each.collect();
            (state.switching_frequency.to_string(), currents.join(" ") + " A")
        }
        other => (other.name().to_owned(), "-".to_owned()),
    };
    [
        result.point.name.clone(),
        result.arrangement.name().into(),
        frequency,
        result.sharing_error.map_or("-".into(), percent),
        currents,
    ]
}
