//! Measured currents beside the predicted ones.

use super::unit_result::{SearchOutcome, UnitPhase};
use crate::converter::{Arrangement, Shared, Sharing};
use crate::population::current_readings::{CurrentReading, PhaseReading};
use crate::solver::{Outcome, SteadyState};
use crate::units::{Ampere, Hertz, Watt};

/// Currents measured on a converter at one load, with the prediction for that load.
#[derive(Debug)]
pub struct MeasuredLoad {
    /// What was measured, and where.
    pub reading: CurrentReading,
    /// The converter's name.
    pub unit: String,
    /// The operating point's name.
    pub operating_point: String,
    /// Whether the output power is that of the operating point.
    pub is_full_power: bool,
    /// What became of the search for the prediction.
    pub outcome: SearchOutcome,
    /// The predicted switching frequency, if solved.
    pub switching_frequency: Option<Hertz>,
    /// The predicted currents, one a phase, if solved.
    pub predicted: Option<Vec<UnitPhase>>,
    /// Sharing errors, if the shared current was measured in all phases.
    pub sharing: Option<SharingComparison>,
}

/// A sharing error, measured and predicted; fractions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharingComparison {
    /// Of the measured currents.
    pub measured: f64,
    /// Of the predicted ones; none where the prediction is not solved.
    pub predicted: Option<f64>,
}

/// A measured current of a phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurrentComparison {
    /// Which current.
    pub current: Shared,
    /// The phase, from 0.
    pub phase: usize,
    /// What was measured.
    pub measured: Ampere,
    /// What was predicted, and the mean over all phases; none where the prediction is not solved.
    pub predicted: Option<PredictedCurrent>,
}

/// A predicted current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PredictedCurrent {
    /// Of the phase.
    pub value: Ampere,
    /// The mean over all phases.
    pub mean: Ampere,
}

/// The measured current that deviates most from its prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct LargestDeviation {
    /// Its load, among [`Listed::measured`](super::Listed::measured).
    pub load: usize,
    /// The current.
    pub comparison: CurrentComparison,
    /// The deviation, a fraction of the phases' mean.
    pub relative: f64,
}

/// All measured currents beside their predictions.
#[derive(Debug, Clone, Default)]
pub struct DeviationSummary {
    /// Measured currents that have a prediction.
    pub compared: usize,
    /// Measured currents whose prediction is not solved.
    pub without_prediction: usize,
    /// The measured current that deviates most; none where no prediction is solved.
    pub largest: Option<LargestDeviation>,
    /// How many of those compared deviate by more than the measuring uncertainty; none where it was
    /// not given.
    pub outside_uncertainty: Option<usize>,
}

impl CurrentComparison {
    /// Measured less predicted.
    pub fn difference(&self) -> Option<Ampere> {
        self.predicted.map(|predicted| Ampere(self.measured.0 - predicted.value.0))
    }

    /// The difference as a fraction of the phases' mean predicted current. A phase that carries next to
    /// nothing so cannot deviate by more than the others.
    pub fn relative(&self) -> Option<f64> {
        let mean = self.predicted?.mean.0;
        self.difference().filter(|_| mean > 0.0).map(|difference| difference.0 / mean)
    }

    /// Whether the prediction lies within the uncertainty of the measured value, a fraction of it.
    pub fn is_within(&self, uncertainty: f64) -> Option<bool> {
        self.difference().map(|difference| difference.0.abs() <= uncertainty * self.measured.0)
    }
}

impl MeasuredLoad {
    /// Sets a reading beside the prediction.
    pub(super) fn new(reading: &CurrentReading, place: MeasuredPlace, outcome: &Outcome) -> Self {
        let MeasuredPlace { unit, operating_point, is_full_power, sharing } = place;
        let measured = reading.phases.iter().map(|phase| shared(phase, sharing.share));
        let measured: Option<Vec<f64>> = measured.map(|current| Some(current?.0)).collect();
        let error = |state: &SteadyState| {
            sharing.measure.error(state.phases.iter().map(|p| p.shared(sharing.share).0))
        };
        let sharing_comparison = measured.map(|measured| SharingComparison {
            measured: sharing.measure.error(measured.iter().copied()),
            predicted: outcome.solved().map(error),
        });
        Self {
            reading: reading.clone(),
            unit,
            operating_point,
            is_full_power,
            outcome: SearchOutcome::from(outcome),
            switching_frequency: outcome.solved().map(|state| state.switching_frequency),
            predicted: outcome.solved().map(|state| UnitPhase::all(&state.phases)),
            sharing: sharing_comparison,
        }
    }

    /// Every measured current, phase by phase.
    pub fn comparisons(&self) -> impl Iterator<Item = CurrentComparison> + '_ {
        let phases = 0..self.reading.phases.len();
        let currents = phases.flat_map(|phase| Shared::ALL.map(|current| (phase, current)));
        currents.filter_map(|(phase, current)| self.comparison(phase, current))
    }

    /// One measured current of a phase, counted from 0; none where it was not measured.
    pub fn comparison(&self, phase: usize, current: Shared) -> Option<CurrentComparison> {
        let measured = shared(self.reading.phases.get(phase)?, current)?;
        let predicted = self.predicted.as_ref().map(|phases| PredictedCurrent {
            value: phases[phase].shared(current),
            mean: Ampere(
                phases.iter().map(|phase| phase.shared(current).0).sum::<f64>()
                    / phases.len() as f64,
            ),
        });
        Some(CurrentComparison { current, phase, measured, predicted })
    }

    /// The arrangement.
    pub fn arrangement(&self) -> Arrangement {
        self.reading.arrangement
    }

    /// The output power.
    pub fn output_power(&self) -> Watt {
        self.reading.output_power
    }
}

/// Where currents were measured, in names.
#[derive(Debug)]
pub(super) struct MeasuredPlace {
    pub(super) unit: String,
    pub(super) operating_point: String,
    pub(super) is_full_power: bool,
    pub(super) sharing: Sharing,
}

/// A measured current.
fn shared(phase: &PhaseReading, current: Shared) -> Option<Ampere> {
    match current {
        Shared::OutputCurrent => phase.output_current,
        Shared::MeanTankCurrent => phase.mean_abs_current,
        Shared::RmsTankCurrent => phase.rms_current,
    }
}

impl UnitPhase {
    /// A current that the phases may share.
    pub fn shared(&self, current: Shared) -> Ampere {
        match current {
            Shared::OutputCurrent => self.output_current,
            Shared::MeanTankCurrent => self.mean_abs_current,
            Shared::RmsTankCurrent => self.rms_current,
        }
    }
}

impl DeviationSummary {
    /// Of all measured loads; `uncertainty` is a fraction of the measured value.
    pub(super) fn new(loads: &[MeasuredLoad], uncertainty: Option<f64>) -> Self {
        let mut summary = Self { outside_uncertainty: uncertainty.map(|_| 0), ..Self::default() };
        for (load, measured) in loads.iter().enumerate() {
            for comparison in measured.comparisons() {
                summary.add(load, comparison, uncertainty);
            }
        }
        summary
    }

    fn add(&mut self, load: usize, comparison: CurrentComparison, uncertainty: Option<f64>) {
        if comparison.predicted.is_none() {
            self.without_prediction += 1;
            return;
        }
        self.compared += 1;
        let is_outside = uncertainty.and_then(|u| comparison.is_within(u)) == Some(false);
        self.outside_uncertainty = self.outside_uncertainty.map(|n| n + usize::from(is_outside));
        let Some(relative) = comparison.relative() else { return };
        let largest = self.largest.as_ref().map_or(-1.0, |largest| largest.relative.abs());
        if relative.abs() > largest {
            self.largest = Some(LargestDeviation { load, comparison, relative });
        }
    }
}
