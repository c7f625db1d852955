//! What several summaries hold: limits, tolerances, the limit missed most often.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use super::tolerance::{ToleranceInForce, TolerancesInForce};
use crate::converter::{Arrangement, Sharing};
use crate::scenario::Scenario;
use crate::study::common::demand::Binding;
use crate::units::{Ampere, Volt};

/// Limits that the results were judged by.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct LimitsInForce {
    /// Which sharing error is meant.
    sharing: Sharing,
    /// Highest sharing error, a fraction; null where there is no limit.
    sharing_error: Option<f64>,
    /// Share of the converters that must keep to all limits.
    yield_target: f64,
    /// Confidence level of the intervals.
    confidence: f64,
    /// Limits of the switches in the chain.
    chain: SwitchLimitsInForce,
    /// Limits of the switches in the paralleled reference.
    paralleled: SwitchLimitsInForce,
    /// Assumed drift of each flying-capacitor voltage in full-bridge drive.
    #[serde(rename = "neutral_split_V")]
    neutral_split: Volt,
}

/// Limits of every switch of one arrangement; null where there is none.
#[derive(Debug, Serialize, JsonSchema)]
struct SwitchLimitsInForce {
    #[serde(rename = "switch_rms_current_A")]
    rms_current: Option<Ampere>,
    #[serde(rename = "switch_peak_current_A")]
    peak_current: Option<Ampere>,
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<Volt>,
}

pub(in crate::report) fn limits(scenario: &Scenario) -> LimitsInForce {
    let limits = &scenario.limits;
    let switches = |arrangement: Arrangement| {
        let switches = limits.switches(arrangement);
        SwitchLimitsInForce {
            rms_current: switches.rms_current,
            peak_current: switches.peak_current,
            blocking_voltage: switches.blocking_voltage,
        }
    };
    LimitsInForce {
        sharing: limits.sharing,
        sharing_error: limits.sharing_error,
        yield_target: limits.yield_target,
        confidence: limits.confidence,
        chain: switches(Arrangement::Chain),
        paralleled: switches(Arrangement::Paralleled),
        neutral_split: scenario.neutral_split,
    }
}

/// The tolerances of a scenario by the keys of their parameters; parameters without one are left
/// out.
pub(in crate::report) fn tolerances(scenario: &Scenario) -> TolerancesInForce {
    ToleranceInForce::all(&scenario.tolerances)
}

/// The limit that was missed most often at any one operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct MissedMost {
    operating_point: String,
    /// The figure that is limited, or `regulation` for the frequency inside the band.
    demand: String,
    /// Samples that missed it there.
    missed: u64,
}

pub(in crate::report) fn binding(binding: &Binding) -> MissedMost {
    MissedMost {
        operating_point: binding.operating_point.clone(),
        demand: binding.demand.name(),
        missed: binding.missed,
    }
}

/// A value as the text of a file, ended by a line feed.
///
/// # Errors
///
/// None that can happen with a value built here.
pub fn text(value: &Value) -> anyhow::Result<String> {
    Ok(serde_json::to_string_pretty(value)? + "\n")
}
