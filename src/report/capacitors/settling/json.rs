//! Settling in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::solver::settling::{Settling, SettlingMode};
use crate::statistics::KeyFigures;
use crate::study::capacitors::settling::{LoadSettling, PointSettling, SettlingStudy};
use crate::study::common::settling_figures::SETTLED;
use crate::units::{Hertz, Second};

/// How the flying capacitors settle at one operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::capacitors) struct SettlingEntry {
    operating_point: String,
    /// Of the nominal converter: `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// 1 − abs(λ), the share that the slowest mode that decays loses in one switching period; null, as all that is
    /// nominal, where nothing is solved exactly.
    decay_per_period: Option<f64>,
    /// Switching periods until that mode is below 1 %; null also where nothing damps it.
    periods_to_1_percent: Option<f64>,
    /// The same as a time.
    #[serde(rename = "time_to_1_percent_s")]
    time_to_1_percent: Option<Second>,
    /// Modes that neither grow nor decay: N − 1 in full-bridge drive, one a node.
    neutral_modes: Option<usize>,
    /// Switching periods of one oscillation; null where it does not oscillate.
    oscillation_periods: Option<f64>,
    /// Factors by which the modes that decay change in one period, by falling modulus: real and
    /// imaginary part.
    eigenvalues: Vec<[f64; 2]>,
    /// By how much the slowest mode moves each node; empty where nothing is solved exactly.
    shape: Vec<ShapeEntry>,
    /// The nominal converter at shares of the output current.
    over_load: Vec<LoadEntry>,
    /// Periods to 1 % over the samples; null where nothing is sampled.
    sampled_periods: Option<KeyFigures>,
    /// The same as a time.
    #[serde(rename = "sampled_time_s")]
    sampled_time: Option<KeyFigures>,
}

/// By how much the slowest mode moves a node.
#[derive(Debug, Serialize, JsonSchema)]
struct ShapeEntry {
    /// The node, counted from 1.
    node: usize,
    /// Of the node that it moves most.
    amplitude: f64,
    /// Ahead of that node, in degrees.
    angle_degrees: f64,
}

/// The nominal converter at another load.
#[derive(Debug, Serialize, JsonSchema)]
struct LoadEntry {
    /// Share of the output current.
    load: f64,
    /// Null, as what follows, where it is not solved.
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<Hertz>,
    decay_per_period: Option<f64>,
    periods_to_1_percent: Option<f64>,
}

/// The findings.
pub(in crate::report::capacitors) fn settling_entries(study: &SettlingStudy) -> Vec<SettlingEntry> {
    study.points.iter().map(SettlingEntry::new).collect()
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn periods(mode: &SettlingMode) -> Option<f64> {
    finite(mode.periods_until(SETTLED))
}

impl SettlingEntry {
    fn new(point: &PointSettling) -> Self {
        let settling = point.nominal.as_ref().map(|own| &own.settling);
        let slowest = settling.map(|own| &own.slowest);
        let time = |own: &Settling| Some(Second(periods(&own.slowest)? * own.period.0));
        let samples = point.samples.as_ref();
        Self {
            operating_point: point.operating_point.clone(),
            status: point.status,
            decay_per_period: slowest.map(SettlingMode::decay_per_period),
            periods_to_1_percent: slowest.and_then(periods),
            time_to_1_percent: settling.and_then(time),
            neutral_modes: settling.map(|own| own.neutral_modes),
            oscillation_periods: slowest.and_then(SettlingMode::oscillation_periods),
            eigenvalues: settling.map_or_else(Vec::new, |own| {
                own.eigenvalues.iter().map(|value| [value.re, value.im]).collect()
            }),
            shape: slowest.map_or_else(Vec::new, shape),
            over_load: point.over_load.iter().map(LoadEntry::new).collect(),
            sampled_periods: samples.and_then(|own| own.periods),
            sampled_time: samples.and_then(|own| own.time),
        }
    }
}

fn shape(mode: &SettlingMode) -> Vec<ShapeEntry> {
    let entry = |(node, own): (usize, &crate::solver::settling::NodeShare)| ShapeEntry {
        node: node + 1,
        amplitude: own.amplitude,
        angle_degrees: own.angle.to_degrees(),
    };
    mode.shape.iter().enumerate().map(entry).collect()
}

impl LoadEntry {
    fn new(load: &LoadSettling) -> Self {
        let settled = load.settled.as_ref();
        Self {
            load: load.share,
            switching_frequency: settled.map(|own| own.switching_frequency),
            decay_per_period: settled.map(|own| own.slowest.decay_per_period()),
            periods_to_1_percent: settled.and_then(|own| periods(&own.slowest)),
        }
    }
}
