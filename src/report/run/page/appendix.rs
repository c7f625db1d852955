//! What the results rest on: both solvers side by side, the worst converters.

use maud::{Markup, html};

use super::parts::{Point, case_headings};
use crate::converter::Arrangement;
use crate::report::format::command::UnitsOptions;
use crate::report::format::page::parts::{folded_table, headings, number};
use crate::report::format::{command, names, numbers};
use crate::scenario::Scenario;
use crate::study::run::{CaseResult, Run, SolverComparison, Worst};

/// How far the averaged solver differs from the exact one on this design.
pub(super) fn solvers(run: &Run) -> Markup {
    let head = html! {
        tr {
            th scope="col" rowspan="2" class="text" { "operating point" }
            th scope="col" rowspan="2" class="text" { "arrangement" }
            th scope="col" rowspan="2" { "both solved" }
            th scope="colgroup" colspan="3" { "median sharing error" }
            th scope="colgroup" colspan="3" { "95 % quantile of the sharing error" }
            th scope="col" rowspan="2" { "largest frequency difference" }
        }
        (headings(0, &["exact", "averaged", "exact / averaged"].repeat(2)))
    };
    let rows = html! {
        @for point in Point::all(run) {
            @for (place, (n, _)) in point.cases.iter().enumerate() {
                @if let Some(comparison) = run.comparison.get(*n) {
                    tr { (case_headings(&point, place)) (apart(comparison)) }
                }
            }
        }
    };
    html! {
        p {
            "This page was made by the " strong { (names::method(run.settings.method).long) }
            " solver. Both solvers solved the same first " (numbers::samples(run.compared)) ". The \
             averaged (fundamental harmonic) solver is for quick looks; verdicts for a review come \
             from the exact one. A ratio above 1: the averaged solver understates the error. Below \
             1: it overstates the error. Fewer than 100 samples show no ratio of p95."
        }
        (folded_table("Exact against averaged on the same converters", &head, &rows))
    }
}

fn apart(comparison: &SolverComparison) -> Markup {
    let cells = |errors: Option<(f64, f64)>, ratio: Option<f64>| {
        let [exact, averaged] = match errors {
            Some((exact, averaged)) => [exact, averaged].map(numbers::percent),
            None => [numbers::NONE; 2].map(Into::into),
        };
        let ratio = ratio.map_or_else(|| numbers::NONE.into(), numbers::three);
        html! { (number(exact)) (number(averaged)) (number(ratio)) }
    };
    html! {
        (number(numbers::count(comparison.both_solved)))
        (cells(comparison.median, comparison.median_ratio()))
        (cells(comparison.p95, comparison.p95_ratio()))
        (number(comparison.frequency.map_or_else(|| numbers::NONE.into(), numbers::percent)))
    }
}

/// The converter with the largest sharing error of every case.
pub(super) fn worst(scenario: &Scenario, run: &Run) -> Markup {
    let again = UnitsOptions { parts: "worst_converters.csv", ..UnitsOptions::default() };
    html! {
        p {
            "The sample with the largest sharing error of every operating point and arrangement. \
             The file " code { "worst_converters.csv" } " holds these parts with all digits. This \
             command solves them again, in a folder with that file and the scenario:"
        }
        pre { code { (command::units(scenario, &again, run.settings.method)) } }
        @for case in &run.cases {
            @match &case.worst {
                Some(worst) => (worst_table(case, worst)),
                None => p { (title(case)) ": no sample was solved." },
            }
        }
    }
}

fn title(case: &CaseResult) -> String {
    format!("{}, {}", case.operating_point(), names::arrangement(case.arrangement()).long)
}

fn worst_table(case: &CaseResult, worst: &Worst) -> Markup {
    let caption = format!(
        "{}: sample {}, sharing error {}, {} kHz",
        title(case),
        worst.sample,
        numbers::percent(worst.sharing_error),
        numbers::kilo(worst.state.switching_frequency.0),
    );
    let chain = case.arrangement() == Arrangement::Chain;
    let mut names = vec!["phase", "Lr", "Cr", "Lm", "n", "R", "Vd"];
    if chain {
        names.extend(["flying capacitor to the next phase", "the same, return leg"]);
    }
    names.extend(["output, A", "tank mean |i|, A", "tank RMS, A", "tank peak, A"]);
    let flying = |leg: &[crate::units::Farad], k: usize| {
        number(leg.get(k).map_or_else(|| numbers::NONE.into(), numbers::quantity))
    };
    let rows = html! {
        @for (k, (tank, phase)) in worst.converter.tanks.iter().zip(&worst.state.phases).enumerate() {
            tr {
                th scope="row" { (k + 1) }
                (number(numbers::quantity(tank.resonant_inductance)))
                (number(numbers::quantity(tank.resonant_capacitance)))
                (number(numbers::quantity(tank.magnetising_inductance)))
                (number(numbers::significant(tank.turns_ratio, 5)))
                (number(numbers::quantity(tank.series_resistance)))
                (number(numbers::quantity(tank.rectifier_drop)))
                @if chain {
                    (flying(&worst.converter.flying, k))
                    (flying(&worst.converter.flying_return, k))
                }
                (number(numbers::four(phase.output_current.0)))
                (number(numbers::four(phase.mean_abs_current.0)))
                (number(numbers::four(phase.rms_current.0)))
                (number(numbers::four(phase.peak_current.0)))
            }
        }
    };
    folded_table(&caption, &headings(1, &names), &rows)
}
