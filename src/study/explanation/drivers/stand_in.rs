//! Stand-ins of figures: linear models of the phases, put together as the figure puts the phases
//! together. They cost nothing beside a solved converter.

use super::exchanged::Exchanged;
use super::linear::LinearModel;
use crate::converter::{Measure, Shared};
use crate::study::common::figures::Figure;

/// A function of the parts that comes near a figure.
#[derive(Debug, Clone)]
pub(super) struct StandIn {
    models: Vec<LinearModel>,
    made: Made,
}

/// How a figure is made of its models.
#[derive(Debug, Clone, Copy)]
enum Made {
    /// There is one, of the figure itself.
    Itself,
    /// The sharing error of those of the phases.
    Sharing(Measure),
    /// The highest of those of the phases, times a factor.
    Highest(f64),
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
    /// A linear model of the figure itself.
    pub(super) fn linear(model: LinearModel) -> Self {
        Self { models: vec![model], made: Made::Itself }
    }

    /// Puts the models of the phases together as the figure does. `ratio` is the figure over the
    /// highest of its phases, for the nominal converter.
    pub(super) fn of_phases(figure: Figure, models: Vec<LinearModel>, ratio: f64) -> Self {
        let made = match figure {
            Figure::SharingError(sharing) => Made::Sharing(sharing.measure),
            _ => Made::Highest(ratio),
        };
        Self { models, made }
    }

    /// Its value for a converter with these deviations.
    pub(super) fn value(&self, deviations: &[f64]) -> f64 {
        self.made.of(self.models.iter().map(|model| model.value(deviations)))
    }

    /// Its value for a converter with these deviations, as a function of those that are exchanged.
    pub(super) fn about<'a>(&'a self, deviations: &'a [f64]) -> impl Fn(&Exchanged) -> f64 + 'a {
        let own: Vec<f64> = self.models.iter().map(|model| model.value(deviations)).collect();
        move |exchanged| {
            let models = self.models.iter().zip(&own);
            self.made.of(models.map(|(model, own)| own + model.change(deviations, exchanged)))
        }
    }
}

impl Made {
    fn of(self, mut models: impl Iterator<Item = f64> + Clone) -> f64 {
        match self {
            Self::Itself => models.next().unwrap_or(f64::NAN),
            Self::Sharing(measure) => measure.error(models),
            Self::Highest(factor) => factor * models.fold(f64::NEG_INFINITY, f64::max),
        }
    }
}
