//! Measured currents beside the predicted ones, on terminal and page.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use maud::{Markup, html};

use super::words;
use crate::converter::Shared;
use crate::report::format::names;
use crate::report::format::numbers::{self, NONE, count, percent, quantity, signed_percent};
use crate::report::format::page::parts::{headings, number, section, table as page_table};
use crate::report::format::terminal::{table, trimmed};
use crate::study::units::{CurrentComparison, Listed, MeasuredLoad};

/// Most loads that the terminal lists.
const ON_TERMINAL: usize = 8;
/// Most rows of the page's table, and so most currents.
const ON_PAGE: usize = 300;

/// Loads in the order of the files; where they are too many, those that deviate most.
fn shown(listed: &Listed, most: usize) -> Vec<&MeasuredLoad> {
    let mut loads: Vec<&MeasuredLoad> = listed.measured.iter().collect();
    if loads.len() > most {
        let deviation = |load: &MeasuredLoad| {
            let all = load.comparisons().filter_map(|comparison| comparison.relative());
            all.map(f64::abs).fold(0.0, f64::max)
        };
        loads.sort_by(|a, b| deviation(b).total_cmp(&deviation(a)));
        loads.truncate(most);
    }
    loads
}

/// Where the loads are that are not shown.
fn rest(listed: &Listed, shown: usize) -> Option<String> {
    (shown < listed.measured.len()).then(|| {
        format!(
            "Shown are the loads that deviate most, {} of {}. All are in summary.json.",
            count(shown as u64),
            count(listed.measured.len() as u64)
        )
    })
}

/// For the terminal; nothing where nothing was measured.
pub(super) fn text(listed: &Listed) -> String {
    if listed.measured.is_empty() {
        return String::new();
    }
    let mut text = String::from("Measured against predicted\n");
    let loads = shown(listed, ON_TERMINAL);
    for load in &loads {
        let _ = write!(text, "\n{}\n{}", words::load(load), load_table(load));
        if let Some(sharing) = words::sharing(load) {
            let _ = writeln!(text, "{sharing}");
        }
    }
    if let Some(rest) = rest(listed, loads.len()) {
        let _ = writeln!(text, "\n{rest}");
    }
    text + "\n"
}

fn load_table(load: &MeasuredLoad) -> String {
    let Some(_) = load.predicted else {
        let reason = load.outcome.reason.unwrap_or_default();
        return format!("prediction: {}: {reason}\n", load.outcome.status);
    };
    let mut table = table(&["current", "phase", "measured", "predicted", "difference", "of mean"]);
    for comparison in in_columns(load) {
        let [measured, predicted, difference, relative] = cells(&comparison);
        table.add_row([
            words::current(comparison.current).to_owned(),
            (comparison.phase + 1).to_string(),
            measured,
            predicted,
            difference,
            relative,
        ]);
    }
    trimmed(&table)
}

/// All measured currents of a load, current by current.
fn in_columns(load: &MeasuredLoad) -> Vec<CurrentComparison> {
    let phases = 0..load.reading.phases.len();
    let all = Shared::ALL.into_iter().flat_map(|current| {
        phases.clone().filter_map(move |phase| load.comparison(phase, current))
    });
    all.collect()
}

/// Measured, predicted, difference, and the difference of the phases' mean.
fn cells(comparison: &CurrentComparison) -> [String; 4] {
    let none = || NONE.to_owned();
    [
        quantity(comparison.measured),
        comparison.predicted.map_or_else(none, |predicted| quantity(predicted.value)),
        words::difference(comparison).unwrap_or_else(none),
        comparison.relative().map_or_else(none, signed_percent),
    ]
}

/// A section of the page; nothing where nothing was measured.
pub(super) fn page(listed: &Listed) -> Markup {
    if listed.measured.is_empty() {
        return html! {};
    }
    let rows_per_load = listed.measured.iter().map(|load| load.comparisons().count()).max();
    let loads = shown(listed, (ON_PAGE / rows_per_load.unwrap_or(1).max(1)).max(1));
    let names = [
        "converter, load, sharing error",
        "current",
        "phase",
        "measured",
        "predicted",
        "difference",
        "of the phases’ mean",
    ];
    let rows = html! { @for load in &loads { (load_rows(load)) } };
    section(
        "measured",
        "Measured against predicted",
        &html! {
            @for (n, sentence) in words::deviation(listed).iter().enumerate() {
                p class=[(n == 0).then_some("lead")] { (sentence) }
            }
            (page_table("Measured currents beside the prediction for the same parts and load", &headings(2, &names), &rows))
            @if let Some(rest) = rest(listed, loads.len()) { p { (rest) } }
            p class="remark" {
                "Each load is solved at the output power at which it was measured. The last column gives \
                 the difference as a share of the mean predicted current of all phases. The prediction \
                 uses the listed parts as if they were exact: errors of the part values add to those of \
                 the currents."
            }
        },
    )
}

/// The same rows by place among these converters, as many as the table has.
pub(super) fn rows_by_unit(listed: &Listed, units: &[usize]) -> BTreeMap<usize, Vec<[String; 7]>> {
    let mut by_unit: BTreeMap<usize, Vec<[String; 7]>> = BTreeMap::new();
    let mut left = ON_PAGE;
    for (place, unit) in units.iter().enumerate() {
        let loads = listed.measured.iter();
        let own = loads.filter(|load| load.reading.unit == *unit);
        let rows: Vec<[String; 7]> = own.flat_map(told_rows).collect();
        if rows.is_empty() || rows.len() > left {
            continue;
        }
        left -= rows.len();
        by_unit.insert(place, rows);
    }
    by_unit
}

/// A row a measured current: load, current, phase, and what is told of both.
fn told_rows(load: &MeasuredLoad) -> Vec<[String; 7]> {
    let name = format!(
        "{}, {}, {}",
        load.operating_point,
        quantity(load.output_power()),
        names::arrangement(load.arrangement()).short
    );
    let row = |comparison: CurrentComparison| {
        let [measured, predicted, difference, relative] = cells(&comparison);
        let current = words::current(comparison.current).to_owned();
        let phase = (comparison.phase + 1).to_string();
        [name.clone(), current, phase, measured, predicted, difference, relative]
    };
    in_columns(load).into_iter().map(row).collect()
}

fn load_rows(load: &MeasuredLoad) -> Markup {
    let all = in_columns(load);
    let height = all.len();
    html! {
        @for (n, comparison) in all.iter().enumerate() {
            tr {
                @if n == 0 {
                    th scope="rowgroup" class="wraps" rowspan=(height) {
                        (load.unit) br;
                        small {
                            (load.operating_point) ", " (quantity(load.output_power())) ", "
                            (names::arrangement(load.arrangement()).short) br;
                            (sharing(load))
                        }
                    }
                }
                td class="unbroken" { (words::current(comparison.current)) }
                (number((comparison.phase + 1).to_string()))
                @for cell in cells(comparison) { (number(cell)) }
            }
        }
    }
}

/// The sharing errors, or why there is no prediction.
fn sharing(load: &MeasuredLoad) -> Markup {
    html! {
        @match load.sharing {
            Some(sharing) => {
                (percent(sharing.measured)) " measured" br;
                (sharing.predicted.map_or_else(|| NONE.to_owned(), numbers::percent)) " predicted"
            },
            None => {},
        }
        @if let Some(reason) = load.outcome.reason { " " (load.outcome.status) ": " (reason) }
    }
}
