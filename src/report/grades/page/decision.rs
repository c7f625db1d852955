//! The recommended set, and the picture of cost and yield.

use maud::{Markup, html};

use super::View;
use crate::report::format::figures::{self, Mark, Name, Spot};
use crate::report::format::page::parts as verdict;
use crate::report::format::page::parts::{headings, number, remarked, table};
use crate::report::format::words;
use crate::report::grades::words::{cost_ends, money, set, signed, weeks};
use crate::solver::Method;
use crate::statistics::{Verdict, Yield};
use crate::study::grades::{BalancingVerdict, SetResult};

/// The answer, first.
pub(super) fn decision(view: View) -> Markup {
    let View { scenario, ranking, .. } = view;
    let target = scenario.limits.yield_target;
    let judged = ranking.verdict(target);
    html! {
        @if let Some(stage) = ranking.interrupted {
            p class="notice" {
                strong { "Partial." } " The comparison was interrupted (" (stage.name()) "). Every \
                 number rests on the samples that were done by then, and says how many."
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
            article class=(format!("card chain {}", verdict::verdict_class(judged))) {
                h3 { "Recommended set, in the chain" }
                @if ranking.recommended().cost.estimate.is_finite() {
                    p class="word choice" { (set(view.grades, ranking.recommended())) }
                    (money_sentence(view, ranking.recommended()))
                } @else {
                    p class="word choice" { "None: no set makes a good converter" }
                }
                (yield_sentence(view, judged, &ranking.recommended().good))
            }
        }
        (balancing(view))
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
             yield)"
            @if best.surplus > 0.0 {
                ", " (money(best.surplus)) " of it for parts beyond the need, because of least \
                 orders"
            }
            "; the parts on offer in a built one cost " (money(best.parts)) "."
            @if let Some(time) = best.lead_time {
                " The slowest part takes " (time) " weeks, which is shown but not weighed."
            }
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
        p class="word judged" { (verdict::verdict_sign(judged)) (words::verdict(judged)) }
        p {
            strong { (words::yield_percent(good.estimate)) } " of the converters ("
            (words::count(good.successes)) " of " (words::samples(good.trials)) ") meet every \
             limit at every operating point; "
            (words::level(good.confidence)) " interval "
            (words::yield_percent(good.lower)) " to " (words::yield_percent(good.upper)) ": "
            (relation) (words::given_percent(view.scenario.limits.yield_target)) "."
        }
    }
}

fn remarks(view: View) -> Markup {
    let ranking = view.ranking;
    html! {
        @match ranking.verdict(view.scenario.limits.yield_target) {
            Verdict::Pass => {}
            Verdict::NotDecided => p {
                "No set tried is sure to meet the target; the recommended one is the cheapest that \
                 may. More samples would tell."
            },
            Verdict::Fail => p {
                "None of the sets tried meets the target; the recommended one is the cheapest of \
                 them."
            },
        }
        p {
            @if ranking.shortlist.is_empty() {
                "The set was picked as the best of many on these very samples, which flatters it; \
                 the trial on fresh samples is missing."
            } @else {
                "A short list of " (ranking.shortlist.len()) " was drawn up on the samples of seed "
                (ranking.settings.seed) " and tried again on as many fresh ones ("
                (ranking.verification) "), from which these numbers come; the interval allows for the \
                 length of the list."
            }
        }
    }
}

/// What the flying capacitors are worth.
fn balancing(view: View) -> Markup {
    let target = view.scenario.limits.yield_target;
    let Some((worth, best)) = view.ranking.balancing(target) else { return html! {} };
    let answer = match worth {
        BalancingVerdict::Recommended => "Charge balancing pays.",
        BalancingVerdict::NotRecommended => "Charge balancing does not pay here.",
        BalancingVerdict::NotDecided => "Whether charge balancing pays is open.",
    };
    let judged = match best.good.verdict(target) {
        Verdict::Pass => "which meets the target",
        Verdict::Fail => "which misses the target",
        Verdict::NotDecided => "which does not decide on the target",
    };
    html! {
        p class=[(worth == BalancingVerdict::NotRecommended).then_some("notice")] {
            strong { (answer) } " Plainly paralleled, without flying capacitors, "
            @if best.cost.estimate.is_finite() {
                "the best set is " (set(view.grades, best)) ": yield "
                (words::yield_percent(best.good.estimate)) " ("
                (words::yield_percent(best.good.lower)) " to "
                (words::yield_percent(best.good.upper)) "), " (judged) ", at "
                (money(best.cost.estimate)) " " (view.grades.currency) " for a good converter"
                @if let Some(cost) = best.against.and_then(|against| against.cost) {
                    ", " (signed(cost.estimate)) " (" (cost_ends(&cost)) ") against the \
                     recommended set"
                }
                "."
            } @else {
                "none of " (view.ranking.paralleled.len()) " sets makes a good converter."
            }
        }
    }
}

/// Sets that cost up to so many times as much as the recommended one stand in the second picture.
const NEAR: f64 = 1.15;

/// The cost of a set that was tried again, on the fresh samples.
fn fresh(view: View, result: &SetResult) -> Markup {
    let last = view.ranking.last_result(result);
    if last.source == result.source {
        return number(words::NONE);
    }
    let ends = format!("{} to {}", money(last.cost.lower), money(last.cost.upper));
    remarked(&money(last.cost.estimate), &ends)
}

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
            (figures::scatter(&name, &axis, spots, &target))
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
        set(view.grades, result),
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
    let best = &view.ranking.sets[view.ranking.best].candidate;
    let cost = format!("cost of a good converter, {}", view.grades.currency);
    let names = ["set", cost.as_str(), "on fresh samples", "yield", "parts", "lead time, weeks"];
    let rows = html! {
        @for result in view.ranking.front() {
            tr class=[(result.candidate == *best).then_some("limited")] {
                th scope="row" class="wraps" { (set(view.grades, result)) }
                (remarked(&money(result.cost.estimate), &format!(
                    "{} to {}", money(result.cost.lower), money(result.cost.upper)
                )))
                (fresh(view, result))
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
    table(
        "The front and the recommended set, which is shaded, cheapest first",
        &headings(1, &names),
        &rows,
    )
}
