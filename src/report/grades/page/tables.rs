//! How sure the ranking is, what one grade buys, all sets, and what is on offer.

use std::fmt::Write as _;

use maud::{Markup, html};

use super::View;
use crate::converter::Arrangement;
use crate::report::format::page::parts::{headings, number, remarked, table};
use crate::report::format::words;
use crate::report::grades::words::{
    cost_ends, money, points, set, signed, signed_percent, standing, weeks, yield_ends,
};
use crate::scenario::{Grade, Shape};
use crate::study::grades::{GradeStep, SetComparison, SetResult, SteppedSet};

/// Ties by name, cheaper ones passed over, and the short list.
pub(super) fn ranking(view: View) -> Markup {
    let ranking = view.ranking;
    let (ties, over) = (ranking.ties(), ranking.passed_over());
    let all = ranking.sets.len() - 1;
    html! {
        p {
            "Of " (all) " others " (ranking.dearer()) " cost surely more."
            @if let Some(next) = ranking.runner_up(view.scenario.limits.yield_target) {
                " The next in cost that meets the target is " (set(view.grades, next)) ", "
                (signed(ranking.above_recommended(next).amount)) " ("
                (signed_percent(ranking.above_recommended(next).relative)) "), with a yield of "
                (words::yield_percent(next.good.estimate)) "."
            }
        }
        @if !ties.is_empty() {
            p { "Ties, which the samples cannot tell from the recommended set by cost:" }
            (listed(view, &ties))
        }
        @if !over.is_empty() {
            p { "Surely cheaper, but passed over for their yield:" }
            (listed(view, &over))
        }
        (shortlist(view))
        p class="remark" {
            "All sets saw the same samples, so a difference rests on the samples that pass with \
             one set and fail with the other. The intervals of a table hold together at "
            (words::given_percent(view.scenario.limits.confidence)) ": the level of each is raised \
             for their number."
        }
    }
}

fn listed(view: View, sets: &[&SetResult]) -> Markup {
    html! {
        ul {
            @for result in sets {
                li {
                    (set(view.grades, result)) ", "
                    (standing(result, view.scenario.limits.yield_target))
                }
            }
        }
    }
}

fn shortlist(view: View) -> Markup {
    let found = &view.ranking.shortlist;
    let rows = html! {
        @for result in found {
            tr class=[result.against.is_none().then_some("limited")] {
                th scope="row" class="wraps" { (set(view.grades, result)) }
                td { @if result.against.is_none() { "recommended" } @else {
                    (outcome(result.against.as_ref()))
                } }
                td { (words::verdict(result.good.verdict(view.scenario.limits.yield_target))) }
                (remarked(&words::yield_percent(result.good.estimate), &format!(
                    "{} to {}",
                    words::yield_percent(result.good.lower),
                    words::yield_percent(result.good.upper)
                )))
                (yield_difference(result.against.as_ref()))
                (number(money(result.cost.estimate)))
                (cost_difference(result.against.as_ref()))
            }
        }
    };
    let caption = format!(
        "The short list on fresh samples, {}; differences from the recommended set",
        view.ranking.verification
    );
    let names =
        ["set", "by cost", "by yield", "yield", "its difference, points", "cost", "its difference"];
    html! { @if !found.is_empty() { (table(&caption, &headings(3, &names), &rows)) } }
}

fn outcome(against: Option<&SetComparison>) -> &'static str {
    match against {
        None | Some(SetComparison { cost: None, .. }) => words::NONE,
        Some(against) if against.is_tie() => "tie",
        Some(against) if against.is_cheaper() => "surely cheaper",
        Some(_) => "surely dearer",
    }
}

fn yield_difference(against: Option<&SetComparison>) -> Markup {
    match against {
        Some(SetComparison { good, .. }) => remarked(&points(good.estimate), &yield_ends(good)),
        None => number(words::NONE),
    }
}

fn cost_difference(against: Option<&SetComparison>) -> Markup {
    match against.and_then(|against| against.cost) {
        Some(cost) => remarked(&signed(cost.estimate), &cost_ends(&cost)),
        None => number(words::NONE),
    }
}

/// One step up and down in every part.
pub(super) fn steps(view: View) -> Markup {
    let View { grades, ranking, .. } = view;
    let steps = &ranking.steps;
    let names = [
        "part",
        "step",
        "by cost",
        "by yield",
        "yield",
        "its change, points",
        "change of cost",
        "lead time, weeks",
    ];
    let target = view.scenario.limits.yield_target;
    let rows = html! {
        @for SteppedSet { step, result, stated } in steps {
            tr {
                th scope="row" { (words::parameter(grades.offers[step.offer].parameter)) }
                td { (change(view, *step, *stated)) }
                td { (outcome(result.against.as_ref())) }
                td { (words::verdict(result.good.verdict(target))) }
                (number(words::yield_percent(result.good.estimate)))
                (yield_difference(result.against.as_ref()))
                (cost_difference(result.against.as_ref()))
                (number(weeks(result.lead_time)))
            }
        }
    };
    let caption = format!(
        "One grade dearer or cheaper, all else as recommended; fresh samples, {}",
        ranking.verification
    );
    html! {
        @if steps.is_empty() {
            p { "There are no results for single steps." }
        } @else {
            (table(&caption, &headings(4, &names), &rows))
            p class="remark" {
                "Cost: that of a good converter, in " (grades.currency) ". A positive change of \
                 cost with a positive change of yield is the price of being surer; a step that is \
                 dearer and yields no more buys nothing."
            }
        }
    }
}

fn change(view: View, step: GradeStep, stated: bool) -> Markup {
    let grades = &view.grades.offers[step.offer].grades;
    let from = view.ranking.recommended().candidate.grades[step.offer];
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

/// Every set in the chain.
pub(super) fn sets(view: View) -> Markup {
    html! {
        (all(view, &view.ranking.sets))
        p class="remark" { "The same numbers with all digits stand in " code { "grades.csv" } "." }
    }
}

/// Every set without charge balancing.
pub(super) fn paralleled(view: View) -> Markup {
    html! {
        p {
            "The paralleled reference: the same converters without flying capacitors, which cost \
             nothing here. Differences are those from the recommended set, in the chain."
        }
        (all(view, &view.ranking.paralleled))
    }
}

fn all(view: View, results: &[SetResult]) -> Markup {
    let names =
        ["set", "missed most", "yield", "parts", "cost", "its difference", "lead time, weeks"];
    let best = &view.ranking.sets[view.ranking.best].candidate;
    let rows = html! {
        @for result in results {
            tr class=[(result.candidate == *best).then_some("limited")] {
                th scope="row" class="wraps" { (set(view.grades, result)) }
                td { (missed(result)) }
                (remarked(&words::yield_percent(result.good.estimate), &format!(
                    "{} to {}",
                    words::yield_percent(result.good.lower),
                    words::yield_percent(result.good.upper)
                )))
                (number(money(result.parts)))
                (number(money(result.cost.estimate)))
                (cost_difference(result.against.as_ref()))
                (number(weeks(result.lead_time)))
            }
        }
    };
    let caption = format!(
        "Every set on the first samples, seed {}; amounts in {}",
        view.ranking.settings.seed, view.grades.currency
    );
    table(&caption, &headings(2, &names), &rows)
}

fn missed(result: &SetResult) -> Markup {
    html! {
        @match &result.binding {
            Some(binding) => {
                (words::demand(&binding.demand)) br;
                small { "at " (binding.operating_point) ", by " (words::count(binding.missed)) }
            }
            None => (words::NONE),
        }
    }
}

/// What is on offer.
pub(super) fn offers(view: View) -> Markup {
    let View { scenario, grades, ranking, .. } = view;
    let size = ranking.size;
    let names = [
        "part",
        "grade",
        "scatter",
        "price of one",
        "in a converter",
        "least order",
        "lead time, weeks",
    ];
    let rows = html! {
        @for (place, offer) in grades.offers.iter().enumerate() {
            @for (n, grade) in offer.grades.iter().enumerate() {
                tr class=[(ranking.recommended().candidate.grades[place] == n).then_some("limited")] {
                    @if n == 0 {
                        th scope="rowgroup" rowspan=(offer.grades.len()) {
                            (words::parameter(offer.parameter)) br;
                            small { (words::nominal(scenario, offer.parameter)) }
                        }
                    }
                    th scope="row" { (grade.name) }
                    td { (scatter(grade)) }
                    (number(money(grade.price)))
                    (number(offer.parameter.parts(size, Arrangement::Chain)
                        .to_string()))
                    (number(words::count(grade.minimum_quantity)))
                    (number(weeks(grade.lead_time)))
                }
            }
        }
    };
    let caption =
        format!("Grades on offer; prices in {}; the recommended ones are shaded", grades.currency);
    table(&caption, &headings(3, &names), &rows)
}

fn scatter(grade: &Grade) -> String {
    let tolerance = grade.tolerance;
    let mut text =
        format!("{}, ±\u{a0}{}", tolerance.shape.name(), words::given_percent(tolerance.band));
    if let Shape::Normal { sigmas } = tolerance.shape {
        let _ = write!(text, " at {sigmas} standard deviations");
    }
    if tolerance.lot_share > 0.0 {
        let _ = write!(text, ", lot share {}", words::given_percent(tolerance.lot_share));
    }
    text
}
