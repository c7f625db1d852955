//! The page of listed units.

use maud::{Markup, html};

use super::source::PartsSource;
use super::switching;
use crate::converter::Drive;
use crate::report::format::command;
use crate::report::format::configuration::page as choice;
use crate::report::format::figures;
use crate::report::format::page::parts::{headings, number, section, table};
use crate::report::format::page::prose::{self, read_as};
use crate::report::format::page::{SHARING, document, generator};
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::solver::{Method, SteadyState};
use crate::study::units::{Listed, UnitResult};

/// The whole page: every unit with its currents at every operating point, in both arrangements.
pub(super) fn page(scenario: &Scenario, parts: &PartsSource, listed: &Listed, m: Method) -> String {
    let results = &listed.results;
    let units: Vec<&[UnitResult]> = results.chunk_by(|a, b| a.unit == b.unit).collect();
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("parts", parts.name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("units", numbers::count(units.len() as u64)),
        ("solver", names::method(m).long.to_owned()),
    ];
    let drives: Vec<Drive> = results.iter().map(|r| r.point.drive).collect();
    let inside = html! {
        (section("units", "Converters of the parts file", &html! {
            p {
                "Sharing error: " (names::sharing(scenario.limits.sharing)) ". Currents are those of \
                 the original tanks, in both arrangements."
            }
            (read_as(&parts.name, parts.read_as.as_deref()))
            @for unit in &units { (unit_table(unit)) }
            (choice::choices(listed.choices.iter()))
        }))
        (switching::page(scenario, listed))
        (section("basis", "Basis of comparison", &prose::basis(scenario)))
        (section("validity", "Limits of validity", &prose::model(scenario, &drives)))
        (section("cautions", "Cautions", &prose::cautions()))
        (section("reproduce", "Making it again", &html! {
            p { "In a folder that holds both files:" }
            pre { code { (command::units(scenario, &parts.name, m)) } }
        }))
    };
    document(SHARING, &scenario.title, &fields, &html! { main { (inside) } })
}

fn unit_table(unit: &[UnitResult]) -> Markup {
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
            (figures::swatch(result.arrangement.name())) " " (names::arrangement(result.arrangement).short)
        }
    }
}

/// A row a phase; what belongs to the whole converter is written once, beside the first.
fn solved(first: Option<&[UnitResult]>, result: &UnitResult, state: &SteadyState) -> Markup {
    let whole = |text: String| html! { td class="number" rowspan=(state.phases.len()) { (text) } };
    html! {
        @for (k, phase) in state.phases.iter().enumerate() {
            tr {
                @if k == 0 {
                    (names_of(first, result))
                    (whole(result.sharing_error.map_or_else(|| numbers::NONE.into(), numbers::percent)))
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

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicBool;

    use super::*;

    /// Invented converters.
    const SHELF: &str = include_str!("../../../scenarios/telecom-shelf.toml");

    /// A unit with a hostile name and one that cannot deliver: what is not solved is shown too.
    #[test]
    fn listed_units_are_all_shown_and_their_names_escaped() {
        use crate::engine::EngineError;
        use crate::population::parts_file::Unit;
        use crate::study::common::error::StudyError;
        use crate::study::units::units;

        let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
        let good = scenario.nominal_converter();
        let mut bad = good.clone();
        for tank in &mut bad.tanks {
            tank.turns_ratio *= 10.0;
        }
        let listed = [
            Unit { name: "<script>alert(1)</script>".into(), converter: good },
            Unit { name: "ten times the turns".into(), converter: bad },
        ];
        let stop = AtomicBool::new(false);
        let results = units(&scenario, &listed, Method::Exact, 1, &stop).unwrap();
        let parts = PartsSource { name: "my parts.csv".into(), read_as: None };
        let page = page(&scenario, &parts, &results, Method::Exact);
        assert!(!page.contains("<script") && page.contains("&lt;script&gt;"));
        assert_eq!(page.matches(">out of range</b>").count(), 8, "four points, both arrangements");
        assert!(page.contains("fairphase units shelf.toml --parts 'my parts.csv' --solver exact"));
        for heading in ["Converters of the parts file", "Limits of validity", "Cautions"] {
            assert!(page.contains(&format!("{heading}</h2>")), "{heading}");
        }
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
        let stopped = units(&scenario, &listed, Method::Exact, 1, &stop);
        assert!(
            matches!(stopped, Err(StudyError::Engine(EngineError::Stopped))),
            "heard the wish to stop"
        );
    }
}
