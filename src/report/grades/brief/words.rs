//! Sentences of the brief.

use crate::report::format::numbers::{
    count, given_percent, money, signed_money, yield_in_few_digits, yield_percent,
};
use crate::report::format::premises;
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words;
use crate::study::grades::{RankingAnswer, SetResult, rival_price};

/// What the page answers.
pub(super) fn question(told: GradesSubject) -> String {
    format!(
        "Which grades of parts make {} good converters at the lowest cost, and what is to be ordered?",
        count(told.grades.quantity)
    )
}

/// The answer in one sentence.
pub(super) fn answer(told: GradesSubject) -> String {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let target = scenario.limits.yield_target;
    let Some(set) = ranking.set_to_build(target) else { return no_set(told) };
    let balancing =
        if ranking.is_better_without_balancing() { " without charge balancing" } else { "" };
    format!(
        "Buy {}{balancing}: {} {} per good converter, {} good.",
        words::set(grades, set),
        money(set.cost.estimate),
        grades.currency,
        yield_in_few_digits(set.good.estimate)
    )
}

/// Why no set is recommended, with the number of the one that comes nearest.
fn no_set(told: GradesSubject) -> String {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let best = ranking.recommended();
    let named = words::set(grades, best);
    let good = yield_in_few_digits(best.good.estimate);
    match ranking.answer(scenario.limits.yield_target) {
        RankingAnswer::NoGoodConverter => {
            "No set is recommended: in the samples none makes a good converter.".to_owned()
        }
        RankingAnswer::Missed => {
            format!(
                "No set is recommended: {named}, the cheapest, makes {good} good converters and misses the target."
            )
        }
        RankingAnswer::NotJudged => {
            "No set is recommended: the scenario sets no limit that it would have to meet."
                .to_owned()
        }
        RankingAnswer::NotVerified => format!(
            "No set is recommended: the comparison was interrupted before the fresh samples. By then {named} made {good} \
             good converters."
        ),
        _ => format!(
            "No set is recommended yet: {named} makes {good} good converters, which does not decide on the target."
        ),
    }
}

/// What the numbers rest on.
pub(super) fn how_sure(told: GradesSubject) -> Vec<String> {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let best = ranking.recommended();
    let mut all = Vec::new();
    if best.cost.estimate.is_finite() {
        let hold = if ranking.shortlist.is_empty() {
            "on the samples that chose the set"
        } else {
            "that hold for all sets of the short list together"
        };
        all.push(format!(
            "Cost {}, yield {}: {} intervals {hold}.",
            words::cost_bounds(best.cost),
            words::yield_bounds(&best.good),
            given_percent(scenario.limits.confidence)
        ));
    }
    all.push(words::verification(ranking, &ranking.shortlist));
    all.extend(cost_count(told));
    all.extend(
        words::balancing(scenario, grades, ranking).and_then(|said| said.into_iter().next()),
    );
    all.push(
        "The interval covers the error of sampling, not wrong bands, prices or lead times."
            .to_owned(),
    );
    all.extend(premises::sentences(scenario, Some(grades)));
    all
}

/// How many of the other sets cost more, and how many less.
fn cost_count(told: GradesSubject) -> Option<String> {
    let ranking = told.ranking;
    let (others, dearer, ties) = (ranking.sets.len() - 1, ranking.dearer(), ranking.ties().len());
    let cheaper = ranking.passed_over().len();
    let is_told = others > 0 && ranking.recommended().cost.estimate.is_finite();
    let count = |sets: usize| count(sets as u64);
    let but = "not shown to meet the target";
    is_told.then(|| match (others, cheaper) {
        (1, 1) => format!("The other set with charge balancing costs less, but is {but}."),
        (_, 0) => format!(
            "Other sets with charge balancing: {} cost more, {} tie.",
            count(dearer),
            count(ties)
        ),
        _ => format!(
            "Other sets with charge balancing: {} cost more, {} tie, {} cost less, but are {but}.",
            count(dearer),
            count(ties),
            count(cheaper)
        ),
    })
}

/// What would change the answer.
pub(super) fn changes(told: GradesSubject) -> Vec<String> {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let target = scenario.limits.yield_target;
    let mut all: Vec<String> = words::advice(scenario, ranking);
    if let Some(next) = ranking.runner_up(target) {
        all.push(format!(
            "The next set: {}, {} {}, {} good.",
            words::set(grades, next),
            signed_money(ranking.above_recommended(next).amount),
            grades.currency,
            yield_percent(next.good.estimate)
        ));
    }
    let (order, dearer) = (ranking.order(scenario, grades), ranking.next_order(scenario, grades));
    all.extend(order.and_then(|order| words::cheaper_series(grades, &order, dearer.as_ref())));
    all.extend(rival_price(ranking, grades, target).as_ref().map(words::rival_price));
    all.extend(lower_target(told));
    if all.is_empty() {
        all.push("No other assumption was tried.".to_owned());
    }
    all
}

/// The target at which a cheaper set would meet it.
fn lower_target(told: GradesSubject) -> Option<String> {
    let GradesSubject { grades, ranking, .. } = told;
    let cheaper = ranking.passed_over();
    let is_tried = |set: &&&SetResult| set.source.is_fresh();
    let set = cheaper.iter().find(is_tried)?;
    Some(format!(
        "A target of {} or less: {} then meets it at {} {}.",
        yield_percent(set.good.lower),
        words::set(grades, set),
        money(set.cost.estimate),
        grades.currency
    ))
}
