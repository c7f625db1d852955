//! How certain the ranking is: ties, cheaper sets, the short lists.

use maud::{Markup, html};

use super::differences::{cost_difference, cost_result, yield_difference};
use crate::report::format::names::capital;
use crate::report::format::numbers::{given_percent, yield_percent};
use crate::report::format::page::parts::{folded_table, headings, number, remarked};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::{
    cost, cost_count, reference, set, target_remark, verdict_word, yield_bounds,
};
use crate::study::grades::SetResult;

/// How the other sets compare with the one that the answer names.
pub(super) fn ranking(subject: GradesSubject) -> Markup {
    let GradesSubject { scenario, grades, ranking, .. } = subject;
    html! {
        @match cost_count(scenario, grades, ranking) {
            Some(text) => p { (text) },
            None => p { "There is no other set." },
        }
        (listed(subject, "Same cost within the interval (ties):", &ranking.ties()))
        (listed(subject, "Cheaper, but not chosen because of the yield:", &ranking.passed_over()))
        (short_list(subject, &ranking.shortlist, "The short list"))
        (short_list(subject, &ranking.paralleled_shortlist, "The short list without charge balancing"))
        p class="remark" {
            "All sets saw the same samples: a difference rests on the samples that pass with one \
             set and fail with the other. All differences between sets with charge balancing hold \
             together at "
            (given_percent(scenario.limits.confidence)) " confidence, whichever set they are \
             compared with. Those of the sets without it hold together too, table by table."
        }
    }
}

fn listed(subject: GradesSubject, heading: &str, sets: &[&SetResult]) -> Markup {
    let target = subject.scenario.limits.yield_target;
    html! {
        @if !sets.is_empty() {
            p { (heading) }
            ul {
                @for result in sets {
                    li { (set(subject.grades, result)) ", " (target_remark(result, target)) }
                }
            }
        }
    }
}

fn short_list(subject: GradesSubject, listed: &[SetResult], heading: &str) -> Markup {
    let GradesSubject { scenario, ranking, .. } = subject;
    let reference = reference(scenario, ranking);
    let target = scenario.limits.yield_target;
    let names =
        ["set", "cost is", "target", "yield", "difference, points", "cost", "difference of cost"];
    let rows = html! {
        @for result in listed {
            tr class=[result.against.is_none().then_some("limited")] {
                th scope="row" class="wraps" { (set(subject.grades, result)) }
                td {
                    @if result.against.is_none() { (reference) }
                    @else { (cost_result(result.against.as_ref())) }
                }
                td { (capital(verdict_word(result, result.verdict(target)))) }
                (remarked(&yield_percent(result.good.estimate), &yield_bounds(&result.good)))
                (yield_difference(result.against.as_ref()))
                (number(cost(result.cost.estimate)))
                (cost_difference(result.against.as_ref()))
            }
        }
    };
    let caption = format!(
        "{heading} on fresh samples, {}; differences from the {reference} set",
        ranking.verification
    );
    html! {
        @if !listed.is_empty() { (folded_table(&caption, &headings(3, &names), &rows)) }
    }
}
