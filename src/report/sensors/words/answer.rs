//! The answer in a sentence.

use super::names::{letters, parenthesised};
use super::numbers::difference;
use crate::report::format::numbers::{count, given_percent, level, money};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::sensors::{CostDoubt, SensorStudy, Variant, VariantResult};

/// What to build, whether the sensors can go, and why the lowest cost is not decided.
pub(in crate::report::sensors) fn answer(scenario: &Scenario, study: &SensorStudy) -> String {
    let confidence = format!(" ({} confidence)", given_percent(scenario.limits.confidence));
    answer_at(scenario, study, &confidence)
}

/// The same where the confidence stands beside it.
pub(in crate::report::sensors) fn short_answer(scenario: &Scenario, study: &SensorStudy) -> String {
    answer_at(scenario, study, "")
}

fn answer_at(scenario: &Scenario, study: &SensorStudy, confidence: &str) -> String {
    let target = given_percent(scenario.limits.yield_target);
    let decision = study.decision();
    let open = decision.rivals().map(|(rival, doubt)| match doubt {
        CostDoubt::VerdictNotDecided => undecided_rival(study, rival, &target),
        CostDoubt::CostsNotDistinguished => close_rival(study, rival),
    });
    std::iter::once(settled(scenario, study, confidence)).chain(open).collect::<Vec<_>>().join(" ")
}

/// A variant that may cost less, if it meets the target.
fn undecided_rival(study: &SensorStudy, rival: Variant, target: &str) -> String {
    let result = study.variant(rival);
    let least = money(result.cost_interval().lower);
    let letter = parenthesised(rival);
    let most = study.decision().cheapest.map_or_else(String::new, |cheapest| {
        let most = study.variant(cheapest).cost_interval().upper;
        format!(", {} up to {}", parenthesised(cheapest), money(most))
    });
    format!(
        "The lowest cost is not decided: if {letter} meets {target}, it may cost as little as {least} per good \
         converter{most}. {}",
        samples_to_decide(result)
    )
}

/// A variant that meets the target too, at a cost that the samples cannot tell from the lowest.
fn close_rival(study: &SensorStudy, rival: Variant) -> String {
    let cost = |v: Variant| study.variant(v).price_per_good().map_or_else(String::new, money);
    let cheapest = study.decision().cheapest;
    let lowest =
        cheapest.map_or_else(String::new, |v| format!(", {} {}", parenthesised(v), cost(v)));
    let alone = cheapest.and_then(|least| Some((study.costs_more_alone(rival, least)?, least)));
    let alone = alone.map_or_else(String::new, |(is_more, least)| {
        format!(
            " Of this pair alone, sample by sample, {} costs {} than {} ({}).",
            parenthesised(rival),
            if is_more { "more" } else { "less" },
            parenthesised(least),
            level(study.variant(rival).good.confidence)
        )
    });
    format!(
        "The lowest cost is not decided: {} costs {} per good converter{lowest}. The intervals of both costs \
         ({}, which hold together with all verdicts) overlap.{alone}",
        parenthesised(rival),
        cost(rival),
        level(study.joint_level())
    )
}

/// How many samples would decide on a variant.
pub(super) fn samples_to_decide(result: &VariantResult) -> String {
    result.samples_to_decide.map_or_else(
        || "No practical number of samples would decide.".to_owned(),
        |n| {
            format!(
                "A new study of {} samples with another --seed would decide in 9 of 10 cases, if the \
                 yield stays.",
                count(n)
            )
        },
    )
}

/// The answer by the verdicts.
fn settled(scenario: &Scenario, study: &SensorStudy, confidence: &str) -> String {
    let target = given_percent(scenario.limits.yield_target);
    let decision = study.decision();
    match (decision.chain, decision.cheapest) {
        (chain, Some(Variant::Paralleled)) => {
            let of_chain = match chain {
                _ if !study.variant(Variant::Chain).is_judged => " The chain is not judged.",
                Verdict::Pass => "",
                Verdict::NotDecided => " The chain is not decided.",
                Verdict::Fail => " The chain does not.",
            };
            format!("Nothing need be added: (a) meets {target}{confidence}.{of_chain}")
        }
        (Verdict::Pass, Some(Variant::Chain) | None) => {
            format!("The sensors can go: the chain alone meets {target}{confidence}.")
        }
        (Verdict::Pass, Some(other)) => cheaper_with_sensors(study, other, &target),
        (Verdict::Fail, Some(other)) => format!(
            "The sensors stay: {} meets {target}{confidence}, the chain alone does not.",
            parenthesised(other)
        ),
        (Verdict::NotDecided, Some(other)) => {
            let of_chain = if study.variant(Variant::Chain).is_judged {
                "the samples do not decide on the chain alone"
            } else {
                "the chain alone is not judged"
            };
            format!("Not decided: {} meets {target}{confidence}; {of_chain}.", parenthesised(other))
        }
        (_, None) => none(scenario, study, confidence),
    }
}

fn cheaper_with_sensors(study: &SensorStudy, other: Variant, target: &str) -> String {
    let change = study.difference(other, Variant::Chain).ok();
    let is_told_apart = study.decision().doubts[Variant::Chain.index()].is_none();
    let relative = change.and_then(|c| c.relative_price).filter(|_| is_told_apart);
    let less = relative.map_or_else(String::new, |relative| {
        format!(" and costs {} per good converter", difference(relative, ["more", "less"]))
    });
    format!("The sensors can go, but {} meets {target} too{less}.", parenthesised(other))
}

fn none(scenario: &Scenario, study: &SensorStudy, confidence: &str) -> String {
    let target = given_percent(scenario.limits.yield_target);
    let [open, judged] = [letters(study, VariantResult::is_open), letters(study, |v| v.is_judged)];
    if judged.is_empty() {
        not_judged(scenario)
    } else if open.is_empty() {
        let all = study.variants.iter().all(|variant| variant.is_judged);
        let which = if all { "No variant" } else { "No variant that is judged" };
        format!("{which} meets {target}{confidence}.")
    } else {
        format!(
            "Not decided: no variant was shown to meet {target}{confidence}. The samples do not \
             decide on {open}."
        )
    }
}

/// Why no variant is judged.
fn not_judged(scenario: &Scenario) -> String {
    let why = if scenario.exact_offers().is_empty() {
        "no limit is set"
    } else {
        "parts on offer count as exact"
    };
    format!("Not judged: {why}.")
}
