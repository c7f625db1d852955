//! The answer in a sentence.

use super::names::{letters, parenthesised};
use super::numbers::compared_percent;
use crate::report::format::numbers::given_percent;
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::sensors::{SensorStudy, Variant};

/// What to build, and whether the sensors can go.
pub(in crate::report::sensors) fn answer(scenario: &Scenario, study: &SensorStudy) -> String {
    let target = given_percent(scenario.limits.yield_target);
    let confidence = format!("({} confidence)", given_percent(scenario.limits.confidence));
    let decision = study.decision();
    match (decision.chain, decision.cheapest) {
        (chain, Some(Variant::Paralleled)) => {
            let of_chain = match chain {
                Verdict::Pass => "",
                Verdict::NotDecided => " The chain is not decided.",
                Verdict::Fail => " The chain does not.",
            };
            format!("Nothing need be added: (a) meets {target} {confidence}.{of_chain}")
        }
        (Verdict::Pass, Some(Variant::Chain) | None) => {
            format!("The sensors can go: the chain alone meets {target} {confidence}.")
        }
        (Verdict::Pass, Some(other)) => cheaper_with_sensors(study, other, &target),
        (Verdict::Fail, Some(other)) => format!(
            "The sensors stay: {} meets {target} {confidence}, the chain alone does not.",
            parenthesised(other)
        ),
        (Verdict::NotDecided, Some(other)) => format!(
            "Not decided: {} meets {target} {confidence}; the samples do not decide on the chain \
             alone.",
            parenthesised(other)
        ),
        (_, None) => none(study, &target, &confidence),
    }
}

fn cheaper_with_sensors(study: &SensorStudy, other: Variant, target: &str) -> String {
    let change = study.difference(other, Variant::Chain).ok();
    let less = change.and_then(|c| c.relative_price).map_or_else(String::new, |relative| {
        format!(" and costs {} less per good converter", compared_percent(-relative))
    });
    format!("The sensors can go, but {} meets {target} too{less}.", parenthesised(other))
}

fn none(study: &SensorStudy, target: &str, confidence: &str) -> String {
    let open = letters(study, |v| v.verdict == Verdict::NotDecided);
    if open.is_empty() {
        format!("No variant meets {target}.")
    } else {
        format!(
            "Not decided: no variant meets {target} {confidence}; the samples do not decide on \
             {open}."
        )
    }
}

/// How the answer is marked: whether anything without sensors meets the target.
pub(in crate::report::sensors) fn mark(study: &SensorStudy) -> Verdict {
    let open = study.variants.iter().any(|v| v.verdict == Verdict::NotDecided);
    match study.decision().cheapest {
        Some(Variant::Paralleled) => Verdict::Pass,
        None if open => Verdict::NotDecided,
        _ => study.verdict(),
    }
}
