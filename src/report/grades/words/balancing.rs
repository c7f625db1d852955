//! Sentences on charge balancing.

use super::answer::verdict_word;
use super::names::set;
use super::numbers::{cost, cost_bounds};
use crate::converter::Arrangement;
use crate::report::format::numbers::{given_percent, yield_interval};
use crate::scenario::{Grades, Scenario};
use crate::study::grades::{
    BalancingAnswer, BalancingReason, BalancingVerdict, OpenReason, Ranking, SetResult,
};

/// What the flying capacitors are worth, against all sets without them; a sentence each. Where they are
/// not recommended, the best set without them has been named before.
pub(in crate::report::grades) fn balancing(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
) -> Option<Vec<String>> {
    let best = ranking.without_balancing()?;
    let Some(answer) = ranking.balancing else {
        return Some(vec![not_compared(ranking, best)]);
    };
    let confidence = given_percent(scenario.limits.confidence);
    let mut sentences = vec![verdict(answer, &confidence)];
    if ranking.is_better_without_balancing() {
        return Some(sentences);
    }
    let all = ranking.paralleled.len();
    if best.cost.estimate.is_finite() {
        sentences.extend(best_without(scenario, grades, best, all));
        sentences.extend(left_open(scenario, grades, ranking).into_iter().flatten());
    } else {
        sentences.push(match all {
            1 => "In the samples, the only set without it makes no good converter.".into(),
            _ => {
                format!("In the samples, none of the {all} sets without it makes a good converter.")
            }
        });
    }
    Some(sentences)
}

/// Why nothing is said of charge balancing, where all sets were tried.
fn not_compared(ranking: &Ranking, plain: &SetResult) -> String {
    let unlimited = match (ranking.recommended().is_judged, plain.is_judged) {
        (false, false) => "sets with and without it",
        (false, true) => "sets with it",
        _ => "sets without it",
    };
    format!(
        "Whether charge balancing is worth its cost is not judged: no limit is set for {unlimited}."
    )
}

/// The answer, with its confidence.
fn verdict(answer: BalancingAnswer, confidence: &str) -> String {
    let claim = match (answer.verdict, answer.reason) {
        (BalancingVerdict::Recommended, Some(BalancingReason::Cost)) => {
            "Charge balancing lowers the cost per good converter"
        }
        (BalancingVerdict::Recommended, _) => {
            "Charge balancing is recommended: every set without it misses the target or costs more"
        }
        (BalancingVerdict::NotRecommended, Some(BalancingReason::Cost)) => {
            "Charge balancing raises the cost per good converter"
        }
        (BalancingVerdict::NotRecommended, _) => {
            "Charge balancing is not recommended: every set with it misses the target or costs more"
        }
        (BalancingVerdict::NotDecided, _) => {
            return "Whether charge balancing lowers the cost per good converter is not decided."
                .into();
        }
    };
    format!("{claim} ({confidence} confidence).")
}

/// The best set without charge balancing, with its numbers.
fn best_without(scenario: &Scenario, grades: &Grades, best: &SetResult, all: usize) -> [String; 2] {
    let name = set(grades, best);
    let which = match all {
        1 => format!("The only set without it is {name}."),
        _ => format!("The best of {all} sets without it is {name}."),
    };
    [which, numbers(scenario, grades, best)]
}

/// The yield of a set and its cost, with their intervals.
fn numbers(scenario: &Scenario, grades: &Grades, result: &SetResult) -> String {
    format!(
        "Its yield is {}, target: {}; its cost per good converter {} {} ({} at the same level).",
        yield_interval(&result.good),
        verdict_word(result, result.verdict(scenario.limits.yield_target)),
        cost(result.cost.estimate),
        grades.currency,
        cost_bounds(result.cost),
    )
}

/// The set that leaves the answer open, and why.
fn left_open(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> Option<Vec<String>> {
    let (open, rival) = (ranking.balancing?.open?, ranking.open_rival()?);
    let why = match open.reason {
        OpenReason::MayMeetAndCostLess => {
            "It may meet the target, and is not shown to cost more than the best set of all"
        }
        OpenReason::MayMeet => {
            "It costs more than the best set of all, but that one is not shown to meet the target"
        }
        OpenReason::MayCostLess => {
            "It misses the target, but may cost less, and no set is shown to meet the target"
        }
    };
    let is_named = ranking.without_balancing().is_some_and(|b| b.candidate == rival.candidate)
        || ranking.recommended().candidate == rival.candidate;
    let name = set(grades, rival);
    let samples = if rival.source.is_fresh() { "" } else { " on the first samples" };
    let side = match rival.candidate.arrangement {
        Arrangement::Chain => "with",
        Arrangement::Paralleled => "without",
    };
    let open = format!("Of the sets {side} it, {name} keeps that from being decided{samples}.");
    let mut sentences = vec![open, format!("{why}.")];
    if !is_named && rival.cost.estimate.is_finite() {
        sentences.push(numbers(scenario, grades, rival));
    }
    Some(sentences)
}
