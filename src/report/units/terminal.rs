//! Converters whose parts are known, on the terminal.

use std::fmt::Write as _;

use textwrap::core::display_width;

use super::{losses, measured, over_load, part_loads, switching, words};
use crate::converter::Arrangement;
use crate::report::format::blocks::{Scale, Strip, fitted_apart};
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::missed;
use crate::report::format::names;
use crate::report::format::numbers::{
    NONE, count, counted, decimals, given_percent, percent, plain, quantity,
};
use crate::report::format::screen::{Blocks, NextQuestion, Screen, quick_look};
use crate::report::format::terminal::{left, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::{Listed, UnitResult, UnitVerdict};

/// Most converters that the terminal lists, and that the screenful does.
const ROWS: usize = 60;
const SHOWN: usize = 10;
/// Most converters whose phases it lists.
const IN_FULL: usize = 4;
/// Missed limits of an arrangement in the screenful.
const MISSES: usize = 3;
/// Characters of the scale, of a converter's name, and what it may take of other columns.
const SCALE: u32 = 18;
const LABEL: usize = 20;
const WIDER: usize = 17;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, method: Method, listed: &Listed) -> Screen {
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: quick_look(method).to_owned(),
        answer: answer(scenario, listed, MISSES) + &basis(scenario, method, listed),
        figure: figure(scenario, listed),
        notes: unsolved(listed),
    };
    let next = NextQuestion::verb("run", "how many drawn converters meet every limit?");
    blocks.screen(&tables(scenario, listed), next)
}

fn basis(scenario: &Scenario, method: Method, listed: &Listed) -> String {
    format!(
        "{}, {} solver, {} phases. Sharing error: {}.\n",
        counted(listed.verdicts.len() as u64, "converter"),
        names::method(method).short,
        scenario.phases,
        names::sharing(scenario.limits.sharing)
    )
}

/// All that the screenful has no room for.
fn tables(scenario: &Scenario, listed: &Listed) -> String {
    let is_long = listed.limits_met.iter().any(|met| met.missed.len() > MISSES);
    let mut text =
        if is_long { answer(scenario, listed, usize::MAX) + "\n" } else { String::new() };
    text.push_str(&rows(listed));
    text.push_str(&measured::text(listed));
    text.push_str(&over_load::text(listed));
    text.push_str(&in_full(listed));
    text.push_str(&part_loads::text(scenario, listed));
    text.push_str(&losses::text(listed));
    text.push_str(&switching::text(scenario, listed));
    text + &configuration::choices(listed.choices.iter())
}

/// How many converters meet every limit, and what the others miss.
fn answer(scenario: &Scenario, listed: &Listed, most: usize) -> String {
    let [chain, paralleled] = words::answer(scenario, listed);
    let mut text = format!("{chain}\n{paralleled}\n");
    for met in listed.limits_met.iter().filter(|met| !met.missed.is_empty()) {
        let _ = writeln!(text, "{}", words::misses_heading(met.arrangement));
        text.push_str(&missed::first_lines(&words::misses(met), most));
    }
    let shift = switching::shift_told(scenario, listed);
    let told = over_load::worst(scenario, listed).into_iter().chain(words::deviation(listed));
    for sentence in shift.into_iter().chain(told) {
        let _ = writeln!(text, "{sentence}");
    }
    text
}

/// A row a converter with its sharing error: first that which uses its limits most in the chain.
fn figure(scenario: &Scenario, listed: &Listed) -> String {
    let order = listed.worst_first();
    let errors = listed.verdicts.iter().filter_map(|own| own[0].sharing_error);
    let limit = scenario.limits.sharing_error;
    let scale = Scale::holding(errors.chain(limit).chain([0.0]), SCALE);
    let axis = limit.map_or_else(String::new, |limit| {
        let text = format!("limit {}", plain(&given_percent(limit)));
        Strip::new(scale).label(limit, &text).text()
    });
    let shown = || order.iter().take(SHOWN).map(|unit| UnitRow::new(listed, *unit));
    // Long names take the place of what the tables tell too.
    let is_long = shown().any(|row| display_width(&row.name) > LABEL);
    let loads: &[&str] = if is_long { &[] } else { &["switch\nRMS", "blocking"] };
    let names =
        [&["unit, by use of\nits limits", "chain", "paral."][..], loads, &["sharing", &axis][..]]
            .concat();
    let mut table = table(&names);
    left(&mut table, 2);
    left(&mut table, names.len() - 1);
    let labels: Vec<String> = shown().map(|row| row.name).collect();
    for (row, label) in shown().zip(fitted_apart(&labels, LABEL + WIDER)) {
        let bar = Strip::new(scale).fill('━', [0.0, row.error.unwrap_or(f64::NAN)]);
        let loads = row.loads.into_iter().take(loads.len());
        let first = [label, row.chain, row.paralleled];
        let error = row.error.map_or_else(|| NONE.into(), percent);
        let last = [error, bar.mark('│', limit.unwrap_or(f64::NAN)).text()];
        table.add_row(first.into_iter().chain(loads).chain(last));
    }
    let more = order.len().saturating_sub(SHOWN);
    let more =
        if more > 0 { format!("{} more: --tables.\n", count(more as u64)) } else { String::new() };
    format!(
        "{}First: the highest use of any limit. Each number at its own worst operating point, of the \
         chain.\n{more}",
        trimmed(&table)
    )
}

/// A converter in the figure.
struct UnitRow {
    name: String,
    chain: String,
    paralleled: String,
    /// RMS current and blocking voltage of the worst switches.
    loads: [String; 2],
    error: Option<f64>,
}

impl UnitRow {
    fn new(listed: &Listed, unit: usize) -> Self {
        let [chain, paralleled] = &listed.verdicts[unit];
        let switches = chain.worst_switches;
        Self {
            name: listed.of_unit(unit)[0].name.clone(),
            chain: verdict(chain).to_owned(),
            paralleled: verdict(paralleled).to_owned(),
            loads: [
                switches.map_or_else(|| NONE.into(), |worst| quantity(worst.rms_current)),
                switches.map_or_else(|| NONE.into(), |worst| quantity(worst.blocking_voltage)),
            ],
            error: chain.sharing_error,
        }
    }
}

/// That cases are out of range or not solved; nothing where all are solved.
fn unsolved(listed: &Listed) -> String {
    match listed.results.iter().filter(|result| result.solved.is_none()).count() {
        0 => String::new(),
        cases => format!(
            "Out of range or not solved: {}; report.html tells why.\n",
            counted(cases as u64, "case")
        ),
    }
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
        "Each number at its own worst operating point, the worst converter in the chain first\n{}",
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
    "The currents of every phase are in units.csv.\n\n".to_owned()
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
