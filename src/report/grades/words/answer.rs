//! Sentences on the set that the answer names, and on how the other sets compare.

use std::fmt::Write as _;

use super::names::set;
use crate::report::format::names;
use crate::report::format::numbers::{
    count, given_percent, samples, signed_money, signed_percent, yield_percent,
};
use crate::scenario::{Grades, Scenario};
use crate::statistics::Verdict;
use crate::study::common::demand::Binding;
use crate::study::grades::{Ranking, RankingAnswer, SetResult, Stage};

/// What the named set is called where others are compared with it.
pub(in crate::report::grades) fn reference(scenario: &Scenario, ranking: &Ranking) -> &'static str {
    let is_recommended = ranking.answer(scenario.limits.yield_target) == RankingAnswer::Recommended;
    if is_recommended && !ranking.is_better_without_balancing() {
        "recommended"
    } else {
        "reference"
    }
}

/// Why the set without charge balancing is not recommended although charge balancing is worse; none
/// where it is, or where that is not so.
pub(in crate::report::grades) fn refusal_without(
    scenario: &Scenario,
    ranking: &Ranking,
) -> Option<String> {
    let target = scenario.limits.yield_target;
    if !ranking.is_better_without_balancing() || ranking.set_to_build(target).is_some() {
        return None;
    }
    let target = given_percent(target);
    Some(format!(
        "No set is recommended: charge balancing is the worse choice, and no set without it is shown \
         to meet the target of {target}."
    ))
}

/// What the best set without charge balancing is; none where charge balancing is not the worse choice.
pub(in crate::report::grades) fn role_without(
    scenario: &Scenario,
    ranking: &Ranking,
) -> Option<&'static str> {
    let is_recommended = ranking.set_to_build(scenario.limits.yield_target).is_some();
    let role = if is_recommended {
        "Recommended, without charge balancing"
    } else {
        "The best set without charge balancing"
    };
    ranking.is_better_without_balancing().then_some(role)
}

/// Why no set with charge balancing is recommended; none where one meets the target.
pub(in crate::report::grades) fn refusal(scenario: &Scenario, ranking: &Ranking) -> Option<String> {
    let target = given_percent(scenario.limits.yield_target);
    let (listed, is_only) = (ranking.shortlist.len(), ranking.sets.len() == 1);
    let reason = match ranking.answer(scenario.limits.yield_target) {
        RankingAnswer::Recommended => return None,
        RankingAnswer::NotDecided if is_only => {
            format!("the only one is not shown to meet the target of {target}")
        }
        RankingAnswer::NotDecided => format!("none is shown to meet the target of {target}"),
        RankingAnswer::TooFewSamples => format!(
            "{} are too few to show a yield of {target}",
            samples(ranking.recommended().good.trials)
        ),
        RankingAnswer::Missed if is_only => format!("the only one misses the target of {target}"),
        RankingAnswer::Missed => {
            format!("all {listed} sets on the short list miss the target of {target}")
        }
        RankingAnswer::NoGoodConverter if is_only => {
            "in the samples the only one makes no good converter".into()
        }
        RankingAnswer::NoGoodConverter => "in the samples none makes a good converter".into(),
        RankingAnswer::NotVerified => {
            "the comparison was interrupted before the fresh samples".into()
        }
        RankingAnswer::NotJudged => "the scenario sets no limit that it would have to meet".into(),
    };
    Some(format!("No set with charge balancing is recommended: {reason}."))
}

/// What numbers rest on where the comparison was interrupted.
pub(in crate::report::grades) fn stopped_at(stage: Stage) -> String {
    match stage {
        Stage::Series => {
            "Series were being drawn from lots; all samples of the sets are done.".to_owned()
        }
        _ => format!("All numbers rest on the samples done by then ({}).", stage.name()),
    }
}

/// What the named set with charge balancing is; none where no set makes a good converter.
pub(in crate::report::grades) fn role(
    scenario: &Scenario,
    ranking: &Ranking,
) -> Option<&'static str> {
    let is_second = ranking.is_better_without_balancing();
    match ranking.answer(scenario.limits.yield_target) {
        RankingAnswer::Recommended if is_second => {
            Some("Reference, the cheapest set with charge balancing that meets the target")
        }
        RankingAnswer::Recommended => Some("Recommended, with charge balancing"),
        RankingAnswer::NotDecided | RankingAnswer::TooFewSamples | RankingAnswer::Missed
            if ranking.sets.len() == 1 =>
        {
            Some("Reference, the only set with charge balancing")
        }
        RankingAnswer::NotDecided | RankingAnswer::TooFewSamples => {
            Some("Reference, the cheapest set with charge balancing that may meet the target")
        }
        RankingAnswer::Missed => {
            Some("Reference, the cheapest set with charge balancing on the short list")
        }
        RankingAnswer::NotVerified => Some("Reference, the best set by then"),
        RankingAnswer::NotJudged => Some("Reference, the cheapest set with charge balancing"),
        RankingAnswer::NoGoodConverter => None,
    }
}

/// What to do where the target is not decided; a sentence each.
pub(in crate::report::grades) fn advice(scenario: &Scenario, ranking: &Ranking) -> Vec<String> {
    let target = scenario.limits.yield_target;
    let fewest = ranking.fewest_samples.map(|n| {
        format!(
            "At least {} are needed for any pass, and only if all of them are good.",
            samples(n)
        )
    });
    match ranking.answer(target) {
        RankingAnswer::TooFewSamples => fewest.into_iter().collect(),
        RankingAnswer::NotDecided => {
            let good = &ranking.recommended().good;
            let Some(n) = good.samples_to_decide(target) else { return Vec::new() };
            let n = samples(n.max(ranking.fewest_samples.unwrap_or(0)));
            vec![
                format!(
                    "A new study of {n} with another --seed would decide in 9 of 10 cases, \
                     if the yield stays."
                ),
                "Each study keeps its confidence; the errors of several add.".into(),
            ]
        }
        _ => Vec::new(),
    }
}

/// A verdict on a set, in words.
pub(in crate::report::grades) fn verdict_word(set: &SetResult, verdict: Verdict) -> &'static str {
    names::verdict_if_judged(verdict, set.is_judged)
}

/// The verdict on a set. Samples that sets are picked on pass none.
pub(in crate::report::grades) fn verdict_in_ranking(
    ranking: &Ranking,
    set: &SetResult,
    target: f64,
) -> &'static str {
    match set.verdict(target) {
        Verdict::Pass if ranking.shortlist.is_empty() => "not verified",
        verdict => verdict_word(set, verdict),
    }
}

/// On which samples the best of the sets on a short list was tried.
pub(in crate::report::grades) fn verification(ranking: &Ranking, listed: &[SetResult]) -> String {
    match listed.len() {
        0 => "Not verified on fresh samples: a set picked as the best looks better than it is."
            .to_owned(),
        1 => format!("Verified on fresh samples ({}).", ranking.verification),
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

/// How many of the other sets with charge balancing cost more; none without others.
pub(in crate::report::grades) fn cost_count(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
) -> Option<String> {
    let (others, dearer) = (ranking.sets.len() - 1, ranking.dearer());
    let mut text = match (others, dearer) {
        (0, _) => return None,
        (1, 0) => "The other set with charge balancing is not shown to cost more".to_owned(),
        (1, _) => "The other set with charge balancing costs more".to_owned(),
        _ => format!("Of {others} other sets with charge balancing, {dearer} cost more"),
    };
    let _ = write!(text, " ({} confidence).", given_percent(scenario.limits.confidence));
    let unknown = ranking.not_compared();
    if unknown > 0 {
        let _ = write!(text, " {unknown} made too few good converters to be compared.");
    }
    if let Some(next) = ranking.runner_up(scenario.limits.yield_target) {
        let above = ranking.above_recommended(next);
        let _ = write!(
            text,
            " The next in cost that meets the target is {}: {}{}, yield {}.",
            set(grades, next),
            signed_money(above.amount),
            // Nothing can be told in percent of a cost of zero.
            if above.relative.is_finite() {
                format!(" ({})", signed_percent(above.relative))
            } else {
                String::new()
            },
            yield_percent(next.good.estimate)
        );
    }
    Some(text)
}

/// A yield, and what it says of the target; sets that were not tried again have their yield alone,
/// because their verdicts do not allow for their number.
pub(in crate::report::grades) fn target_remark(result: &SetResult, target: f64) -> String {
    let good = yield_percent(result.good.estimate);
    if !result.source.is_fresh() {
        return format!("{good} on the first samples");
    }
    match result.verdict(target) {
        Verdict::Pass => format!("{good}: meets the target"),
        Verdict::Fail => format!("{good}: misses the target"),
        Verdict::NotDecided if !result.is_judged => format!("{good}: not judged"),
        Verdict::NotDecided => format!("{good}: not decided"),
    }
}
