//! The summary of `check`.

use schemars::JsonSchema;
use serde::Serialize;

use super::losses::LossesEntry;
use super::part_loads::NominalRatingEntry;
use super::switching::json::{CommonDeadTimesEntry, NominalSwitchingEntry};
use crate::converter::{Arrangement, Drive, Rectifier};
use crate::report::format::commutation::json::{CommutatedCase, CommutationEntry};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::missed::MissedEntry;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::solver::PhaseState;
use crate::study::check::{Check, DesignRatios, NominalCase};
use crate::units::{Ampere, Hertz, Ohm, Second, Volt, Watt};

/// What `check` found.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CheckResults {
    design: Design,
    /// The nominal converter, one entry an operating point and arrangement.
    results: Vec<NominalResult>,
    /// How each switch turns on; empty where the scenario does not describe the switches, and where
    /// the averaged solver was asked.
    commutation: Vec<CommutationEntry>,
    /// The dead times with which every switch turns on softly at every operating point, per
    /// arrangement; empty without `commutation`.
    soft_dead_times: Vec<CommonDeadTimesEntry>,
    /// What every part carries: over all operating points, then at each; empty with the averaged solver.
    ratings: Vec<NominalRatingEntry>,
}

/// What follows from the nominal parts alone.
#[derive(Debug, Serialize, JsonSchema)]
struct Design {
    /// Series resonant frequency of a tank.
    #[serde(rename = "series_resonance_Hz")]
    series_resonance: Hertz,
    /// Characteristic impedance of a tank: the root of resonant inductance over capacitance.
    #[serde(rename = "characteristic_impedance_ohm")]
    characteristic_impedance: Ohm,
    /// Magnetising inductance over resonant inductance.
    inductance_ratio: f64,
    /// Flying capacitance over resonant capacitance.
    capacitance_ratio: f64,
}

/// The nominal converter at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
struct NominalResult {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    drive: Drive,
    rectifier: Rectifier,
    /// Whether the scenario left drive or rectifier open, so that the tool chose.
    configuration_chosen: bool,
    /// How it chose; null where nothing was left open.
    configuration_choice: Option<ConfigurationChoiceEntry>,
    /// Switching frequency that delivers the output.
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Hertz,
    /// The same by the averaged (fundamental harmonic) solver; null where it finds no steady state.
    #[serde(rename = "averaged_switching_frequency_Hz")]
    averaged_frequency: Option<Hertz>,
    /// Phase by phase.
    #[serde(rename = "output_current_A")]
    output_current: Vec<Ampere>,
    /// Phase by phase.
    #[serde(rename = "rms_tank_current_A")]
    rms_tank_current: Vec<Ampere>,
    /// Phase by phase.
    #[serde(rename = "peak_tank_current_A")]
    peak_tank_current: Vec<Ampere>,
    /// Highest RMS current of any switch.
    #[serde(rename = "switch_rms_current_A")]
    switch_rms_current: Ampere,
    /// Highest peak current of any switch.
    #[serde(rename = "switch_peak_current_A")]
    switch_peak_current: Ampere,
    /// The sharing error that the limit is on, a fraction.
    sharing_error: f64,
    /// Of the driven leg, half-way through their ripple; none in the paralleled arrangement.
    #[serde(rename = "flying_capacitor_voltage_V")]
    flying_capacitor_voltage: Vec<Volt>,
    /// Highest blocking voltage of any switch, with the assumed drift of the flying-capacitor
    /// voltages.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Volt,
    /// Loss in resistances and rectifiers; with `[converter.losses]` at turn-on too, where that is told.
    #[serde(rename = "loss_W")]
    loss: Watt,
    /// Losses part by part; left out where the scenario does not tell them apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    losses: Option<LossesEntry>,
    /// Until a disturbance of the flying capacitors is below 1 %; left out without a limit on it.
    #[serde(rename = "settling_time_s", skip_serializing_if = "Option::is_none")]
    settling_time: Option<Second>,
    /// The limits of the scenario that it misses.
    missed: Vec<MissedEntry>,
    /// Energy lost at turn-on times the switching frequency; null without `commutation`.
    #[serde(rename = "commutation_loss_W")]
    commutation_loss: Option<Watt>,
    /// Null without `commutation`.
    soft_switching: Option<NominalSwitchingEntry>,
}

/// The nominal converter's solution in every case.
pub(super) fn summary(scenario: &Scenario, check: &Check) -> SummaryFile<CheckResults> {
    let results = CheckResults {
        design: Design::new(&check.design),
        results: check.cases.iter().map(NominalResult::new).collect(),
        commutation: check.cases.iter().flat_map(commutation).collect(),
        soft_dead_times: CommonDeadTimesEntry::all(check),
        ratings: NominalRatingEntry::all(scenario, check),
    };
    SummaryFile::new("check", scenario, check.method, results)
}

fn commutation(case: &NominalCase) -> Vec<CommutationEntry> {
    let point = &case.baseline.case.point.name;
    let subject =
        CommutatedCase { unit: None, operating_point: point, arrangement: case.arrangement() };
    case.switching.as_ref().map_or_else(Vec::new, |s| CommutationEntry::all(subject, &s.now))
}

impl Design {
    fn new(design: &DesignRatios) -> Self {
        Self {
            series_resonance: design.series_resonance,
            characteristic_impedance: design.characteristic_impedance,
            inductance_ratio: design.inductance_ratio,
            capacitance_ratio: design.capacitance_ratio,
        }
    }
}

impl NominalResult {
    fn new(case: &NominalCase) -> Self {
        let baseline = &case.baseline;
        let (point, state) = (&baseline.case.point, &baseline.state);
        let by_phase = |current: fn(&PhaseState) -> Ampere| state.phases.iter().map(current);
        Self {
            operating_point: point.name.clone(),
            arrangement: case.arrangement(),
            drive: point.drive,
            rectifier: point.rectifier,
            configuration_chosen: baseline.choice.is_some(),
            configuration_choice: baseline.choice.as_ref().map(ConfigurationChoiceEntry::new),
            switching_frequency: state.switching_frequency,
            averaged_frequency: case.averaged_frequency,
            output_current: by_phase(|p| p.output_current).collect(),
            rms_tank_current: by_phase(|p| p.rms_current).collect(),
            peak_tank_current: by_phase(|p| p.peak_current).collect(),
            switch_rms_current: case.switch_rms_current,
            switch_peak_current: case.switch_peak_current,
            sharing_error: case.sharing_error,
            flying_capacitor_voltage: case.flying_voltages.clone(),
            blocking_voltage: case.blocking_voltage,
            loss: case.loss,
            losses: case.dissipation.as_ref().map(LossesEntry::new),
            settling_time: case.settling_time,
            missed: case.missed.iter().map(MissedEntry::new).collect(),
            commutation_loss: case.switching.as_ref().map(|s| s.now.commutation.loss),
            soft_switching: case.switching.as_ref().map(NominalSwitchingEntry::new),
        }
    }
}
