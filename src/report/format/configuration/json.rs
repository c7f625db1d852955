//! How a configuration was chosen, in a summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Drive, Rectifier};
use crate::study::common::choice::{Candidate, Choice, Standing};
use crate::units::{Ampere, Hertz, Watt};

/// All configurations tried for an operating point, and why each was taken or dropped.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ChoiceInSummary {
    operating_point: Option<String>,
    /// What decides among configurations that work.
    prefer: &'static str,
    candidates: Vec<CandidateInSummary>,
}

impl ChoiceInSummary {
    pub(in crate::report) fn new(choice: &Choice) -> Self {
        Self {
            operating_point: choice.candidates.first().map(|c| c.point.name.clone()),
            prefer: choice.prefer.name(),
            candidates: CandidateInSummary::all(choice),
        }
    }
}

/// A configuration that was tried; its figures are null where it does not work.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CandidateInSummary {
    drive: Drive,
    rectifier: Rectifier,
    /// Whether the operating point may take it.
    allowed: bool,
    /// `solved`, `out of range` or `not solved`.
    status: &'static str,
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<Hertz>,
    #[serde(rename = "loss_W")]
    loss: Option<Watt>,
    /// Of the switch that carries most.
    #[serde(rename = "switch_rms_current_A")]
    switch_rms_current: Option<Ampere>,
    /// Ratio of the frequency to the nearer end of the band.
    frequency_margin: Option<f64>,
    chosen: bool,
    /// Why it was taken or dropped.
    reason: String,
}

impl CandidateInSummary {
    /// All that were tried.
    pub(in crate::report) fn all(choice: &Choice) -> Vec<Self> {
        let candidates = choice.candidates.iter().enumerate();
        candidates.map(|(n, candidate)| Self::new(choice, n, candidate)).collect()
    }

    fn new(choice: &Choice, n: usize, candidate: &Candidate) -> Self {
        let (merits, point) = (candidate.merits(), &candidate.point);
        Self {
            drive: point.drive,
            rectifier: point.rectifier,
            allowed: candidate.allowed,
            status: match candidate.standing {
                Standing::Works(_) => "solved",
                Standing::OutOfRange(_) => "out of range",
                Standing::NotSolved(..) => "not solved",
            },
            switching_frequency: merits.map(|m| m.switching_frequency),
            loss: merits.map(|m| m.loss),
            switch_rms_current: merits.map(|m| m.switch_rms_current),
            frequency_margin: merits.map(|m| m.frequency_margin),
            chosen: choice.chosen == Some(n),
            reason: choice.reason(n),
        }
    }
}
