//! What the results rest on: both solvers side by side, the worst converters.

use maud::{Markup, html};

use super::parts::{Point, case_headings};
use crate::converter::Arrangement;
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::{command, words};
use crate::scenario::Scenario;
use crate::study::run::{CaseResult, Run, SolverComparison, Worst};

/// How far the averaged solver stands from the exact one on this design.
pub(super) fn solvers(run: &Run) -> Markup {
    let head = html! {
        tr {
            th scope="col" rowspan="2" class="text" { "operating point" }
            th scope="col" rowspan="2" class="text" { "arrangement" }
            th scope="col" rowspan="2" { "both solved" }
            th scope="colgroup" colspan="3" { "median sharing error" }
            th scope="colgroup" colspan="3" { "95 % quantile of the sharing error" }
            th scope="col" rowspan="2" { "largest difference of frequency" }
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
            "Both solvers were put on the same first " (words::samples(run.compared)) ". The \
             averaged solver keeps fundamentals alone and is meant for quick looks. A ratio above \
             1 says by how much it flatters this design, one below 1 by how much it overstates the error. \
             Verdicts for a review come from the exact solver. This page was made by the "
            strong { (words::method(run.settings.method)) } " solver."
        }
        (table("Exact against averaged on the same converters", &head, &rows))
    }
}

fn apart(comparison: &SolverComparison) -> Markup {
    let pair = |pair: Option<(f64, f64)>| {
        let [exact, averaged, ratio] = match pair {
            Some((e, a)) if a > 0.0 => [words::percent(e), words::percent(a), words::three(e / a)],
            Some((e, a)) => [words::percent(e), words::percent(a), words::NONE.into()],
            None => [words::NONE; 3].map(Into::into),
        };
        html! { (number(exact)) (number(averaged)) (number(ratio)) }
    };
    html! {
        (number(words::count(comparison.both_solved)))
        (pair(comparison.median))
        (pair(comparison.p95))
        (number(comparison.frequency.map_or_else(|| words::NONE.into(), words::percent)))
    }
}

/// The converter with the largest sharing error of every case.
pub(super) fn worst(scenario: &Scenario, run: &Run) -> Markup {
    html! {
        p {
            "The sample with the largest sharing error of every operating point and arrangement. \
             The file " code { "worst_converters.csv" } " of the results holds these parts with \
             all digits; the command below, with the scenario beside that file, solves them again, \
             and so would a file with parts that were measured."
        }
        pre { code { (command::units(scenario, "worst_converters.csv", run.settings.method)) } }
        @for case in &run.cases {
            @match &case.worst {
                Some(worst) => (worst_table(case, worst)),
                None => p { (title(case)) ": no sample was solved." },
            }
        }
    }
}

fn title(case: &CaseResult) -> String {
    format!("{}, {}", case.operating_point(), words::arrangement(case.arrangement()))
}

fn worst_table(case: &CaseResult, worst: &Worst) -> Markup {
    let caption = format!(
        "{}: sample {}, sharing error {}, {} kHz",
        title(case),
        worst.sample,
        words::percent(worst.sharing_error),
        words::kilo(worst.state.switching_frequency.0),
    );
    let chain = case.arrangement() == Arrangement::Chain;
    let mut names = vec!["phase", "Lr", "Cr", "Lm", "n", "R", "Vd"];
    if chain {
        names.extend(["flying capacitor to the next", "the same, return leg"]);
    }
    names.extend(["output, A", "mean |i|, A", "RMS, A", "peak, A"]);
    let flying = |leg: &[crate::units::Farad], k: usize| {
        number(leg.get(k).map_or_else(|| words::NONE.into(), words::quantity))
    };
    let rows = html! {
        @for (k, (tank, phase)) in worst.converter.tanks.iter().zip(&worst.state.phases).enumerate() {
            tr {
                th scope="row" { (k + 1) }
                (number(words::quantity(tank.resonant_inductance)))
                (number(words::quantity(tank.resonant_capacitance)))
                (number(words::quantity(tank.magnetising_inductance)))
                (number(words::significant(tank.turns_ratio, 5)))
                (number(words::quantity(tank.series_resistance)))
                (number(words::quantity(tank.rectifier_drop)))
                @if chain {
                    (flying(&worst.converter.flying, k))
                    (flying(&worst.converter.flying_return, k))
                }
                (number(words::four(phase.output_current.0)))
                (number(words::four(phase.mean_abs_current.0)))
                (number(words::four(phase.rms_current.0)))
                (number(words::four(phase.peak_current.0)))
            }
        }
    };
    table(&caption, &headings(1, &names), &rows)
}
