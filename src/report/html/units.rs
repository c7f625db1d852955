//! The page of listed units.

use maud::{Markup, html};

use super::parts::{headings, number, section, table};
use super::{choice, command, document, prose, words};
use crate::converter::Drive;
use crate::report::svg;
use crate::scenario::Scenario;
use crate::solver::{Method, SteadyState};
use crate::study::units::{Listed, UnitResult};

/// The whole page: every unit with its currents at every operating point, in both arrangements.
pub fn units_page(scenario: &Scenario, parts: &str, listed: &Listed, m: Method) -> String {
    let results = &listed.results;
    let units: Vec<&[UnitResult]> = results.chunk_by(|a, b| a.unit == b.unit).collect();
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("parts", parts.to_owned()),
        ("version", super::generator()),
        ("phases", scenario.phases.to_string()),
        ("units", words::count(units.len() as u64)),
        ("solver", words::method(m).to_owned()),
    ];
    let drives: Vec<Drive> = results.iter().map(|r| r.point.drive).collect();
    let inside = html! {
        (section("units", "Listed units", &html! {
            p {
                "Every unit’s parts are known. The sharing error is the "
                (words::sharing(scenario.limits.sharing)) ". Currents are those of the original \
                 tanks, in both arrangements."
            }
            @for unit in &units { (unit_table(unit)) }
            (choice::choices(listed.choices.iter()))
        }))
        (section("basis", "Basis of comparison", &prose::basis(scenario)))
        (section("validity", "Limits of validity", &prose::model(scenario, &drives)))
        (section("cautions", "Cautions", &prose::cautions()))
        (section("reproduce", "Making it again", &html! {
            p { "In a folder that holds both files:" }
            pre { code { (command::units(scenario, parts, m)) } }
        }))
    };
    document(super::SHARING, &scenario.title, &fields, &html! { main { (inside) } })
}

fn unit_table(unit: &[UnitResult]) -> Markup {
    let names = [
        "operating point",
        "arrangement",
        "sharing error",
        "frequency, kHz",
        "phase",
        "output, A",
        "mean |i|, A",
        "RMS, A",
        "peak, A",
    ];
    let rows = html! {
        @for point in unit.chunk_by(|a, b| a.point.name == b.point.name) {
            @for (n, result) in point.iter().enumerate() {
                @let first = (n == 0).then_some(point);
                @match result.outcome.solved() {
                    Some(state) => (solved(first, result, state)),
                    None => tr {
                        (names_of(first, result))
                        td colspan="7" {
                            b { (result.outcome.name()) } ": " (result.outcome.reason().unwrap_or_default())
                        }
                    },
                }
            }
        }
    };
    table(&unit[0].unit, &headings(2, &names), &rows)
}

/// Rows that a result takes.
fn height(result: &UnitResult) -> usize {
    result.outcome.solved().map_or(1, |state| state.phases.len())
}

/// The operating point, once, beside the first of its results, and the arrangement.
fn names_of(first: Option<&[UnitResult]>, result: &UnitResult) -> Markup {
    html! {
        @if let Some(point) = first {
            th scope="rowgroup" rowspan=(point.iter().map(height).sum::<usize>()) {
                (result.point.name)
            }
        }
        th scope="row" class="arrangement" rowspan=(height(result)) {
            (svg::swatch(result.arrangement.name())) " " (words::arrangement(result.arrangement))
        }
    }
}

/// A row a phase; what belongs to the whole converter stands once, beside the first.
fn solved(first: Option<&[UnitResult]>, result: &UnitResult, state: &SteadyState) -> Markup {
    let whole = |text: String| html! { td class="number" rowspan=(state.phases.len()) { (text) } };
    html! {
        @for (k, phase) in state.phases.iter().enumerate() {
            tr {
                @if k == 0 {
                    (names_of(first, result))
                    (whole(result.sharing_error.map_or_else(|| words::NONE.into(), words::percent)))
                    (whole(words::kilo(state.switching_frequency.0)))
                }
                (number((k + 1).to_string()))
                (number(words::four(phase.output_current.0)))
                (number(words::four(phase.mean_abs_current.0)))
                (number(words::four(phase.rms_current.0)))
                (number(words::four(phase.peak_current.0)))
            }
        }
    }
}
