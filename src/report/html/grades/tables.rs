//! How sure the ranking is, what one grade buys, all sets, and what is on offer.

use std::fmt::Write as _;

use maud::{Markup, html};

use super::View;
use crate::report::grades::words::{ends, money, points, set, signed, weeks};
use crate::report::html::parts::{headings, number, remarked, table};
use crate::report::html::words;
use crate::scenario::{Grade, Shape};
use crate::statistics::Verdict;
use crate::study::grades::{
    Comparison, Ranking, Role, SetResult, Step, Verified, parts_in_converter,
};

/// Ties by name, and the nearest rivals on fresh samples.
pub(super) fn ranking(view: View) -> Markup {
    let View { grades, ranking, .. } = view;
    let ties: Vec<&SetResult> = ranking.ties().collect();
    let target = view.scenario.limits.yield_target;
    html! {
        p { (counted(ranking, ties.len())) }
        @if !ties.is_empty() {
            p { "Ties, which these samples cannot tell from the recommended set by cost:" }
            ul {
                @for tie in &ties {
                    li {
                        (set(grades, &tie.set))
                        @if !ranking.all_miss && tie.good.verdict(target) == Verdict::Fail {
                            " (misses the yield target)"
                        }
                    }
                }
            }
        }
        (rivals(view))
        p class="remark" {
            "All sets saw the same samples, so a difference rests on the samples that pass with \
             one set and fail with the other. The intervals of a table hold together at "
            (words::given_percent(view.scenario.limits.confidence)) ": the level of each is raised \
             for their number."
        }
    }
}

fn counted(ranking: &Ranking, ties: usize) -> String {
    let others: Vec<&Comparison> =
        ranking.sets.iter().filter_map(|set| set.against.as_ref()).collect();
    let cheaper = others.iter().filter(|against| against.is_cheaper()).count();
    let dearer = others.len() - cheaper - ties;
    let mut text = format!(
        "Of {} other sets {dearer} cost surely more than the recommended one",
        others.len()
    );
    if cheaper > 0 {
        let _ = write!(text, ", {cheaper} cost surely less but miss the yield target");
    }
    text + &match ties {
        0 => ", and none ties with it.".to_owned(),
        n => format!(", and {n} cannot be told from it."),
    }
}

fn rivals(view: View) -> Markup {
    let rival = |v: &&Verified| {
        v.roles.iter().any(|role| matches!(role, Role::Rival | Role::CheapestOfAll))
    };
    let found: Vec<&Verified> = view.ranking.verified.iter().filter(rival).collect();
    let names = ["set", "result", "yield", "its difference, points", "cost", "its difference"];
    let rows = html! {
        @for Verified { roles, result } in &found {
            tr {
                th scope="row" class="wraps" { (set(view.grades, &result.set)) }
                td {
                    (outcome(result.against.as_ref()))
                    @if roles.contains(&Role::CheapestOfAll) { br; small { "misses the target" } }
                }
                (number(words::yield_percent(result.good.estimate)))
                (yield_difference(result.against.as_ref()))
                (number(money(result.cost.estimate)))
                (cost_difference(result.against.as_ref()))
            }
        }
    };
    let caption = format!(
        "The nearest rivals on fresh samples, seed {}; differences from the recommended set",
        view.ranking.fresh_seed
    );
    html! { @if !found.is_empty() { (table(&caption, &headings(2, &names), &rows)) } }
}

fn outcome(against: Option<&Comparison>) -> &'static str {
    match against {
        None | Some(Comparison { cost: None, .. }) => words::NONE,
        Some(against) if against.is_tie() => "tie",
        Some(against) if against.is_cheaper() => "surely cheaper",
        Some(_) => "surely dearer",
    }
}

fn yield_difference(against: Option<&Comparison>) -> Markup {
    match against {
        Some(Comparison { good, .. }) => remarked(&points(good.estimate), &ends(good, points)),
        None => number(words::NONE),
    }
}

fn cost_difference(against: Option<&Comparison>) -> Markup {
    match against.and_then(|against| against.cost) {
        Some(cost) => remarked(&signed(cost.estimate), &ends(&cost, signed)),
        None => number(words::NONE),
    }
}

/// One step up and down in every part.
pub(super) fn steps(view: View) -> Markup {
    let View { grades, ranking, .. } = view;
    let steps = ranking.steps();
    let names =
        ["part", "step", "result", "change of yield, points", "change of cost", "lead time, weeks"];
    let rows = html! {
        @for (step, result) in &steps {
            tr {
                th scope="row" { (words::parameter(grades.offers[step.offer].parameter)) }
                td { (change(view, *step)) }
                td { (outcome(result.against.as_ref())) }
                (yield_difference(result.against.as_ref()))
                (cost_difference(result.against.as_ref()))
                (number(weeks(result.lead_time)))
            }
        }
    };
    let caption = format!(
        "One grade dearer or cheaper, all else as recommended; fresh samples, seed {}",
        ranking.fresh_seed
    );
    html! {
        @if steps.is_empty() {
            p { "There are no results for single steps." }
        } @else {
            (table(&caption, &headings(3, &names), &rows))
            p class="remark" {
                "Cost: that of a good converter, in " (grades.currency) ". A positive change of \
                 cost with a positive change of yield is the price of being surer; a step that is \
                 dearer and yields no more buys nothing."
            }
        }
    }
}

fn change(view: View, step: Step) -> Markup {
    let grades = &view.grades.offers[step.offer].grades;
    let from = view.ranking.recommended().set[step.offer];
    html! {
        (grades[from].name) " → " strong { (grades[step.grade].name) } br;
        small { @if step.up { "one grade dearer" } @else { "one grade cheaper" } }
    }
}

/// Every set.
pub(super) fn sets(view: View) -> Markup {
    let names =
        ["set", "missed most", "yield", "parts", "cost", "its difference", "lead time, weeks"];
    let rows = html! {
        @for (n, result) in view.ranking.sets.iter().enumerate() {
            tr class=[(n == view.ranking.best).then_some("limited")] {
                th scope="row" class="wraps" { (set(view.grades, &result.set)) }
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
    html! {
        (table(&caption, &headings(2, &names), &rows))
        p class="remark" { "The same numbers with all digits stand in " code { "grades.csv" } "." }
    }
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
                tr class=[(ranking.recommended().set[place] == n).then_some("limited")] {
                    @if n == 0 {
                        th scope="rowgroup" rowspan=(offer.grades.len()) {
                            (words::parameter(offer.parameter)) br;
                            small { (words::nominal(scenario, offer.parameter)) }
                        }
                    }
                    th scope="row" { (grade.name) }
                    td { (scatter(grade)) }
                    (number(money(grade.price)))
                    (number(parts_in_converter(offer.parameter, scenario.phases, ranking.legs)
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
