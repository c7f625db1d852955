//! Sentences on charge balancing.

use super::names::set;
use super::numbers::{cost, cost_bounds, yield_bounds};
use crate::report::format::names;
use crate::report::format::numbers::{given_percent, yield_percent};
use crate::scenario::{Grades, Scenario};
use crate::study::grades::{
    BalancingAnswer, BalancingReason, BalancingVerdict, Ranking, SetResult,
};

/// What the flying capacitors are worth, against all sets without them; a sentence each.
pub(in crate::report::grades) fn balancing(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
) -> Option<Vec<String>> {
    let (answer, best) = (ranking.balancing?, ranking.without_balancing()?);
    let confidence = given_percent(scenario.limits.confidence);
    let mut sentences = vec![verdict(answer, &confidence)];
    let all = ranking.paralleled.len();
    if best.cost.estimate.is_finite() {
        sentences.extend(best_without(scenario, grades, best, all));
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
    let numbers = format!(
        "Its yield is {} ({}; target: {}), its cost per good converter {} {} ({}).",
        yield_percent(best.good.estimate),
        yield_bounds(&best.good),
        names::verdict(best.good.verdict(scenario.limits.yield_target)),
        cost(best.cost.estimate),
        grades.currency,
        cost_bounds(best.cost),
    );
    [which, numbers]
}
