//! What several summaries hold: limits, the limit missed most often, counts of samples.

use std::borrow::Cow;
use std::io;

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, AssumedDrift, Sharing};
use crate::printable;
use crate::scenario::{PartLimit, Scenario};
use crate::study::common::demand::Binding;
use crate::units::{Ampere, Celsius, Second, Volt};

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
    /// Limits of single parts.
    parts: Vec<PartLimitInForce>,
    /// Assumed drift of each flying-capacitor voltage in full-bridge drive; null where it follows from
    /// its causes.
    #[serde(rename = "neutral_split_V")]
    neutral_split: Option<Volt>,
}

/// A limit of parts that one orders as one type.
#[derive(Debug, Serialize, JsonSchema)]
struct PartLimitInForce {
    arrangement: Arrangement,
    /// As in `ratings[]`.
    part: String,
    /// What is limited, with the unit.
    figure: String,
    limit: f64,
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
    /// Highest junction temperature of any switch or diode; left out without such a limit.
    #[serde(rename = "junction_temperature_C", skip_serializing_if = "Option::is_none")]
    junction_temperature: Option<Celsius>,
    /// Lowest efficiency; left out without such a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    efficiency: Option<f64>,
    /// Whether every switch must turn on softly.
    soft_switching: bool,
    /// Longest time until a small imbalance is below 1 %; left out without such a limit.
    #[serde(rename = "settling_time_s", skip_serializing_if = "Option::is_none")]
    settling_time: Option<Second>,
}

impl LimitsInForce {
    pub(in crate::report) fn new(scenario: &Scenario) -> Self {
        let limits = &scenario.limits;
        let switches = |arrangement: Arrangement| {
            let switches = limits.switches(arrangement);
            SwitchLimitsInForce {
                rms_current: switches.rms_current,
                peak_current: switches.peak_current,
                blocking_voltage: switches.blocking_voltage,
                junction_temperature: switches.junction_temperature,
                efficiency: switches.efficiency,
                soft_switching: switches.soft_turn_on.is_some(),
                settling_time: switches.settling_time,
            }
        };
        Self {
            sharing: limits.sharing,
            sharing_error: limits.sharing_error,
            yield_target: limits.yield_target,
            confidence: limits.confidence,
            chain: switches(Arrangement::Chain),
            paralleled: switches(Arrangement::Paralleled),
            parts: limits.parts.iter().map(PartLimitInForce::new).collect(),
            neutral_split: match scenario.drift {
                AssumedDrift::Stated(drift) => Some(drift),
                AssumedDrift::FromCauses(_) => None,
            },
        }
    }
}

impl PartLimitInForce {
    fn new(own: &PartLimit) -> Self {
        Self {
            arrangement: own.arrangement,
            part: own.rating.part.key(),
            figure: own.rating.stress.column(),
            limit: own.limit,
        }
    }
}

/// The limit that was missed most often at any one operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct MissedMost {
    /// Name of the operating point.
    operating_point: String,
    /// The limited figure, or `regulation` for the frequency inside the band.
    limit: String,
    /// Samples that missed it there.
    missed: u64,
}

impl MissedMost {
    pub(in crate::report) fn new(binding: &Binding) -> Self {
        Self {
            operating_point: binding.operating_point.clone(),
            limit: binding.demand.name(),
            missed: binding.missed,
        }
    }
}

/// What became of the samples; those that were not solved or are out of range count as failures.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct Counts {
    solved: u64,
    /// No frequency inside the band delivers the output.
    out_of_range: u64,
    /// The solver found no steady state.
    not_solved: u64,
}

impl Counts {
    /// Of the numbers of samples solved, out of range and not solved.
    pub(in crate::report) fn new([solved, out_of_range, not_solved]: [u64; 3]) -> Self {
        Self { solved, out_of_range, not_solved }
    }
}

/// A value in one line, for the script of a page, as harmless as [`text`].
pub(in crate::report) fn line(value: &impl Serialize) -> String {
    // Structures of numbers, texts and lists: none of ours can fail.
    let text = serde_json::to_string(value).unwrap_or_default();
    printable::json(&text).into_owned()
}

/// Room for what a set adds to its summary.
const ADDED: usize = 1 << 14;

/// Counts bytes. A text that grew would move into twice the room: tens of megabytes with a hundred operating points.
struct Length(usize);

impl io::Write for Length {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0 += bytes.len();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// A value as the text of a file, ended by a line feed. Its strings show no character that steers a
/// terminal: JSON escapes stand for them.
///
/// # Errors
///
/// When the value cannot be told in JSON: none of ours.
pub fn text(value: &impl Serialize) -> anyhow::Result<String> {
    let mut length = Length(0);
    serde_json::to_writer_pretty(&mut length, value)?;
    let mut text = Vec::with_capacity(length.0 + ADDED);
    serde_json::to_writer_pretty(&mut text, value)?;
    let mut text = String::from_utf8(text)?;
    if let Cow::Owned(harmless) = printable::json(&text) {
        text = harmless;
    }
    text.push('\n');
    Ok(text)
}
