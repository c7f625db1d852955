//! The phases of the worst converters, on the page.

use maud::{Markup, html};

use crate::report::format::figures;
use crate::report::format::page::parts::{headings, number, unlabelled_table};
use crate::report::format::waveforms::TANKS;
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::study::units::{Listed, SolvedUnit, UnitResult};

/// Most rows of all tables together; one converter is always shown.
const ROWS: usize = 320;

/// As many of the worst converters as fit, phase by phase.
pub(super) fn page(scenario: &Scenario, listed: &Listed) -> Markup {
    let order = listed.worst_first();
    let rows_each = order.first().map_or(1, |unit| listed.of_unit(*unit).len() * scenario.phases);
    let shown = (ROWS / rows_each.max(1)).max(1).min(order.len());
    html! {
        p {
            (TANKS)
            @if shown < order.len() {
                " Shown are the worst " (shown) " of " (numbers::count(order.len() as u64))
                " converters. All are in " code { "units.csv" } "."
            }
        }
        @for (n, unit) in order[..shown].iter().enumerate() { (unit_table(listed.of_unit(*unit), n == 0)) }
    }
}

/// The table of a converter; that of the worst is open.
fn unit_table(unit: &[UnitResult], is_open: bool) -> Markup {
    let names = [
        "operating point",
        "arrangement",
        "sharing error",
        "frequency, kHz",
        "phase",
        "output, A",
        "tank mean |i|, A",
        "tank RMS, A",
        "tank peak, A",
    ];
    let rows = html! {
        @for point in unit.chunk_by(|a, b| a.point.name == b.point.name) {
            @for (n, result) in point.iter().enumerate() {
                @let first = (n == 0).then_some(point);
                @match &result.solved {
                    Some(state) => (solved(first, result, state)),
                    None => tr data-point=(result.point.name) {
                        (names_of(first, result))
                        td colspan="7" {
                            b { (result.outcome.status) } ": " (result.outcome.reason.unwrap_or_default())
                        }
                    },
                }
            }
        }
    };
    let name = &unit[0].name;
    html! {
        details open[is_open] {
            summary { (name) }
            (unlabelled_table(name, &headings(2, &names), &rows))
        }
    }
}

/// Rows that a result takes.
fn height(result: &UnitResult) -> usize {
    result.solved.as_ref().map_or(1, |state| state.phases.len())
}

/// The operating point, once, beside the first of its results, and the arrangement.
fn names_of(first: Option<&[UnitResult]>, result: &UnitResult) -> Markup {
    html! {
        @if let Some(point) = first {
            th scope="rowgroup" rowspan=(point.iter().map(height).sum::<usize>()) {
                (result.point.name)
            }
        }
        th scope="row" class="side" rowspan=(height(result)) {
            (figures::swatch(result.arrangement.name())) " " (names::arrangement(result.arrangement).short)
        }
    }
}

/// A row a phase; what belongs to the whole converter is written once, beside the first.
fn solved(first: Option<&[UnitResult]>, result: &UnitResult, state: &SolvedUnit) -> Markup {
    let whole = |text: String| html! { td class="n" rowspan=(state.phases.len()) { (text) } };
    html! {
        @for (k, phase) in state.phases.iter().enumerate() {
            tr data-point=(result.point.name) {
                @if k == 0 {
                    (names_of(first, result))
                    (whole(numbers::percent(state.sharing_error)))
                    (whole(numbers::kilo(state.switching_frequency.0)))
                }
                (number((k + 1).to_string()))
                (number(numbers::four(phase.output_current.0)))
                (number(numbers::four(phase.mean_abs_current.0)))
                (number(numbers::four(phase.rms_current.0)))
                (number(numbers::four(phase.peak_current.0)))
            }
        }
    }
}
