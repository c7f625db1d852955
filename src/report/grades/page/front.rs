//! The pictures of cost and yield, and the sets that no other one beats.

use maud::{Markup, html};

use crate::report::format::figures::{self, Mark, Name, Spot};
use crate::report::format::numbers::{NONE, given_percent, money, yield_percent};
use crate::report::format::page::parts::{folded_table, headings, number, remarked};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::{cost, cost_bounds, reference, set, weeks, yield_bounds};
use crate::study::grades::SetResult;

/// Sets that cost up to so many times as much as the marked one stand in the second picture.
const NEAR: f64 = 1.15;

/// The pictures, and the table of the front.
pub(super) fn front(subject: GradesSubject) -> Markup {
    let ranking = subject.ranking;
    let sets = ranking.sets.iter().enumerate();
    let all: Vec<Spot> = sets.map(|(n, result)| spot(subject, n, result)).collect();
    let reach = NEAR * ranking.sets[ranking.best].cost.estimate;
    let near: Vec<Spot> = all.iter().filter(|spot| spot.cost <= reach).cloned().collect();
    html! {
        @if all.iter().any(|spot| spot.cost.is_finite()) { div class="figures" {
            (picture(subject, "cost-yield", "A point per set of grades", &all))
            @if (2..all.len()).contains(&near.len()) {
                (picture(subject, "cost-yield-near", "The same near the marked set", &near))
            }
        } }
        @else { p { "No set has one good converter: there is no cost to show." } }
        (front_table(subject))
    }
}

fn picture(subject: GradesSubject, id: &str, caption: &str, spots: &[Spot]) -> Markup {
    let name = Name {
        id: id.into(),
        title: "Yield over the cost per good converter, a point per set".into(),
        description: "Filled discs are sets that no other one beats in both; a square marks the \
                      one that the answer names. The tables below hold the numbers."
            .into(),
    };
    let target = subject.scenario.limits.yield_target;
    let target = Mark { value: target, label: format!("target {}", given_percent(target)) };
    let axis = format!("cost per good converter, {}", subject.grades.currency);
    html! {
        figure {
            (figures::scatter(&name, &axis, spots, &target))
            figcaption {
                (caption) ", on the samples of seed " (subject.ranking.settings.seed)
                ". Filled and joined: the Pareto front, sets that none beats in both cost and \
                 yield, with their numbers in the table below. Square: the " (reference(subject.scenario, subject.ranking)) " set."
                @if spots.iter().any(|spot| !spot.cost.is_finite()) {
                    " Sets without one good converter have no cost and are not shown."
                }
            }
        }
    }
}

fn spot(subject: GradesSubject, n: usize, result: &SetResult) -> Spot {
    let mut front = subject.ranking.front().into_iter();
    let title = format!(
        "{}: {}, {}",
        set(subject.grades, result),
        cost(result.cost.estimate),
        yield_percent(result.good.estimate)
    );
    Spot {
        cost: result.cost.estimate,
        good: result.good.estimate,
        title,
        on_front: result.on_front,
        number: front.position(|own| own.candidate == result.candidate).map(|place| place + 1),
        chosen: n == subject.ranking.best,
    }
}

fn front_table(subject: GradesSubject) -> Markup {
    let best = &subject.ranking.sets[subject.ranking.best].candidate;
    let cost_heading = format!("cost per good converter, {}", subject.grades.currency);
    let names = [
        "set",
        cost_heading.as_str(),
        "on fresh samples",
        "yield",
        "compared parts",
        "lead time, weeks",
    ];
    let rows = html! {
        @for (place, result) in subject.ranking.front().into_iter().enumerate() {
            tr class=[(result.candidate == *best).then_some("limited")] {
                th scope="row" class="wraps" { (place + 1) ". " (set(subject.grades, result)) }
                (remarked(&cost(result.cost.estimate), &cost_bounds(result.cost)))
                (fresh(subject, result))
                (remarked(&yield_percent(result.good.estimate), &yield_bounds(&result.good)))
                (number(money(result.parts)))
                (number(weeks(result.lead_time)))
            }
        }
    };
    let caption = format!(
        "The Pareto front on the first samples, cheapest first; the {} set is shaded",
        reference(subject.scenario, subject.ranking)
    );
    folded_table(&caption, &headings(1, &names), &rows)
}

/// The cost of a set that was tried again, on the fresh samples.
fn fresh(subject: GradesSubject, result: &SetResult) -> Markup {
    let last = subject.ranking.last_result(result);
    if last.source == result.source {
        number(NONE)
    } else {
        remarked(&cost(last.cost.estimate), &cost_bounds(last.cost))
    }
}
