//! How a configuration was chosen, in a summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Drive, Rectifier};
use crate::study::common::choice::{ConfigurationCandidate, ConfigurationChoice, Feasibility};
use crate::units::{Ampere, Hertz, Watt};

/// All configurations tried for an operating point, and why each was taken or dropped.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ConfigurationChoiceEntry {
    operating_point: Option<String>,
    /// What decides among configurations that work.
    prefer: &'static str,
    candidates: Vec<ConfigurationCandidateEntry>,
}

impl ConfigurationChoiceEntry {
    pub(in crate::report) fn new(choice: &ConfigurationChoice) -> Self {
        Self {
            operating_point: choice.candidates.first().map(|c| c.point.name.clone()),
            prefer: choice.prefer.name(),
            candidates: ConfigurationCandidateEntry::all(choice),
        }
    }
}

/// A configuration that was tried; its figures are null where it does not work.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ConfigurationCandidateEntry {
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

impl ConfigurationCandidateEntry {
    /// All that were tried.
    pub(in crate::report) fn all(choice: &ConfigurationChoice) -> Vec<Self> {
        let candidates = choice.candidates.iter().enumerate();
        candidates.map(|(n, candidate)| Self::new(choice, n, candidate)).collect()
    }

    fn new(choice: &ConfigurationChoice, n: usize, candidate: &ConfigurationCandidate) -> Self {
        let (figures, point) = (candidate.nominal_figures(), &candidate.point);
        Self {
            drive: point.drive,
            rectifier: point.rectifier,
            allowed: candidate.allowed,
            status: match candidate.feasibility {
                Feasibility::Works(_) => "solved",
                Feasibility::OutOfRange(_) => "out of range",
                Feasibility::NotSolved(..) => "not solved",
            },
            switching_frequency: figures.map(|m| m.switching_frequency),
            loss: figures.map(|m| m.loss),
            switch_rms_current: figures.map(|m| m.switch_rms_current),
            frequency_margin: figures.map(|m| m.frequency_margin),
            chosen: choice.chosen == Some(n),
            reason: choice.reason(n),
        }
    }
}
