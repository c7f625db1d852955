//! The page of listed units.

use maud::{Markup, html};

use super::parts::{headings, number, section, table};
use super::{command, document, prose, words};
use crate::converter::Drive;
use crate::scenario::Scenario;
use crate::solver::{Method, SteadyState};
use crate::study::units::UnitResult;

/// The whole page: every unit with its currents at every operating point, in both arrangements.
pub fn units_page(scenario: &Scenario, parts: &str, results: &[UnitResult], m: Method) -> String {
    let units: Vec<&[UnitResult]> = results.chunk_by(|a, b| a.unit == b.unit).collect();
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("parts", parts.to_owned()),
        ("version", super::generator()),
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
        }))
        (section("basis", "Basis of comparison", &prose::basis(scenario)))
        (section("validity", "Limits of validity", &prose::model(scenario, &drives)))
        (section("cautions", "Cautions", &prose::cautions()))
        (section("reproduce", "Making it again", &html! {
            p { "In a folder that holds both files:" }
            pre { code { (command::units(scenario, parts, m)) } }
        }))
    };
    document(&scenario.title, &fields, &html! { main { (inside) } })
}

fn unit_table(unit: &[UnitResult]) -> Markup {
    let names = [
        "operating point",
        "arrangement",
        "status",
        "frequency, kHz",
        "sharing error",
        "phase",
        "output, A",
        "mean |i|, A",
        "RMS, A",
        "peak, A",
    ];
    let rows = html! {
        @for result in unit {
            @match result.outcome.solved() {
                Some(state) => (solved(result, state)),
                None => tr {
                    (names_of(result, 1))
                    td { (result.outcome.name()) }
                    td colspan="7" { "no steady state: nothing else is known of it" }
                },
            }
        }
    };
    table(&unit[0].unit, &headings(3, &names), &rows)
}

fn names_of(result: &UnitResult, rows: usize) -> Markup {
    html! {
        th scope="rowgroup" rowspan=(rows) { (result.point.name) }
        th scope="rowgroup" rowspan=(rows) { (words::arrangement(result.arrangement)) }
    }
}

/// A row a phase; what belongs to the whole converter stands once, beside the first.
fn solved(result: &UnitResult, state: &SteadyState) -> Markup {
    let rows = state.phases.len();
    let whole = |text: String| html! { td class="number" rowspan=(rows) { (text) } };
    html! {
        @for (k, phase) in state.phases.iter().enumerate() {
            tr {
                @if k == 0 {
                    (names_of(result, rows))
                    td rowspan=(rows) { (result.outcome.name()) }
                    (whole(words::kilo(state.switching_frequency.0)))
                    (whole(result.sharing_error.map_or_else(|| words::NONE.into(), words::percent)))
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
