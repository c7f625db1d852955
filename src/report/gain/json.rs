//! The summary of `gain`.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Drive, Rectifier};
use crate::report::format::configuration::json::ConfigurationCandidateEntry;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::study::common::curve::{POINTS, Peak, VoltageRange};
use crate::study::gain::{ConfigurationGain, Coverage, Gain, LoadCurve, PointGain};
use crate::units::{Ampere, Hertz, Volt};

/// What `gain` found. The curves themselves are in `gain.csv`.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct GainResults {
    /// The arrangement of the curves.
    arrangement: Arrangement,
    /// Input voltage of the curves.
    #[serde(rename = "input_voltage_V")]
    input_voltage: Volt,
    /// Largest output current of the operating points, of which the loads are shares.
    #[serde(rename = "rated_current_A")]
    rated_current: Ampere,
    /// The loads of the curves, as fractions of the rated current.
    loads: Vec<f64>,
    /// Number of frequencies of a curve.
    frequencies: u16,
    /// Lower end of the frequency band.
    #[serde(rename = "lowest_frequency_Hz")]
    lowest_frequency: Hertz,
    /// Upper end of the frequency band.
    #[serde(rename = "highest_frequency_Hz")]
    highest_frequency: Hertz,
    /// Points of all curves at which the solver failed.
    not_solved: usize,
    /// What decides among configurations that work.
    prefer: &'static str,
    /// Whether every operating point is reached in a configuration that it may take.
    all_covered: bool,
    /// The curves of every configuration.
    configurations: Vec<ConfigurationCurves>,
    /// How the configurations together cover the output voltages, one entry a load.
    coverage: Vec<LoadCoverage>,
    /// The operating points in every configuration.
    operating_points: Vec<PointEntry>,
}

/// The curves of one configuration.
#[derive(Debug, Serialize, JsonSchema)]
struct ConfigurationCurves {
    drive: Drive,
    rectifier: Rectifier,
    /// One entry a load.
    curves: Vec<CurveEntry>,
}

/// Output voltage over frequency at one load.
#[derive(Debug, Serialize, JsonSchema)]
struct CurveEntry {
    /// Output current as a fraction of the rated current.
    load: f64,
    #[serde(rename = "output_current_A")]
    output_current: Ampere,
    /// Null where nothing was solved.
    peak: Option<PeakEntry>,
    /// Voltages between the highest frequency and the peak; null where nothing was solved.
    #[serde(rename = "output_voltage_V")]
    output_voltage: Option<RangeEntry>,
    /// Frequencies at which the solver failed.
    not_solved: usize,
}

/// The highest output voltage of a curve.
#[derive(Debug, Serialize, JsonSchema)]
struct PeakEntry {
    #[serde(rename = "frequency_Hz")]
    frequency: Hertz,
    #[serde(rename = "output_voltage_V")]
    output_voltage: Volt,
    /// Voltage gain: turns ratio × output voltage over a phase's share of the input voltage.
    gain: f64,
    /// Whether the peak lies at an end of the band, so that the true peak lies outside.
    at_end_of_band: bool,
}

/// Voltages from the lowest to the highest, in volt.
#[derive(Debug, Serialize, JsonSchema)]
struct RangeEntry {
    lowest: Volt,
    highest: Volt,
}

/// How the configurations together cover the output voltages at one load.
#[derive(Debug, Serialize, JsonSchema)]
struct LoadCoverage {
    /// Output current as a fraction of the rated current.
    load: f64,
    #[serde(rename = "output_current_A")]
    output_current: Ampere,
    /// What pairs of configurations have in common.
    overlaps: Vec<OverlapEntry>,
    /// Voltages between the lowest and the highest asked for that no configuration reaches, in
    /// volt.
    gaps: Vec<RangeEntry>,
}

/// Voltages that two configurations both reach.
#[derive(Debug, Serialize, JsonSchema)]
struct OverlapEntry {
    /// Names of the two.
    configurations: [String; 2],
    #[serde(rename = "output_voltage_V")]
    output_voltage: RangeEntry,
}

/// One operating point in every configuration.
#[derive(Debug, Serialize, JsonSchema)]
struct PointEntry {
    /// Name of the operating point.
    operating_point: String,
    #[serde(rename = "input_voltage_V")]
    input_voltage: Volt,
    #[serde(rename = "output_voltage_V")]
    output_voltage: Volt,
    #[serde(rename = "output_current_A")]
    output_current: Ampere,
    /// Voltage gain that it asks for.
    gain: f64,
    /// Whether the scenario leaves drive or rectifier open, so that the tool chooses.
    configuration_chosen: bool,
    /// Whether a configuration that it may take reaches it.
    covered: bool,
    /// Every configuration that was tried.
    candidates: Vec<ConfigurationCandidateEntry>,
}

/// Voltage gain over frequency, the operating points, and how the configurations cover them.
pub(super) fn summary(scenario: &Scenario, gain: &Gain) -> SummaryFile<GainResults> {
    let configurations = gain.configurations.iter();
    let results = GainResults {
        arrangement: Arrangement::Chain,
        input_voltage: gain.input_voltage,
        rated_current: gain.rated_current,
        loads: gain.loads.clone(),
        frequencies: POINTS,
        lowest_frequency: scenario.frequency.minimum,
        highest_frequency: scenario.frequency.maximum,
        not_solved: gain.not_solved(),
        prefer: scenario.prefer.name(),
        all_covered: gain.covers_all(),
        configurations: configurations.map(|c| ConfigurationCurves::new(gain, c)).collect(),
        coverage: gain.coverage.iter().map(|c| LoadCoverage::new(gain, c)).collect(),
        operating_points: gain.points.iter().map(PointEntry::new).collect(),
    };
    SummaryFile::new("gain", scenario, gain.method, results)
}

impl ConfigurationCurves {
    fn new(gain: &Gain, found: &ConfigurationGain) -> Self {
        Self {
            drive: found.configuration.drive,
            rectifier: found.configuration.rectifier,
            curves: found.curves.iter().map(|curve| CurveEntry::new(gain, curve)).collect(),
        }
    }
}

impl CurveEntry {
    fn new(gain: &Gain, found: &LoadCurve) -> Self {
        Self {
            load: gain.loads[found.load],
            output_current: gain.current(found.load),
            peak: found.curve.peak.map(|peak| PeakEntry::new(gain, &peak)),
            output_voltage: found.curve.range().map(|range| RangeEntry::new(&range)),
            not_solved: found.curve.not_solved(),
        }
    }
}

impl PeakEntry {
    fn new(gain: &Gain, peak: &Peak) -> Self {
        Self {
            frequency: peak.frequency,
            output_voltage: peak.voltage,
            gain: gain.gain_at(peak.voltage),
            at_end_of_band: peak.at_end,
        }
    }
}

impl RangeEntry {
    fn new(range: &VoltageRange) -> Self {
        Self { lowest: range.lowest, highest: range.highest }
    }
}

impl LoadCoverage {
    fn new(gain: &Gain, coverage: &Coverage) -> Self {
        let name = |n: usize| gain.configurations[n].configuration.name();
        let overlaps = coverage.overlaps.iter().map(|overlap| OverlapEntry {
            configurations: overlap.configurations.map(name),
            output_voltage: RangeEntry::new(&overlap.voltages),
        });
        Self {
            load: gain.loads[coverage.load],
            output_current: gain.current(coverage.load),
            overlaps: overlaps.collect(),
            gaps: coverage.gaps.iter().map(RangeEntry::new).collect(),
        }
    }
}

impl PointEntry {
    fn new(point: &PointGain) -> Self {
        let request = &point.request;
        Self {
            operating_point: request.name.clone(),
            input_voltage: request.input_voltage,
            output_voltage: request.output_voltage,
            output_current: request.output_current,
            gain: point.gain,
            configuration_chosen: point.choice.open,
            covered: point.choice.chosen.is_some(),
            candidates: ConfigurationCandidateEntry::all(&point.choice),
        }
    }
}
