//! The summary of `check`.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Drive, Rectifier};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::solver::{Method, PhaseState};
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::nominal::Baseline;
use crate::units::{Ampere, Hertz};

/// What `check` found.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CheckResults {
    /// The nominal converter, one entry an operating point and arrangement.
    results: Vec<NominalResult>,
}

/// The nominal converter at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
struct NominalResult {
    operating_point: String,
    arrangement: Arrangement,
    drive: Drive,
    rectifier: Rectifier,
    /// Whether the scenario left drive or rectifier open.
    configuration_chosen: bool,
    configuration_choice: Option<ConfigurationChoiceEntry>,
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Hertz,
    /// Phase by phase.
    #[serde(rename = "output_current_A")]
    output_current: Vec<Ampere>,
    /// Phase by phase.
    #[serde(rename = "rms_tank_current_A")]
    rms_tank_current: Vec<Ampere>,
    /// Phase by phase.
    #[serde(rename = "peak_tank_current_A")]
    peak_tank_current: Vec<Ampere>,
    /// A fraction.
    sharing_error: f64,
    /// Of the driven leg, half-way through their ripple; none in the paralleled arrangement.
    #[serde(rename = "flying_capacitor_voltage_V")]
    flying_capacitor_voltage: Vec<f64>,
    /// Highest of any switch.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<f64>,
    /// In resistances and rectifiers.
    #[serde(rename = "loss_W")]
    loss: Option<f64>,
}

/// The nominal converter's solution in every case.
pub(super) fn summary(
    scenario: &Scenario,
    method: Method,
    baselines: &[Baseline],
) -> SummaryFile<CheckResults> {
    let results = baselines.iter().map(|baseline| nominal_result(scenario, baseline)).collect();
    SummaryFile::new("check", scenario, method, CheckResults { results })
}

fn nominal_result(scenario: &Scenario, baseline: &Baseline) -> NominalResult {
    let nominal = scenario.nominal_converter();
    let (point, arrangement) = (&baseline.case.point, baseline.case.arrangement);
    let state = &baseline.state;
    let measured =
        SolvedConverter::new(state, &nominal, point, arrangement, scenario.neutral_split);
    let value = |f: Figure| Some(measured.value(f)).filter(|x| !x.is_nan());
    let phases = |of: fn(&PhaseState) -> Ampere| state.phases.iter().map(of).collect();
    NominalResult {
        operating_point: point.name.clone(),
        arrangement,
        drive: point.drive,
        rectifier: point.rectifier,
        configuration_chosen: baseline.choice.is_some(),
        configuration_choice: baseline.choice.as_ref().map(ConfigurationChoiceEntry::new),
        switching_frequency: state.switching_frequency,
        output_current: phases(|p| p.output_current),
        rms_tank_current: phases(|p| p.rms_current),
        peak_tank_current: phases(|p| p.peak_current),
        sharing_error: measured.sharing_error(scenario.limits.sharing),
        flying_capacitor_voltage: (1..scenario.phases)
            .filter_map(|k| value(Figure::FlyingVoltage(k - 1)))
            .collect(),
        blocking_voltage: value(Figure::WorstBlocking),
        loss: value(Figure::Loss),
    }
}
