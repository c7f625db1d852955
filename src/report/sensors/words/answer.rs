//! The answer in a sentence.

use super::names::{letters, letters_of, listed, parenthesised};
use super::numbers::difference;
use crate::report::format::numbers::{count, given_percent, level, money};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::sensors::{CostDoubt, SensorStudy, Variant, VariantResult};

/// What to build, whether the sensors can go, and why the lowest cost is not decided.
pub(in crate::report::sensors) fn answer(scenario: &Scenario, study: &SensorStudy) -> String {
    let confidence = format!(" ({} confidence)", given_percent(scenario.limits.confidence));
    let answer = settled(scenario, study, &confidence);
    open_cost(scenario, study).map_or_else(|| answer.clone(), |open| format!("{answer} {open}"))
}

/// What to build, and whether the sensors can go, where the confidence stands beside it.
pub(in crate::report::sensors) fn short_answer(scenario: &Scenario, study: &SensorStudy) -> String {
    settled(scenario, study, "")
}

/// Why the lowest cost is not decided; nothing where it is.
pub(in crate::report::sensors) fn open_cost(
    scenario: &Scenario,
    study: &SensorStudy,
) -> Option<String> {
    let decision = study.decision();
    let rivals = |doubt: CostDoubt| {
        decision.rivals().filter(move |own| own.1 == doubt).map(|own| own.0).collect::<Vec<_>>()
    };
    let undecided = undecided_rivals(scenario, study, &rivals(CostDoubt::VerdictNotDecided));
    let close = rivals(CostDoubt::CostsNotDistinguished);
    let all = undecided.into_iter().chain(close.into_iter().map(|rival| close_rival(study, rival)));
    let all = all.collect::<Vec<_>>().join(" Besides, ");
    (!all.is_empty()).then(|| format!("The lowest cost is not decided: {all}"))
}

/// Variants that may cost less, if they meet the target.
fn undecided_rivals(
    scenario: &Scenario,
    study: &SensorStudy,
    rivals: &[Variant],
) -> Option<String> {
    let target = given_percent(scenario.limits.yield_target);
    let least = |rival: &Variant| money(study.variant(*rival).cost_interval().lower);
    let least = listed(&rivals.iter().map(least).collect::<Vec<_>>());
    let letters = letters_of(rivals.iter().copied());
    let may = match rivals {
        [_] => format!("if {letters} meets {target}, it may cost"),
        _ => format!("where {letters} meet {target}, they may cost"),
    };
    let most = study.decision().cheapest.map_or_else(String::new, |cheapest| {
        let most = study.variant(cheapest).cost_interval().upper;
        format!(", {} up to {}", parenthesised(cheapest), money(most))
    });
    let samples = rivals.iter().map(|rival| study.variant(*rival).samples_to_decide);
    let samples = samples.reduce(|a, b| Some(a?.max(b?)))?;
    Some(format!(
        "{may} as little as {least} per good converter{most}. {}",
        samples_to_decide(samples)
    ))
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
        "{} costs {} per good converter{lowest}. The intervals of both costs ({}, which hold together with all \
         verdicts) overlap.{alone}",
        parenthesised(rival),
        cost(rival),
        level(study.joint_level())
    )
}

/// How many samples would decide on a variant.
pub(super) fn samples_to_decide(samples: Option<u64>) -> String {
    samples.map_or_else(
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
