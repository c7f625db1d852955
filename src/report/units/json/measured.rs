//! Measured currents in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Shared};
use crate::study::units::{LargestDeviation, Listed, MeasuredLoad};
use crate::units::{Ampere, Watt};

/// Measured currents of one unit at one load, phase by phase.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct MeasuredLoadEntry {
    /// Name of the unit in the parts file.
    unit: String,
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    #[serde(rename = "output_power_W")]
    output_power: Watt,
    /// Of the prediction: `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// The sharing error of the measured currents; null where the shared current of a phase is missing.
    measured_sharing_error: Option<f64>,
    /// The same of the predicted ones; null too where not solved.
    predicted_sharing_error: Option<f64>,
    #[serde(rename = "output_current_A")]
    output_current: ComparedPhases,
    #[serde(rename = "mean_abs_tank_current_A")]
    mean_abs_current: ComparedPhases,
    #[serde(rename = "rms_tank_current_A")]
    rms_current: ComparedPhases,
}

/// A current, phase by phase.
#[derive(Debug, Serialize, JsonSchema)]
struct ComparedPhases {
    /// Null where it was not measured.
    measured: Vec<Option<Ampere>>,
    /// Null where not solved.
    predicted: Vec<Option<Ampere>>,
    /// Measured less predicted.
    difference: Vec<Option<Ampere>>,
}

/// All measured currents together.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct DeviationEntry {
    /// Measured currents that have a prediction.
    compared: usize,
    /// Measured currents whose prediction is not solved.
    without_prediction: usize,
    /// How many of those compared deviate by more than the measuring uncertainty; null where it was not
    /// given.
    outside_uncertainty: Option<usize>,
    /// The measured current that deviates most; null where none has a prediction.
    largest: Option<LargestDeviationEntry>,
}

/// A measured current and its prediction.
#[derive(Debug, Serialize, JsonSchema)]
struct LargestDeviationEntry {
    unit: String,
    operating_point: String,
    arrangement: Arrangement,
    #[serde(rename = "output_power_W")]
    output_power: Watt,
    /// Counted from 1.
    phase: usize,
    /// Which current.
    current: Shared,
    #[serde(rename = "measured_A")]
    measured: Ampere,
    #[serde(rename = "predicted_A")]
    predicted: Option<Ampere>,
    /// Measured less predicted.
    #[serde(rename = "difference_A")]
    difference: Option<Ampere>,
    /// The difference as a fraction of the mean predicted current of all phases.
    relative_to_mean: f64,
}

impl MeasuredLoadEntry {
    pub(super) fn new(load: &MeasuredLoad) -> Self {
        Self {
            unit: load.unit.clone(),
            operating_point: load.operating_point.clone(),
            arrangement: load.arrangement(),
            output_power: load.output_power(),
            status: load.outcome.status,
            measured_sharing_error: load.sharing.map(|sharing| sharing.measured),
            predicted_sharing_error: load.sharing.and_then(|sharing| sharing.predicted),
            output_current: ComparedPhases::new(load, Shared::OutputCurrent),
            mean_abs_current: ComparedPhases::new(load, Shared::MeanTankCurrent),
            rms_current: ComparedPhases::new(load, Shared::RmsTankCurrent),
        }
    }
}

impl ComparedPhases {
    fn new(load: &MeasuredLoad, current: Shared) -> Self {
        let phases = || 0..load.reading.phases.len();
        let compared = || phases().map(|phase| load.comparison(phase, current));
        let predicted =
            |phase: usize| load.predicted.as_ref().map(|phases| phases[phase].shared(current));
        Self {
            measured: compared().map(|comparison| Some(comparison?.measured)).collect(),
            predicted: phases().map(predicted).collect(),
            difference: compared().map(|comparison| comparison?.difference()).collect(),
        }
    }
}

impl DeviationEntry {
    pub(super) fn new(listed: &Listed) -> Option<Self> {
        let all = &listed.deviations;
        let largest =
            all.largest.as_ref().map(|largest| LargestDeviationEntry::new(listed, largest));
        (!listed.measured.is_empty()).then_some(Self {
            compared: all.compared,
            without_prediction: all.without_prediction,
            outside_uncertainty: all.outside_uncertainty,
            largest,
        })
    }
}

impl LargestDeviationEntry {
    fn new(listed: &Listed, largest: &LargestDeviation) -> Self {
        let LargestDeviation { load, comparison, relative } = largest;
        let load = &listed.measured[*load];
        Self {
            unit: load.unit.clone(),
            operating_point: load.operating_point.clone(),
            arrangement: load.arrangement(),
            output_power: load.output_power(),
            phase: comparison.phase + 1,
            current: comparison.current,
            measured: comparison.measured,
            predicted: comparison.predicted.map(|predicted| predicted.value),
            difference: comparison.difference(),
            relative_to_mean: *relative,
        }
    }
}
