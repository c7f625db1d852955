//! Stand-ins of figures: linear models of the phases, put together as the figure puts the phases
//! together. They cost nothing beside a solved converter.

use super::linear::LinearModel;
use crate::converter::{Measure, Shared};
use crate::study::common::figures::Figure;

/// A function of the parts that comes near a figure.
#[derive(Debug, Clone)]
pub(super) enum StandIn {
    /// A linear model of the figure itself.
    Linear(LinearModel),
    /// The sharing error of linear models of the phases.
    Sharing(Measure, Vec<LinearModel>),
    /// The highest of linear models of the phases, times a factor.
    Highest(f64, Vec<LinearModel>),
}

/// The figures of the phases that a figure is made of; none where it is taken by itself.
pub(super) fn phase_figures(figure: Figure, phases: usize) -> Option<Vec<Figure>> {
    let of_phase: fn(usize) -> Figure = match figure {
        Figure::SharingError(sharing) => match sharing.share {
            Shared::OutputCurrent => Figure::OutputCurrent,
            Shared::MeanTankCurrent => Figure::MeanCurrent,
            Shared::RmsTankCurrent => Figure::RmsCurrent,
        },
        Figure::WorstSwitchRms => Figure::RmsCurrent,
        Figure::WorstSwitchPeak => Figure::PeakCurrent,
        _ => return None,
    };
    Some((0..phases).map(of_phase).collect())
}

impl StandIn {
    /// Puts the models of the phases together as the figure does. `ratio` is the figure over the
    /// highest of its phases, for the nominal converter.
    pub(super) fn of_phases(figure: Figure, models: Vec<LinearModel>, ratio: f64) -> Self {
        match figure {
            Figure::SharingError(sharing) => Self::Sharing(sharing.measure, models),
            _ => Self::Highest(ratio, models),
        }
    }

    /// Its value for a converter with these deviations.
    pub(super) fn value(&self, deviations: &[f64]) -> f64 {
        match self {
            Self::Linear(model) => model.value(deviations),
            Self::Sharing(measure, models) => {
                let values: Vec<f64> = models.iter().map(|m| m.value(deviations)).collect();
                measure.error(values.iter().copied())
            }
            Self::Highest(factor, models) => {
                let values = models.iter().map(|model| model.value(deviations));
                factor * values.fold(f64::NEG_INFINITY, f64::max)
            }
        }
    }
}
