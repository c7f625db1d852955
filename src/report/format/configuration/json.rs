//! How a configuration was chosen, as JSON.

use serde_json::{Value, json};

use crate::study::common::choice::{Candidate, Choice, Standing};

/// All configurations tried for an operating point, and why each was taken or dropped.
pub(in crate::report) fn choice(choice: &Choice) -> Value {
    json!({
        "operating_point": choice.candidates.first().map(|c| &c.point.name),
        "prefer": choice.prefer.name(),
        "candidates": candidates(choice),
    })
}

/// All configurations tried, with what became of them.
pub(in crate::report) fn candidates(choice: &Choice) -> Vec<Value> {
    let each = choice.candidates.iter().enumerate().map(|(n, candidate)| {
        let mut value = candidate_figures(candidate);
        value["chosen"] = (choice.chosen == Some(n)).into();
        value["reason"] = choice.reason(n).into();
        value
    });
    each.collect()
}

/// A candidate's configuration and its figures; null where it does not work.
fn candidate_figures(candidate: &Candidate) -> Value {
    let (merits, point) = (candidate.merits(), &candidate.point);
    let status = match candidate.standing {
        Standing::Works(_) => "solved",
        Standing::OutOfRange(_) => "out of range",
        Standing::NotSolved(..) => "not solved",
    };
    json!({
        "drive": point.drive,
        "rectifier": point.rectifier,
        "allowed": candidate.allowed,
        "status": status,
        "switching_frequency_Hz": merits.map(|m| m.switching_frequency),
        "loss_W": merits.map(|m| m.loss),
        "switch_rms_current_A": merits.map(|m| m.switch_rms_current),
        "frequency_margin": merits.map(|m| m.frequency_margin),
    })
}
