//! The summary of `units`.

mod measured;
mod over_load;
mod verdicts;

use schemars::JsonSchema;
use serde::Serialize;

use self::measured::{DeviationEntry, MeasuredLoadEntry};
use self::over_load::LoadCurrentsEntry;
use self::verdicts::{LimitsMetEntry, UnitVerdictEntry};
use super::source::UnitsSource;
use crate::converter::{Arrangement, Sharing};
use crate::report::format::commutation::json::{
    CommutatedCase, CommutationEntry, SoftSwitchingEntry,
};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::json::LimitsInForce;
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
    /// The same of the file of measured currents; null where there is none.
    measured_read_as: Option<String>,
    /// Which sharing error is meant.
    sharing: Sharing,
    limits: LimitsInForce,
    /// How many units meet every limit at every operating point, and what the others miss; by
    /// arrangement, the chain first.
    limits_met: Vec<LimitsMetEntry>,
    /// Every unit against every limit: one entry a unit, operating point and arrangement.
    units: Vec<UnitVerdictEntry>,
    /// How the configuration was chosen of every operating point that leaves it open.
    configuration_choices: Vec<ConfigurationChoiceEntry>,
    /// One entry a unit, operating point and arrangement.
    results: Vec<UnitEntry>,
    /// How each switch turns on; empty where the scenario does not describe the switches, and where
    /// the averaged solver was asked.
    commutation: Vec<CommutationEntry>,
    /// Expanded uncertainty of the measured currents, a fraction of them; null where it was not given.
    measuring_uncertainty: Option<f64>,
    /// All measured currents together; null where nothing was measured.
    deviations: Option<DeviationEntry>,
    /// Measured currents beside the predicted ones, one entry a unit and load.
    measured: Vec<MeasuredLoadEntry>,
    /// Every unit over load, in each arrangement; empty without `--over-load`.
    over_load: Vec<LoadCurrentsEntry>,
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
    source: &UnitsSource,
    method: Method,
    listed: &Listed,
) -> SummaryFile<UnitsResults> {
    let results = UnitsResults {
        parts_read_as: source.parts.read_as.clone(),
        measured_read_as: source.measured.as_ref().and_then(|file| file.read_as.clone()),
        sharing: scenario.limits.sharing,
        limits: LimitsInForce::new(scenario),
        limits_met: listed.limits_met.iter().map(LimitsMetEntry::new).collect(),
        units: listed.results.iter().map(UnitVerdictEntry::new).collect(),
        configuration_choices: listed.choices.iter().map(ConfigurationChoiceEntry::new).collect(),
        results: listed.results.iter().map(UnitEntry::new).collect(),
        commutation: listed.results.iter().flat_map(commutation).collect(),
        measuring_uncertainty: listed.measuring_uncertainty,
        deviations: DeviationEntry::new(listed),
        measured: listed.measured.iter().map(MeasuredLoadEntry::new).collect(),
        over_load: LoadCurrentsEntry::all(listed),
    };
    SummaryFile::new("units", scenario, method, results)
}

fn commutation(result: &UnitResult) -> Vec<CommutationEntry> {
    let subject = CommutatedCase {
        unit: Some(&result.name),
        operating_point: &result.point.name,
        arrangement: result.arrangement,
    };
    let switching = result.solved.as_ref().and_then(|solved| solved.switching.as_ref());
    switching.map_or_else(Vec::new, |s| CommutationEntry::all(subject, s))
}

impl UnitEntry {
    fn new(result: &UnitResult) -> Self {
        let solved = result.solved.as_ref();
        let worst = solved.map(|solved| solved.worst_switches);
        let switching = solved.and_then(|solved| solved.switching.as_ref());
        Self {
            unit: result.name.clone(),
            operating_point: result.point.name.clone(),
            arrangement: result.arrangement,
            status: result.outcome.status,
            switching_frequency: solved.map(|s| s.switching_frequency),
            sharing_error: solved.map(|s| s.sharing_error),
            switch_rms_current: worst.map(|switches| switches.rms_current),
            switch_peak_current: worst.map(|switches| switches.peak_current),
            blocking_voltage: worst.map(|switches| switches.blocking_voltage),
            commutation_loss: switching.map(|s| s.commutation.loss),
            soft_switching: switching.map(SoftSwitchingEntry::new),
            output_current: solved.map(|s| s.phases.iter().map(|p| p.output_current).collect()),
        }
    }
}
