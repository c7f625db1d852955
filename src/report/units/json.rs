//! The summary of `units`.

use schemars::JsonSchema;
use serde::Serialize;

use super::source::PartsSource;
use crate::converter::{Arrangement, Sharing};
use crate::report::format::commutation::json::{
    CommutatedCase, CommutationEntry, SoftSwitchingEntry,
};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::{Listed, UnitResult};
use crate::units::{Ampere, Hertz, Volt, Watt};

/// What `units` found. All currents of all phases are in `units.csv`.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct UnitsResults {
    /// How the parts file was read, such as `with decimal commas`; null for the plain form.
    parts_read_as: Option<String>,
    /// Which sharing error is meant.
    sharing: Sharing,
    /// How the configuration was chosen of every operating point that leaves it open.
    configuration_choices: Vec<ConfigurationChoiceEntry>,
    /// One entry a unit, operating point and arrangement.
    results: Vec<UnitEntry>,
    /// How each switch turns on; empty where the scenario does not describe the switches, and where
    /// the averaged solver was asked.
    commutation: Vec<CommutationEntry>,
}

/// One converter at one operating point in one arrangement.
#[derive(Debug, Serialize, JsonSchema)]
struct UnitEntry {
    /// Name of the converter in the parts file.
    unit: String,
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// Switching frequency that delivers the output; null where not solved.
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<Hertz>,
    /// A fraction; null where not solved.
    sharing_error: Option<f64>,
    /// Highest RMS current of any switch; null where not solved.
    #[serde(rename = "switch_rms_current_A")]
    switch_rms_current: Option<Ampere>,
    /// Highest peak current of any switch; null where not solved.
    #[serde(rename = "switch_peak_current_A")]
    switch_peak_current: Option<Ampere>,
    /// Highest blocking voltage of any switch, with the assumed drift of the flying-capacitor voltages;
    /// null where not solved.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<Volt>,
    /// Phase by phase; null where not solved.
    #[serde(rename = "output_current_A")]
    output_current: Option<Vec<Ampere>>,
    /// Energy lost at turn-on times the switching frequency; null without `commutation`.
    #[serde(rename = "commutation_loss_W")]
    commutation_loss: Option<Watt>,
    /// Null without `commutation`.
    soft_switching: Option<SoftSwitchingEntry>,
}

/// The summary of converters whose parts are known.
pub(super) fn summary(
    scenario: &Scenario,
    parts: &PartsSource,
    method: Method,
    listed: &Listed,
) -> SummaryFile<UnitsResults> {
    let results = UnitsResults {
        parts_read_as: parts.read_as.clone(),
        sharing: scenario.limits.sharing,
        configuration_choices: listed.choices.iter().map(ConfigurationChoiceEntry::new).collect(),
        results: listed.results.iter().map(UnitEntry::new).collect(),
        commutation: listed.results.iter().flat_map(commutation).collect(),
    };
    SummaryFile::new("units", scenario, method, results)
}

fn commutation(result: &UnitResult) -> Vec<CommutationEntry> {
    let subject = CommutatedCase {
        unit: Some(&result.unit),
        operating_point: &result.point.name,
        arrangement: result.arrangement,
    };
    result.switching.as_ref().map_or_else(Vec::new, |s| CommutationEntry::all(subject, s))
}

impl UnitEntry {
    fn new(result: &UnitResult) -> Self {
        let state = result.outcome.solved();
        Self {
            unit: result.unit.clone(),
            operating_point: result.point.name.clone(),
            arrangement: result.arrangement,
            status: result.outcome.name(),
            switching_frequency: state.map(|s| s.switching_frequency),
            sharing_error: result.sharing_error,
            switch_rms_current: result.worst_switches.map(|switches| switches.rms_current),
            switch_peak_current: result.worst_switches.map(|switches| switches.peak_current),
            blocking_voltage: result.worst_switches.map(|switches| switches.blocking_voltage),
            commutation_loss: result.switching.as_ref().map(|s| s.commutation.loss),
            soft_switching: result.switching.as_ref().map(SoftSwitchingEntry::new),
            output_current: state.map(|s| s.phases.iter().map(|p| p.output_current).collect()),
        }
    }
}
