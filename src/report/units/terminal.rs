//! Converters whose parts are known, on the terminal.

use std::fmt::Write as _;

use super::{measured, over_load, part_loads, switching, words};
use crate::converter::Arrangement;
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::missed;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, count, counted, decimals, percent, quantity};
use crate::report::format::terminal::{CAUTION, QUICK_LOOK, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::{Listed, UnitResult, UnitVerdict};

/// Most converters that the terminal lists.
const ROWS: usize = 60;
/// Most converters whose phases it lists.
const IN_FULL: usize = 4;

/// The answer, a row a converter, then the phases of a few.
pub(super) fn text(scenario: &Scenario, method: Method, listed: &Listed) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    if method == Method::Averaged {
        text.push_str(QUICK_LOOK);
    }
    text.push_str(&answer(scenario, listed));
    let _ = writeln!(
        text,
        "{}, {} solver. Sharing error: {}.\n",
        counted(listed.verdicts.len() as u64, "converter"),
        names::method(method).short,
        names::sharing(scenario.limits.sharing)
    );
    text.push_str(&rows(listed));
    text.push_str(&measured::text(listed));
    text.push_str(&over_load::text(listed));
    text.push_str(&in_full(listed));
    text.push_str(&part_loads::text(scenario, listed));
    text.push_str(&switching::text(scenario, listed));
    text.push_str(&configuration::choices(listed.choices.iter()));
    text.push_str(CAUTION);
    folded(&text)
}

/// How many converters meet every limit, and what the others miss.
fn answer(scenario: &Scenario, listed: &Listed) -> String {
    let [chain, paralleled] = words::answer(scenario, listed);
    let mut text = format!("{chain}\n{paralleled}\n");
    for met in listed.limits_met.iter().filter(|met| !met.missed.is_empty()) {
        let _ = writeln!(text, "{}", words::misses_heading(met.arrangement));
        text.push_str(&missed::lines(&words::misses(met)));
    }
    for sentence in words::deviation(listed) {
        let _ = writeln!(text, "{sentence}");
    }
    text
}

/// A row a converter, over all operating points.
fn rows(listed: &Listed) -> String {
    let mut table = table(&[
        "unit",
        "limits",
        "sharing\nerror",
        "switch\nRMS",
        "blocking",
        "paralleled\nlimits",
        "paralleled\nsharing",
    ]);
    let order = listed.worst_first();
    for unit in order.iter().take(ROWS) {
        let [chain, paralleled] = &listed.verdicts[*unit];
        let switches = chain.worst_switches;
        table.add_row([
            listed.of_unit(*unit)[0].name.clone(),
            verdict(chain).into(),
            chain.sharing_error.map_or_else(|| NONE.into(), percent),
            switches.map_or_else(|| NONE.into(), |worst| quantity(worst.rms_current)),
            switches.map_or_else(|| NONE.into(), |worst| quantity(worst.blocking_voltage)),
            verdict(paralleled).into(),
            paralleled.sharing_error.map_or_else(|| NONE.into(), percent),
        ]);
    }
    let mut text = format!(
        "Each converter at its worst operating point, the worst in the chain first\n{}",
        trimmed(&table)
    );
    if order.len() > ROWS {
        let rest = count((order.len() - ROWS) as u64);
        let _ = writeln!(text, "{rest} more are in units.csv and summary.json.");
    }
    text + "\n"
}

/// Whether a converter meets its limits, in a word or two.
fn verdict(verdict: &UnitVerdict) -> &'static str {
    match verdict {
        UnitVerdict { unsolved: 1.., .. } => "unsolved",
        UnitVerdict { meets_limits: true, .. } => "met",
        _ => "missed",
    }
}

/// The phases of a few converters.
fn in_full(listed: &Listed) -> String {
    if listed.verdicts.len() <= IN_FULL {
        return listed.by_unit().map(unit_table).collect();
    }
    let unsolved = listed.results.iter().filter(|result| result.solved.is_none()).count();
    let mut text = "The currents of every phase are in units.csv.\n\n".to_owned();
    if unsolved > 0 {
        let _ = writeln!(
            text,
            "Out of range or not solved: {}; report.html tells why.\n",
            counted(unsolved as u64, "case")
        );
    }
    text
}

fn unit_table(unit: &[UnitResult]) -> String {
    let columns =
        ["operating point", "arrangement", "frequency", "sharing error", "output currents"];
    let mut table = table(&columns);
    for result in unit {
        table.add_row(unit_row(result));
    }
    let mut text = format!("{}\n{}", unit[0].name, trimmed(&table));
    for (result, reason) in unit.iter().filter_map(|r| Some((r, r.outcome.reason?))) {
        let (point, arrangement) = (&result.point.name, result.arrangement.name());
        let _ = writeln!(text, "{point}, {arrangement}: {}: {reason}", result.outcome.status);
    }
    for arrangement in Arrangement::ALL {
        text.push_str(&missed_limits(unit, arrangement));
    }
    text + "\n"
}

/// The limits that a converter misses in an arrangement, a line each.
fn missed_limits(unit: &[UnitResult], arrangement: Arrangement) -> String {
    let results = unit.iter().filter(|r| r.arrangement == arrangement && r.solved.is_some());
    let lines = results.flat_map(|result| {
        let short = names::arrangement(arrangement).short;
        let point = &result.point.name;
        let line = move |m| format!("misses: {point}, {short}: {}", missed::figure_and_limit(m));
        result.missed.iter().map(line)
    });
    missed::lines(&lines.collect::<Vec<_>>())
}

fn unit_row(result: &UnitResult) -> [String; 5] {
    let (frequency, error, currents) = match &result.solved {
        Some(solved) => {
            let currents = solved.phases.iter().map(|phase| decimals(phase.output_current.0, 2));
            let currents: Vec<String> = currents.collect();
            let error = percent(solved.sharing_error);
            (quantity(solved.switching_frequency), error, currents.join(" ") + "\u{a0}A")
        }
        None => (result.outcome.status.to_owned(), NONE.into(), NONE.to_owned()),
    };
    let arrangement = names::arrangement(result.arrangement).short.into();
    [result.point.name.clone(), arrangement, frequency, error, currents]
}
