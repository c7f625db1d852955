//! The recommended set, and the picture of cost and yield.

use maud::{Markup, html};

use super::View;
use crate::report::grades::words::{money, set, weeks};
use crate::report::html::parts::{headings, number, remarked, table};
use crate::report::html::{verdict, words};
use crate::report::svg::{self, Mark, Name, Spot};
use crate::solver::Method;
use crate::statistics::{Verdict, Yield};
use crate::study::grades::SetResult;

/// The answer, first.
pub(super) fn decision(view: View) -> Markup {
    let View { scenario, ranking, .. } = view;
    let target = scenario.limits.yield_target;
    let judged = ranking.verdict(target);
    html! {
        @if ranking.partial {
            p class="notice" {
                strong { "Partial." } " The comparison was interrupted. This page rests on the \
                 trials that were finished: " (ranking.sets.len()) " of "
                (view.grades.sets.len()) " sets, " (ranking.verified.len()) " of them tried again \
                 on fresh samples."
            }
        }
        @if ranking.settings.method == Method::Averaged {
            p class="notice" {
                strong { "A quick look only." } " These results come from the averaged solver, \
                 which keeps fundamentals alone and flatters the sharing error. Take decisions \
                 from the exact one."
            }
        }
        div class="verdicts" {
            article class=(format!("card chain {}", verdict::class(judged))) {
                h3 { "Recommended set" }
                p class="word choice" { (set(view.grades, &ranking.recommended().set)) }
                (money_sentence(view, ranking.recommended()))
                (yield_sentence(view, judged, &ranking.recommended().good))
            }
        }
        (remarks(view))
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

fn money_sentence(view: View, best: &SetResult) -> Markup {
    let currency = &view.grades.currency;
    html! {
        p {
            "A good converter costs " strong { (money(best.cost.estimate)) " " (currency) } " ("
            (money(best.cost.lower)) " to " (money(best.cost.upper)) " within the interval of the \
             yield); the parts on offer are " (money(best.parts)) " of a built one."
            @if best.surplus > 0.0 {
                " " (money(best.surplus)) " of it pays for parts beyond the need, because of least \
                 orders."
            }
            @if let Some(time) = best.lead_time { " The slowest part takes " (time) " weeks." }
        }
    }
}

fn yield_sentence(view: View, judged: Verdict, good: &Yield) -> Markup {
    let relation = match judged {
        Verdict::Pass => "the whole interval meets the target of ",
        Verdict::Fail => "the whole interval misses the target of ",
        Verdict::NotDecided => "the interval holds the target of ",
    };
    html! {
        p class="word judged" { (verdict::sign(judged)) (words::verdict(judged)) }
        p {
            strong { (words::yield_percent(good.estimate)) } " of the converters ("
            (words::count(good.successes)) " of " (words::samples(good.trials)) ") meet every \
             limit at every operating point; "
            (words::given_percent(good.confidence.get())) " interval "
            (words::yield_percent(good.lower)) " to " (words::yield_percent(good.upper)) ": "
            (relation) (words::given_percent(view.scenario.limits.yield_target)) "."
        }
    }
}

fn remarks(view: View) -> Markup {
    let ranking = view.ranking;
    html! {
        @for rival in ranking.overturned_by(view.scenario.limits.yield_target) {
            p class="notice" {
                strong { "Not settled." } " On the fresh samples a rival came out surely cheaper: "
                strong { (set(view.grades, &rival.set)) } ", " (money(rival.cost.estimate)) " "
                (view.grades.currency) ". Take more samples, or treat both as equal."
            }
        }
        @if ranking.all_miss {
            p { "Every set misses the target for sure; the recommended one is the cheapest of them." }
        }
        p {
            @if ranking.verified.is_empty() {
                "The set was picked as the best of many on these very samples, which flatters it; \
                 the trial on fresh samples is missing."
            } @else {
                "The set was picked on the samples of seed " (ranking.settings.seed) " and tried \
                 again on as many fresh ones, of seed " (ranking.fresh_seed) ", from which these \
                 numbers come: the best of many looks better than it is where it was picked."
            }
            @if let Some(good) = &ranking.paralleled {
                " Without charge balancing, plainly paralleled, the same parts would yield "
                (words::yield_percent(good.estimate)) "."
            }
        }
    }
}

/// Sets that cost up to so many times as much as the recommended one stand in the second picture.
const NEAR: f64 = 1.15;

/// The pictures, and the sets that no other one beats.
pub(super) fn front(view: View) -> Markup {
    let ranking = view.ranking;
    let sets = ranking.sets.iter().enumerate();
    let all: Vec<Spot> = sets.map(|(n, set)| spot(view, n, set)).collect();
    let reach = NEAR * ranking.sets[ranking.best].cost.estimate;
    let near: Vec<Spot> = all.iter().filter(|spot| spot.cost <= reach).cloned().collect();
    html! {
        @if all.iter().any(|spot| spot.cost.is_finite()) { div class="figures" {
            (picture(view, "cost-yield", "A point a set of grades", &all))
            @if (2..all.len()).contains(&near.len()) {
                (picture(view, "cost-yield-near", "The same near the recommended set", &near))
            }
        } }
        @else { p { "No set has one good converter: there is no cost to show." } }
        (front_table(view))
    }
}

fn picture(view: View, id: &str, words: &str, spots: &[Spot]) -> Markup {
    let name = Name {
        id: id.into(),
        title: "Yield over the cost of a good converter, a point a set".into(),
        description: "Filled discs are sets that no other one beats in both; a square marks the \
                      recommended one. The tables below hold the numbers."
            .into(),
    };
    let target = view.scenario.limits.yield_target;
    let target = Mark { value: target, label: format!("target {}", words::given_percent(target)) };
    let axis = format!("cost of a good converter, {}", view.grades.currency);
    html! {
        figure {
            (svg::scatter(&name, &axis, spots, &target))
            figcaption {
                (words) ", on the samples of seed " (view.ranking.settings.seed)
                ". Filled and joined: the front, sets that none beats in both cost and yield. \
                 Square: the recommended set."
                @if spots.iter().any(|spot| !spot.cost.is_finite()) {
                    " Sets without one good converter have no cost and are not shown."
                }
            }
        }
    }
}

fn spot(view: View, n: usize, result: &SetResult) -> Spot {
    let title = format!(
        "{}: {}, {}",
        set(view.grades, &result.set),
        money(result.cost.estimate),
        words::yield_percent(result.good.estimate)
    );
    Spot {
        cost: result.cost.estimate,
        good: result.good.estimate,
        title,
        on_front: result.on_front,
        chosen: n == view.ranking.best,
    }
}

fn front_table(view: View) -> Markup {
    let sets = view.ranking.sets.iter().enumerate();
    let mut front: Vec<(usize, &SetResult)> = sets.filter(|(_, set)| set.on_front).collect();
    front.sort_by(|a, b| a.1.cost.estimate.total_cmp(&b.1.cost.estimate));
    let cost = format!("cost of a good converter, {}", view.grades.currency);
    let names = ["set", cost.as_str(), "yield", "parts", "lead time, weeks"];
    let rows = html! {
        @for (n, result) in front {
            tr class=[(n == view.ranking.best).then_some("limited")] {
                th scope="row" class="wraps" { (set(view.grades, &result.set)) }
                (remarked(&money(result.cost.estimate), &format!(
                    "{} to {}", money(result.cost.lower), money(result.cost.upper)
                )))
                (remarked(&words::yield_percent(result.good.estimate), &format!(
                    "{} to {}",
                    words::yield_percent(result.good.lower),
                    words::yield_percent(result.good.upper)
                )))
                (number(money(result.parts)))
                (number(weeks(result.lead_time)))
            }
        }
    };
    table("The front, cheapest first; the recommended set is shaded", &headings(1, &names), &rows)
}
