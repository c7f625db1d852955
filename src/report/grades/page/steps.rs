//! The effect of one grade: one step up and down in every part.

use maud::{Markup, html};

use super::differences::{cost_difference, cost_result, yield_difference};
use crate::report::format::names::{capital, parameter_and_symbol};
use crate::report::format::numbers::yield_percent;
use crate::report::format::page::parts::{folded_table, headings, number};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::{reference, verdict_word, weeks};
use crate::study::grades::{GradeStep, SteppedSet};

/// A row a step.
pub(super) fn steps(subject: GradesSubject) -> Markup {
    let GradesSubject { grades, ranking, scenario, .. } = subject;
    let names = [
        "part",
        "step",
        "cost is",
        "target",
        "yield",
        "change of yield, points",
        "change of cost",
        "lead time, weeks",
    ];
    let target = scenario.limits.yield_target;
    let rows = html! {
        @for SteppedSet { step, result, stated } in &ranking.steps {
            tr {
                th scope="row" { (parameter_and_symbol(grades.offers[step.offer].parameter)) }
                td { (change(subject, *step, *stated)) }
                td { (cost_result(result.against.as_ref())) }
                td { (capital(verdict_word(result, result.verdict(target)))) }
                (number(yield_percent(result.good.estimate)))
                (yield_difference(result.against.as_ref()))
                (cost_difference(result.against.as_ref()))
                (number(weeks(result.lead_time)))
            }
        }
    };
    let caption = format!(
        "One grade dearer or cheaper than in the {} set; fresh samples, {}",
        reference(scenario, ranking),
        ranking.verification
    );
    html! {
        @if ranking.steps.is_empty() {
            p { "There are no results for single steps." }
        } @else {
            (folded_table(&caption, &headings(4, &names), &rows))
            p class="remark" {
                "Cost: per good converter, in " (grades.currency) ". Where both change upwards, \
                 the change of cost is the price of the higher yield."
            }
        }
    }
}

fn change(subject: GradesSubject, step: GradeStep, stated: bool) -> Markup {
    let grades = &subject.grades.offers[step.offer].grades;
    let from = subject.ranking.recommended().candidate.grades[step.offer];
    html! {
        (grades[from].name) " → " strong { (grades[step.grade].name) } br;
        small {
            @if step.dearer { "one grade dearer" } @else { "one grade cheaper" }
            @if !stated {
                ", not among the combinations"
            }
        }
    }
}
