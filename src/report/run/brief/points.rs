//! The operating points with their failures.

use maud::{Markup, html};

use super::briefed_run::BriefedRun;
use crate::converter::Arrangement;
use crate::report::format::names;
use crate::report::format::numbers::{count, counted, kilo, ppm};
use crate::report::format::page::brief::Finding;
use crate::report::format::page::brief_basis::{as_typed, point_name};
use crate::report::format::page::parts::{headings, number};
use crate::study::run::{CaseResult, Run};

/// Points shown: more would not fit the sheet.
const SHOWN: usize = 4;

/// Which point limits, and all points.
pub(super) fn finding(told: &BriefedRun) -> Finding {
    let run = told.run;
    Finding { heading: heading(run), remark: None, inside: table(run) }
}

fn heading(run: &Run) -> String {
    let chain = &run.joint[0];
    let failed = chain.good.trials - chain.good.successes;
    match &chain.binding {
        Some(binding) => format!(
            "Limited by the {} at “{}”: {} of {} failures",
            names::limit(&binding.demand).long,
            binding.operating_point,
            count(binding.missed),
            count(failed.max(binding.missed))
        ),
        None => "No chain fails at any operating point".to_owned(),
    }
}

/// Those shown: all, or the ones with the most failures.
pub(in crate::report::run) fn shown(run: &Run, most: usize) -> Vec<usize> {
    let failures = |case: &CaseResult| case.good.trials - case.good.successes;
    let mut places: Vec<(usize, u64)> = run
        .in_arrangement(Arrangement::Chain)
        .map(|(place, case)| (place, failures(case)))
        .collect();
    places.sort_by_key(|(_, failed)| std::cmp::Reverse(*failed));
    let mut shown: Vec<usize> = places.into_iter().map(|(place, _)| place).take(most).collect();
    shown.sort_unstable();
    shown
}

fn table(run: &Run) -> Markup {
    let all = run.in_arrangement(Arrangement::Chain).count();
    let shown = shown(run, SHOWN);
    html! {
        table class="points" {
            thead { (headings(1, &["point", "in, V", "out, V", "out, A", "kHz", "failures, ppm"])) }
            tbody {
                @for place in &shown {
                    @let case = &run.cases[*place];
                    @let point = &case.baseline.case.point;
                    tr {
                        th scope="row" { a href=(format!("#point-{}", place / 2 + 1)) { (point_name(&point.name)) } }
                        (number(as_typed(point.input_voltage.0)))
                        (number(as_typed(point.output_voltage.0)))
                        (number(as_typed(point.output_current.0)))
                        (number(kilo(case.baseline.state.switching_frequency.0)))
                        td class="n" { b class="chain" { (ppm(case.good.failing()[0])) } }
                    }
                }
            }
        }
        @if shown.len() < all {
            p class="remark" { (counted((all - shown.len()) as u64, "operating point")) " more, none with more failures." }
        }
    }
}
