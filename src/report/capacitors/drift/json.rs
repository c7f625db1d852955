//! The drift in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::BalancingResistor;
use crate::study::capacitors::drift::{DriftResistors, DriftStudy, PointDrift, SwitchMargin};
use crate::units::{Ampere, Ohm, Second, Volt, Watt};

/// The drift at one operating point in full-bridge drive.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::capacitors) struct DriftEntry {
    operating_point: String,
    /// Every node.
    nodes: Vec<NodeEntry>,
    /// What the switches of either leg block.
    switches: Vec<SwitchEntry>,
    /// Largest current into a node that gates amount to which turn off apart; null where one voltage is stated.
    #[serde(rename = "timing_current_A")]
    timing_current: Option<Ampere>,
    /// Resistors that hold the drift by leakage, or by all causes where the blocking voltage decides; null where no
    /// voltage to hold is known, where none is needed, and where that limit is missed without any drift.
    balancing: Option<BalancingEntry>,
}

/// How far one node drifts.
#[derive(Debug, Serialize, JsonSchema)]
struct NodeEntry {
    /// The node, counted from 1.
    node: usize,
    /// By the start of the chain; null, as the other causes, where one voltage is stated.
    #[serde(rename = "start_V")]
    start: Option<Volt>,
    #[serde(rename = "leakage_V")]
    leakage: Option<Volt>,
    #[serde(rename = "timing_V")]
    timing: Option<Volt>,
    /// Where body diodes stop it.
    #[serde(rename = "corner_V")]
    corner: Option<Volt>,
    /// All causes together.
    #[serde(rename = "drift_V")]
    drift: Volt,
    /// The largest resistor across each of its capacitors; null where none holds it, or none is needed.
    balancing: Option<ResistorEntry>,
}

/// A balancing resistor.
#[derive(Debug, Serialize, JsonSchema)]
struct ResistorEntry {
    #[serde(rename = "resistance_ohm")]
    resistance: Ohm,
    #[serde(rename = "dissipation_W")]
    dissipation: Watt,
    /// With which a drift that is there decays.
    #[serde(rename = "time_constant_s")]
    time_constant: Second,
}

/// What a switch blocks.
#[derive(Debug, Serialize, JsonSchema)]
struct SwitchEntry {
    /// `high_1`, `low_1`, …
    switch: String,
    /// Vin/N, or twice that for high switches after the first.
    #[serde(rename = "ideal_V")]
    ideal: Volt,
    #[serde(rename = "without_drift_V")]
    without_drift: Volt,
    #[serde(rename = "with_drift_V")]
    with_drift: Volt,
}

/// One resistance across all flying capacitors.
#[derive(Debug, Serialize, JsonSchema)]
struct BalancingEntry {
    /// The drift that it keeps to.
    #[serde(rename = "highest_drift_V")]
    highest: Volt,
    /// Whether the limit on the blocking voltage asks for that.
    by_blocking_limit: bool,
    /// Null where none holds it, or none is needed.
    #[serde(rename = "resistance_ohm")]
    resistance: Option<Ohm>,
    /// All resistors of both legs together.
    #[serde(rename = "dissipation_W")]
    dissipation: Option<Watt>,
}

/// The findings.
pub(in crate::report::capacitors) fn drift_entries(study: &DriftStudy) -> Vec<DriftEntry> {
    study.points.iter().map(DriftEntry::new).collect()
}

impl DriftEntry {
    fn new(point: &PointDrift) -> Self {
        Self {
            operating_point: point.operating_point.clone(),
            nodes: (0..point.nodes.len()).map(|node| NodeEntry::new(point, node)).collect(),
            switches: point.switches.iter().map(SwitchEntry::new).collect(),
            timing_current: point.timing_current,
            balancing: point.balancing.resistors().map(BalancingEntry::new),
        }
    }
}

impl NodeEntry {
    fn new(point: &PointDrift, node: usize) -> Self {
        let causes = point.causes.as_ref().map(|nodes| nodes[node]);
        let resistor = point.balancing.resistors().and_then(|own| own.nodes[node]);
        Self {
            node: node + 1,
            start: causes.map(|own| own.start),
            leakage: causes.map(|own| own.leakage),
            timing: causes.map(|own| own.timing),
            corner: causes.map(|own| own.corner),
            drift: point.nodes[node],
            balancing: resistor
                .filter(|own| own.resistance.0.is_finite())
                .map(|own| ResistorEntry::new(&own)),
        }
    }
}

impl ResistorEntry {
    fn new(own: &BalancingResistor) -> Self {
        Self {
            resistance: own.resistance,
            dissipation: own.dissipation,
            time_constant: own.time_constant,
        }
    }
}

impl SwitchEntry {
    fn new(own: &SwitchMargin) -> Self {
        Self {
            switch: own.switch.name(),
            ideal: own.normal,
            without_drift: own.without_drift,
            with_drift: own.with_drift,
        }
    }
}

impl BalancingEntry {
    fn new(own: &DriftResistors) -> Self {
        let equal = own.equal.filter(|own| own.resistance.0.is_finite());
        Self {
            highest: own.highest,
            by_blocking_limit: own.by_blocking_limit,
            resistance: equal.map(|own| own.resistance),
            dissipation: equal.map(|own| own.dissipation),
        }
    }
}
