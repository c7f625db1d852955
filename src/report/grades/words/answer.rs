//! Sentences on the recommended set, on charge balancing and on the other sets.

use std::fmt::Write as _;

use super::names::set;
use super::numbers::{cost, cost_ends, yield_bounds};
use crate::report::format::names;
use crate::report::format::numbers::{
    count, given_percent, signed_money, signed_percent, yield_percent,
};
use crate::scenario::{Grades, Scenario};
use crate::statistics::Verdict;
use crate::study::common::demand::Binding;
use crate::study::grades::{BalancingVerdict, Ranking, SetResult};

/// What to know where the recommended set does not pass; a sentence each.
pub(in crate::report::grades) fn shortfall(scenario: &Scenario, ranking: &Ranking) -> Vec<String> {
    let target = scenario.limits.yield_target;
    let verified = match ranking.shortlist.len() {
        0 | 1 => "The best set does not meet the target".to_owned(),
        n => format!("None of the {n} best sets meets the target"),
    };
    let confidence = given_percent(scenario.limits.confidence);
    match ranking.verdict(target) {
        Verdict::Pass => Vec::new(),
        Verdict::Fail => vec![format!("{verified}. The recommended one is the cheapest of them.")],
        Verdict::NotDecided => {
            let open = format!(
                "{verified} at {confidence} confidence. The recommended one is the cheapest that may."
            );
            let samples = ranking.recommended().good.samples_to_decide(target);
            let decide =
                samples.map(|n| format!("About {} samples would decide, at this yield.", count(n)));
            std::iter::once(open).chain(decide).collect()
        }
    }
}

/// On which samples the recommended set was tried.
pub(in crate::report::grades) fn verification(ranking: &Ranking) -> String {
    match ranking.shortlist.len() {
        0 => "Not verified on fresh samples: a set picked as the best looks better than it is."
            .to_owned(),
        n => format!(
            "Verified on fresh samples ({}), as one of {n} on the short list.",
            ranking.verification
        ),
    }
}

/// Why there is nothing to recommend.
pub(in crate::report::grades) fn not_built(grades: &Grades, best: &SetResult) -> Option<String> {
    let Binding { operating_point, demand, missed } = best.binding.as_ref()?;
    Some(format!(
        "{} misses the limit on {} at “{operating_point}” with {} of {} samples.",
        set(grades, best),
        names::limit(demand).long,
        count(*missed),
        count(best.good.trials),
    ))
}

/// What the flying capacitors are worth, against the best set without them; a sentence each.
pub(in crate::report::grades) fn balancing(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
) -> Option<Vec<String>> {
    let target = scenario.limits.yield_target;
    let (worth, best) = ranking.balancing(target)?;
    let answer = match worth {
        BalancingVerdict::Recommended => "Charge balancing is recommended.",
        BalancingVerdict::NotRecommended => "Charge balancing is not recommended here.",
        BalancingVerdict::NotDecided => {
            "Whether charge balancing is worth its cost is not decided."
        }
    };
    let all = ranking.paralleled.len();
    let without = if best.cost.estimate.is_finite() {
        format!("The best of {all} sets without it is {}.", set(grades, best))
    } else if all == 1 {
        "The only set without it makes no good converter.".to_owned()
    } else {
        format!("Without it none of {all} sets makes a good converter.")
    };
    let mut sentences = vec![answer.to_owned(), without];
    if best.cost.estimate.is_finite() {
        let against = best.against.and_then(|against| against.cost);
        let difference = against.map_or_else(String::new, |found| {
            format!(", {} ({})", signed_money(found.estimate), cost_ends(&found))
        });
        sentences.push(format!(
            "Its yield is {} ({}; target: {}), its cost per good converter {} {}{difference}.",
            yield_percent(best.good.estimate),
            yield_bounds(&best.good),
            names::verdict(best.good.verdict(target)),
            cost(best.cost.estimate),
            grades.currency,
        ));
    }
    Some(sentences)
}

/// How many of the other sets cost more; none without others.
pub(in crate::report::grades) fn cost_count(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
) -> Option<String> {
    let others = ranking.sets.len() - 1;
    if others == 0 {
        return None;
    }
    let confidence = given_percent(scenario.limits.confidence);
    let dearer = ranking.dearer();
    let mut text = format!("Of {others} other sets {dearer} cost more ({confidence} confidence).");
    if let Some(next) = ranking.runner_up(scenario.limits.yield_target) {
        let above = ranking.above_recommended(next);
        let _ = write!(
            text,
            " The next in cost that meets the target is {}: {} ({}), yield {}.",
            set(grades, next),
            signed_money(above.amount),
            signed_percent(above.relative),
            yield_percent(next.good.estimate)
        );
    }
    Some(text)
}

/// A yield, and what it says of the target.
pub(in crate::report::grades) fn target_remark(result: &SetResult, target: f64) -> String {
    let good = yield_percent(result.good.estimate);
    match result.good.verdict(target) {
        Verdict::Pass => format!("{good}: meets the target"),
        Verdict::Fail => format!("{good}: misses the target"),
        Verdict::NotDecided => match result.good.samples_to_decide(target) {
            Some(n) => format!("{good}: not decided, about {} samples would", count(n)),
            None => format!("{good}: not decided"),
        },
    }
}
