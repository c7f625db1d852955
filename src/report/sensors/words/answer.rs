//! The answer in a sentence.

use super::names::letters;
use super::numbers::{given, percent_of};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::sensors::{SensorStudy, Variant};

/// What to build, and whether the sensors can go.
pub(in crate::report::sensors) fn answer(scenario: &Scenario, study: &SensorStudy) -> String {
    let target = given(scenario.limits.yield_target);
    let decision = study.decision();
    match (decision.chain, decision.cheapest) {
        (chain, Some(Variant::Paralleled)) => {
            let of_chain = match chain {
                Verdict::Pass => "",
                Verdict::NotDecided => "; whether the chain does is not decided",
                Verdict::Fail => "; the chain does not",
            };
            format!("Nothing need be added: (a) meets {target} by itself{of_chain}.")
        }
        (Verdict::Pass, Some(Variant::Chain) | None) => {
            format!("The sensors can go: the chain alone meets {target}, at the lowest price.")
        }
        (Verdict::Pass, Some(other)) => too(study, other, &target),
        (Verdict::Fail, Some(other)) => format!(
            "The sensors stay: ({}) meets {target}, the chain alone does not.",
            other.letter()
        ),
        (Verdict::NotDecided, Some(other)) => format!(
            "Not decided whether the sensors can go: ({}) meets {target}, of the chain alone the \
             samples do not tell.",
            other.letter()
        ),
        (_, None) => none(study, &target),
    }
}

fn too(study: &SensorStudy, other: Variant, target: &str) -> String {
    let change = study.difference(other, Variant::Chain).ok();
    let less = change.and_then(|c| c.relative_price).map_or_else(String::new, |x| {
        format!(" and costs {} less for a good converter", percent_of(-x))
    });
    format!("The sensors can go, but ({}) meets {target} too{less}.", other.letter())
}

fn none(study: &SensorStudy, target: &str) -> String {
    let open = letters(study, |v| v.verdict == Verdict::NotDecided);
    if open.is_empty() {
        format!("No variant meets {target}.")
    } else {
        format!("No variant surely meets {target}: of {open} the samples do not tell.")
    }
}

/// How the headline is marked: whether anything without sensors meets the target.
pub(in crate::report::sensors) fn mark(study: &SensorStudy) -> Verdict {
    let open = study.variants.iter().any(|v| v.verdict == Verdict::NotDecided);
    match study.decision().cheapest {
        Some(Variant::Paralleled) => Verdict::Pass,
        None if open => Verdict::NotDecided,
        _ => study.verdict(),
    }
}
