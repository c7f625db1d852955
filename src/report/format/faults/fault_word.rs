//! How a fault and its outcome are called: in the matrix, and in sentences.

use crate::converter::{FailedLegs, FailureMode};
use crate::report::format::numbers::given_percent;
use crate::solver::fault::{FaultOutcome, NoSteadyState};
use crate::study::faults::FaultResult;

/// A failure, for the first column of a table.
pub(in crate::report) fn failure(failure: FailureMode) -> String {
    match failure {
        FailureMode::FlyingCapacitorAged(share) => {
            format!("flying capacitor at {}", given_percent(share))
        }
        FailureMode::Bypassed => "low switches held on (remedy)".into(),
        other => other.name().into(),
    }
}

/// The legs that a fault is in.
pub(in crate::report) fn legs(legs: Option<FailedLegs>) -> &'static str {
    match legs {
        None => "",
        Some(FailedLegs::All) => "all legs",
        Some(FailedLegs::Driven) => "driven leg",
        Some(FailedLegs::Return) => "return leg",
    }
}

/// How an outcome is shown: a word of the matrix, with what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::report) enum FaultWord {
    /// It runs and meets the limits.
    Runs,
    /// It runs and misses a limit.
    Limit,
    /// It runs, but not from the healthy frequency.
    Trap,
    /// Out of range.
    Range,
    /// All phases stop.
    Stops,
    /// A junction has no steady temperature.
    Heats,
    /// The input is shorted.
    Shorts,
    /// The model does not tell.
    Unknown,
    /// The solver found nothing.
    NotSolved,
}

impl FaultWord {
    /// All of them, the best first.
    pub(in crate::report) const ALL: [Self; 9] = [
        Self::Runs,
        Self::Limit,
        Self::Trap,
        Self::Range,
        Self::Stops,
        Self::Heats,
        Self::Shorts,
        Self::Unknown,
        Self::NotSolved,
    ];

    /// Of a result.
    pub(in crate::report) fn of_result(result: &FaultResult) -> Self {
        match &result.outcome {
            FaultOutcome::Runs(_) if result.trap.is_some() => Self::Trap,
            FaultOutcome::Runs(_) if result.meets_limits() => Self::Runs,
            FaultOutcome::Runs(_) => Self::Limit,
            FaultOutcome::OutOfRange => Self::Range,
            FaultOutcome::Stops => Self::Stops,
            FaultOutcome::NoSteadyState(NoSteadyState::JunctionRunaway) => Self::Heats,
            FaultOutcome::NoSteadyState(NoSteadyState::InputShorted) => Self::Shorts,
            FaultOutcome::Unknown => Self::Unknown,
            FaultOutcome::NotSolved(_) => Self::NotSolved,
        }
    }

    /// The word.
    pub(in crate::report) fn word(self) -> &'static str {
        match self {
            Self::Runs => "runs",
            Self::Limit => "limit",
            Self::Trap => "trap",
            Self::Range => "range",
            Self::Stops => "STOPS",
            Self::Heats => "HEAT",
            Self::Shorts => "SHORT",
            Self::Unknown => "open",
            Self::NotSolved => "none",
        }
    }

    /// Its name in a summary.
    pub(in crate::report) fn key(self) -> &'static str {
        match self {
            Self::Runs => "runs",
            Self::Limit => "limit missed",
            Self::Trap => "trap",
            Self::Range => "out of range",
            Self::Stops => "stops",
            Self::Heats => "junction heats up",
            Self::Shorts => "input shorted",
            Self::Unknown => "unknown",
            Self::NotSolved => "not solved",
        }
    }

    /// Its letter, where a matrix has no room for words.
    pub(in crate::report) fn letter(self) -> &'static str {
        match self {
            Self::Runs => "r",
            Self::Limit => "L",
            Self::Trap => "T",
            Self::Range => "O",
            Self::Stops => "S",
            Self::Heats => "H",
            Self::Shorts => "X",
            Self::Unknown => "?",
            Self::NotSolved => "n",
        }
    }

    /// What it means.
    pub(in crate::report) fn meaning(self) -> &'static str {
        match self {
            Self::Runs => "runs and meets the judged limits",
            Self::Limit => "runs and misses a judged limit",
            Self::Trap => "runs only if the controller starts from the top of the band",
            Self::Range => "out of range: no frequency in the band delivers the output",
            Self::Stops => "every phase stops",
            Self::Heats => "no steady state: a junction heats up without end",
            Self::Shorts => "no steady state: the input is shorted in every period",
            Self::Unknown => "not told: what the model leaves out decides",
            Self::NotSolved => "the solver found nothing",
        }
    }
}
