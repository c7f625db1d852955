//! Starts in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::words;
use crate::study::capacitors::start_up::{PointStart, SequenceResult, StartUpStudy};
use crate::units::{Ampere, Joule, Second, Volt};

/// The starts at one operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::capacitors) struct StartEntry {
    operating_point: String,
    /// Energy that the chain delivers to the output while it fills.
    #[serde(rename = "fill_energy_J")]
    fill_energy: Joule,
    /// What the output takes of it; null where its capacitance is not told.
    #[serde(rename = "absorbed_energy_J")]
    absorbed: Option<Joule>,
    sequences: Vec<SequenceEntry>,
}

/// What a sequence does to the switches.
#[derive(Debug, Serialize, JsonSchema)]
struct SequenceEntry {
    sequence: &'static str,
    /// The law that carries it.
    law: &'static str,
    /// Highest voltage of any switch over its own normal value; null where no law tells.
    factor: Option<f64>,
    #[serde(rename = "highest_blocking_voltage_V")]
    highest: Option<Volt>,
    /// Into a shorted output; null where no law tells.
    #[serde(rename = "peak_tank_current_A")]
    peak_current: Option<Ampere>,
    /// Shortest input ramp that keeps the wanted factor; null where none does, or none is used.
    #[serde(rename = "needed_ramp_s")]
    needed_ramp: Option<Second>,
    /// `keeps`, `exceeds`, `stays crooked`, or why it is not known.
    outcome: &'static str,
}

/// The findings.
pub(in crate::report::capacitors) fn start_entries(study: &StartUpStudy) -> Vec<StartEntry> {
    study.points.iter().map(StartEntry::new).collect()
}

impl StartEntry {
    fn new(point: &PointStart) -> Self {
        Self {
            operating_point: point.operating_point.clone(),
            fill_energy: point.fill_energy,
            absorbed: point.absorbed,
            sequences: point.sequences.iter().map(SequenceEntry::new).collect(),
        }
    }
}

impl SequenceEntry {
    fn new(own: &SequenceResult) -> Self {
        Self {
            sequence: words::name(own.sequence),
            law: words::law(own.sequence),
            factor: own.factor,
            highest: own.highest,
            peak_current: own.peak_current,
            needed_ramp: own.needed_ramp,
            outcome: words::outcome(own),
        }
    }
}
