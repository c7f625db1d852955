//! Starts in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::words;
use crate::solver::start_up::integration::{IntegratedStart, SwitchRecord};
use crate::study::capacitors::start_up::{IntegratedRun, PointStart, SequenceResult, StartUpStudy};
use crate::units::{Ampere, Hertz, Joule, Second, Volt};

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
    /// Shortest input ramp that keeps the wanted factor and the blocking limit; null where none does, or none is used.
    #[serde(rename = "needed_ramp_s")]
    needed_ramp: Option<Second>,
    /// By law: `keeps`, `exceeds`, `stays crooked`, or why it is not known.
    outcome: &'static str,
    /// How it ends as integrated with the ramp of the scenario; null where that was not asked for or not
    /// followed.
    integrated_outcome: Option<&'static str>,
    /// The same start integrated: with other outputs, then with the ramp that the law asks for.
    integrated: Vec<IntegratedEntry>,
}

/// A start of the nominal converter, integrated.
#[derive(Debug, Serialize, JsonSchema)]
struct IntegratedEntry {
    /// `shorted`, `held`, `rising` with the input, or the `capacitor` of the scenario.
    output: &'static str,
    /// Null where the input is on from the beginning.
    #[serde(rename = "input_ramp_s")]
    ramp: Option<Second>,
    /// Whether that is the ramp that the law asks for.
    ramp_of_law: bool,
    #[serde(rename = "switching_frequency_Hz")]
    frequency: Hertz,
    /// What the law tells with this ramp; null where it tells nothing.
    factor_by_law: Option<f64>,
    /// At most, by law; null where it tells nothing.
    #[serde(rename = "peak_tank_current_by_law_A")]
    peak_by_law: Option<Ampere>,
    /// `keeps`, `exceeds`, `stays crooked`; null where the start takes too much work.
    outcome: Option<&'static str>,
    /// Null where the start takes too much work; so with all that follows.
    factor: Option<f64>,
    #[serde(rename = "peak_tank_current_A")]
    peak: Option<Ampere>,
    /// What arrived at the output until the input had its voltage.
    #[serde(rename = "delivered_energy_J")]
    delivered: Option<Joule>,
    #[serde(rename = "highest_output_voltage_V")]
    highest_output: Option<Volt>,
    /// Time in which some switch blocked more than the highest factor.
    #[serde(rename = "time_above_factor_s")]
    time_above: Option<Second>,
    /// Time that was to be followed.
    #[serde(rename = "followed_s")]
    time: Second,
    /// At the end, of the leg in which they are farthest from equal.
    #[serde(rename = "phase_voltage_V")]
    phase_voltages: Vec<Volt>,
    /// What every switch blocked at most.
    switches: Vec<SwitchEntry>,
}

/// A switch in an integrated start.
#[derive(Debug, Serialize, JsonSchema)]
struct SwitchEntry {
    /// `driven` or `return`.
    leg: &'static str,
    /// `high` or `low`.
    side: &'static str,
    /// Its phase, from 1.
    phase: usize,
    #[serde(rename = "highest_blocking_voltage_V")]
    highest: Volt,
    /// That over its normal voltage.
    factor: f64,
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
            integrated_outcome: (!own.integrated.is_empty()).then(|| words::decided(own)),
            integrated: own.integrated.iter().map(IntegratedEntry::new).collect(),
        }
    }
}

impl IntegratedEntry {
    fn new(own: &IntegratedRun) -> Self {
        let start = own.start();
        Self {
            output: words::output(own.output),
            ramp: own.ramp,
            ramp_of_law: own.has_needed_ramp,
            frequency: own.frequency,
            factor_by_law: own.law_factor,
            peak_by_law: own.law_peak,
            outcome: own.outcome().map(words::end),
            factor: start.map(IntegratedStart::factor),
            peak: start.map(|start| start.peak_current),
            delivered: start.map(|start| start.delivered_energy),
            highest_output: start.map(|start| start.highest_output),
            time_above: start.map(|start| start.time_above),
            time: own.time,
            phase_voltages: start.map_or_else(Vec::new, |start| start.phase_voltages.clone()),
            switches: start.map_or_else(Vec::new, |start| {
                start.switches.iter().map(SwitchEntry::new).collect()
            }),
        }
    }
}

impl SwitchEntry {
    fn new(own: &SwitchRecord) -> Self {
        Self {
            leg: if own.is_return { "return" } else { "driven" },
            side: if own.is_high { "high" } else { "low" },
            phase: own.phase + 1,
            highest: own.highest,
            factor: own.factor,
        }
    }
}
