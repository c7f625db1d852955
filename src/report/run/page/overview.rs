//! All operating points at a glance.

use maud::{Markup, html};

use super::parts::{Point, case_headings};
use crate::converter::Arrangement;
use crate::report::format::configuration::page as choice;
use crate::report::format::page::parts::{
    Read, cells, folded_table, headings, number, remarked, table,
};
use crate::report::format::{names, numbers};
use crate::report::run::batches;
use crate::scenario::Scenario;
use crate::statistics::KeyFigures;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::run::{CaseResult, Run};

/// What is asked for, what the nominal converter does, what the samples do, what they miss.
pub(super) fn overview(scenario: &Scenario, run: &Run) -> Markup {
    let points = Point::all(run);
    html! {
        (asked(&points))
        (choice::choices(run.choices()))
        (nominal(&points))
        (sampled(scenario, run, &points))
        (missed(&points))
        @if let Some(batches) = &run.batches { (batches::page(scenario, batches)) }
        p class="remark" {
            "A sample may miss several limits. One that is out of range or not solved counts under \
             the frequency band alone, because nothing else is known of it."
        }
    }
}

fn asked(points: &[Point]) -> Markup {
    let names = [
        "operating point",
        "drive",
        "rectifier",
        "configuration",
        "input",
        "output",
        "output current",
    ];
    let head = headings(4, &names);
    let rows = html! {
        @for point in points {
            @let baseline = &point.chain().baseline;
            @let asked = &baseline.case.point;
            tr {
                th scope="row" { a href=(format!("#{}", point.id())) { (asked.name) } }
                td { (names::drive(asked.drive).long) }
                td { (names::rectifier(asked.rectifier).long) }
                td {
                    @if baseline.choice.is_some() { "chosen by the tool" } @else { "as given" }
                }
                (number(numbers::quantity(asked.input_voltage)))
                (number(numbers::quantity(asked.output_voltage)))
                (number(numbers::quantity(asked.output_current)))
            }
        }
    };
    folded_table("What is asked for", &head, &rows)
}

fn nominal(points: &[Point]) -> Markup {
    let names = [
        "operating point",
        "arrangement",
        "frequency, kHz",
        "output current of a phase, A",
        "tank RMS, A",
        "tank peak, A",
    ];
    let head = headings(2, &names);
    let rows = html! {
        @for point in points {
            @for (place, (_, case)) in point.cases.iter().enumerate() {
                @let state = &case.baseline.state;
                tr {
                    (case_headings(point, place))
                    (number(numbers::kilo(state.switching_frequency.0)))
                    @if let Some(phase) = state.phases.first() {
                        (number(numbers::four(phase.output_current.0)))
                        (number(numbers::three(phase.rms_current.0)))
                        (number(numbers::three(phase.peak_current.0)))
                    }
                }
            }
        }
    };
    folded_table("The nominal converter; currents of its first phase", &head, &rows)
}

fn sampled(scenario: &Scenario, run: &Run, points: &[Point]) -> Markup {
    let error = Figure::SharingError(scenario.limits.sharing);
    let head = html! {
        tr {
            th scope="col" rowspan="2" class="text" { "operating point" }
            th scope="col" rowspan="2" class="text" { "arrangement" }
            th scope="col" rowspan="2" { "yield" br; small { "confidence interval" } }
            th scope="colgroup" colspan="4" {
                "sharing error" br; small { (names::sharing(scenario.limits.sharing)) }
            }
            th scope="col" rowspan="2" { "frequency, kHz" br; small { "p05 to p95" } }
            th scope="colgroup" colspan="2" { "worst switch, p99, A" }
            th scope="col" rowspan="2" { "solved" br; small { "out of range / not solved" } }
        }
        (headings(0, &["p50", "p95", "p99", "max", "switch RMS", "switch peak"]))
    };
    let figures: [Read; 4] = [|s| s.p50, |s| s.p95, |s| s.p99, |s| Some(s.max)];
    let rows = html! {
        @for point in points {
            @for (place, (n, case)) in point.cases.iter().enumerate() {
                tr {
                    (case_headings(point, place))
                    (good(case))
                    (cells(run.key_figures(*n, error), &figures, numbers::percent))
                    (frequency(run.key_figures(*n, Figure::SwitchingFrequency)))
                    (cells(run.key_figures(*n, Figure::WorstSwitchRms), &[|s| s.p99], numbers::three))
                    (cells(run.key_figures(*n, Figure::WorstSwitchPeak), &[|s| s.p99], numbers::three))
                    (statuses(case))
                }
            }
        }
    };
    table("The sampled converters", &head, &rows)
}

/// The yield of a case with its interval.
fn good(case: &CaseResult) -> Markup {
    let good = &case.good;
    remarked(
        &numbers::yield_percent(good.estimate),
        &format!(
            "{} to {}",
            numbers::yield_percent(good.lower),
            numbers::yield_percent(good.upper)
        ),
    )
}

fn frequency(summary: Option<&KeyFigures>) -> Markup {
    let text = summary.map(|s| {
        let [p50, p05, p95] = [s.p50, s.p05, s.p95].map(|p| numbers::quantile(p, numbers::kilo));
        remarked(&p50, &format!("{p05} to {p95}"))
    });
    text.unwrap_or_else(|| number(numbers::NONE))
}

fn statuses(case: &CaseResult) -> Markup {
    let [solved, out_of_range, not_solved] = case.counts.map(numbers::count);
    remarked(&solved, &format!("{out_of_range} / {not_solved}"))
}

/// The demands of all arrangements, each once: they differ in their limits, and one may be made
/// of one arrangement alone.
fn demands(points: &[Point]) -> Vec<Demand> {
    let mut all: Vec<Demand> = Vec::new();
    for (demand, _) in points.iter().flat_map(|p| p.cases).flat_map(|(_, case)| &case.misses) {
        if all.iter().all(|known| known.figure != demand.figure) {
            all.push(*demand);
        }
    }
    all
}

fn missed(points: &[Point]) -> Markup {
    let demands = demands(points);
    let limits: Vec<String> = demands.iter().map(|demand| names::limit(demand).long).collect();
    let columns: Vec<&str> = ["operating point", "arrangement"]
        .into_iter()
        .chain(limits.iter().map(String::as_str))
        .collect();
    let rows = html! {
        @for point in points {
            @for place in 0..Arrangement::ALL.len() {
                tr {
                    (case_headings(point, place))
                    @for demand in &demands { (miss(point.cases[place].1, demand)) }
                }
            }
        }
    };
    folded_table("Samples that miss each limit", &headings(2, &columns), &rows)
}

fn miss(case: &CaseResult, wanted: &Demand) -> Markup {
    let found = case.misses.iter().find(|(demand, _)| demand.figure == wanted.figure);
    html! {
        @match found {
            Some((demand, n)) => {
                @match names::demanded(demand) {
                    Some(demanded) => (remarked(&numbers::count(*n), &demanded)),
                    None => (number(numbers::count(*n))),
                }
            }
            None => td class="n" { small { "no limit" } },
        }
    }
}
