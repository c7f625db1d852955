//! Every set on the first samples.

use maud::{Markup, html};

use super::differences::cost_difference;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, money, samples, yield_percent};
use crate::report::format::page::parts::{folded_table, headings, number, remarked};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::{cost, reference, set, weeks, yield_bounds};
use crate::study::grades::SetResult;

/// Those in the chain.
pub(super) fn in_chain(subject: GradesSubject) -> Markup {
    html! {
        (all(subject, &subject.ranking.sets))
        p class="remark" { code { "grades.csv" } " has the same numbers with all digits." }
    }
}

/// Those without charge balancing.
pub(super) fn paralleled(subject: GradesSubject) -> Markup {
    html! {
        p {
            "The paralleled reference: the same converters without flying capacitors, whose cost \
             is left out. Differences are those from the "
            (reference(subject.scenario, subject.ranking)) " set, in the chain."
        }
        (all(subject, &subject.ranking.paralleled))
    }
}

fn all(subject: GradesSubject, results: &[SetResult]) -> Markup {
    let names = [
        "set",
        "missed most",
        "yield",
        "compared parts",
        "cost per good converter",
        "difference of cost",
        "lead time, weeks",
    ];
    let best = &subject.ranking.sets[subject.ranking.best].candidate;
    let mut sorted: Vec<&SetResult> = results.iter().collect();
    sorted.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
    let rows = html! {
        @for result in sorted {
            @let point = result.binding.as_ref().map(|own| &own.operating_point);
            tr class=[(result.candidate == *best).then_some("limited")] data-point=[point] {
                th scope="row" class="wraps" { (set(subject.grades, result)) }
                td { (missed(result)) }
                (remarked(&yield_percent(result.good.estimate), &yield_bounds(&result.good)))
                (number(money(result.parts)))
                (number(cost(result.cost.estimate)))
                (cost_difference(result.against.as_ref()))
                (number(weeks(result.lead_time)))
            }
        }
    };
    let caption = format!(
        "Every set on the first samples, seed {}, the cheapest first; amounts in {}",
        subject.ranking.settings.seed, subject.grades.currency
    );
    folded_table(&caption, &headings(2, &names), &rows)
}

fn missed(result: &SetResult) -> Markup {
    html! {
        @match &result.binding {
            Some(binding) => {
                (names::limit(&binding.demand).long) br;
                small {
                    "by " (samples(binding.missed)) ", operating point “"
                    (binding.operating_point) "”"
                }
            }
            None => (NONE),
        }
    }
}
