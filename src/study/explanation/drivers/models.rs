//! The linear models of all figures, fitted to samples of the run that are not exchanged.

use super::linear::{LinearFits, LinearModel, deviations};
use super::question::DriverQuestion;
use super::stand_in::{StandIn, phase_figures};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;

/// The models of one case.
#[derive(Debug, Clone)]
pub(super) struct Models {
    /// One a case and figure, in the order of the question.
    pub(super) cases: Vec<Vec<FigureModel>>,
}

/// What is known of a figure before any converter is solved again.
#[derive(Debug, Clone)]
pub(super) struct FigureModel {
    /// A typical value.
    pub(super) centre: f64,
    /// Share of the variance that a linear model of the figure explains.
    pub(super) linear: Option<f64>,
    /// Its stand-in, where enough samples were kept.
    pub(super) stand_in: Option<StandIn>,
}

/// The samples that are fitted to: those that are not exchanged, if these are many.
struct Fitted {
    samples: Vec<u64>,
    rows: Vec<Vec<f64>>,
}

impl Models {
    /// Fits them, case by case on all threads.
    pub(super) fn fit(question: &DriverQuestion) -> Result<Self, StudyError> {
        let fitted = Fitted::new(question);
        let places: Vec<usize> = (0..question.figures.len()).collect();
        let workers = question.explained.session.workers();
        let cases = workers.map(&places, |case| {
            let fits = LinearFits::over(&fitted.rows);
            let mut own = CaseFits { question, case: *case, samples: &fitted.samples, fits };
            question.figures[*case].iter().map(|figure| own.model(*figure)).collect()
        })?;
        Ok(Self { cases })
    }
}

impl Fitted {
    fn new(question: &DriverQuestion) -> Self {
        let (exchanged, all) = (2 * question.draws, question.explained.kept.measured());
        let first = if all - exchanged >= all / 4 { exchanged } else { 0 };
        let samples: Vec<u64> = (first..all).collect();
        let nominal = question.explained.session.nominal();
        let row = |sample: &u64| {
            deviations(&question.population.draw(*sample), nominal, &question.properties)
        };
        Self { rows: samples.iter().map(row).collect(), samples }
    }
}

/// What is fitted in one case.
struct CaseFits<'a> {
    question: &'a DriverQuestion<'a>,
    case: usize,
    samples: &'a [u64],
    fits: LinearFits<'a>,
}

impl CaseFits<'_> {
    /// The values of a figure.
    fn values(&self, figure: Figure) -> Vec<Option<f64>> {
        let kept = self.question.explained.kept;
        self.samples.iter().map(|sample| kept.figure(*sample, self.case, figure)).collect()
    }

    fn linear(&mut self, figure: Figure) -> Option<LinearModel> {
        let values = self.values(figure);
        self.fits.fit(&values)
    }

    fn model(&mut self, figure: Figure) -> FigureModel {
        let linear = self.linear(figure);
        let explained = linear.as_ref().and_then(|model| model.explained);
        let phases = self.question.explained.session.scenario().phases;
        let stand_in = match phase_figures(figure, phases) {
            None => linear.map(StandIn::linear),
            Some(of_phases) => self.of_phases(figure, &of_phases),
        };
        let centre = mean(&self.values(figure)).unwrap_or(0.0);
        FigureModel { centre, linear: explained, stand_in }
    }

    /// The stand-in of a figure that is made of figures of the phases.
    fn of_phases(&mut self, figure: Figure, of_phases: &[Figure]) -> Option<StandIn> {
        let models: Option<Vec<LinearModel>> =
            of_phases.iter().map(|phase| self.linear(*phase)).collect();
        let models = models?;
        let highest = StandIn::of_phases(figure, models.clone(), 1.0);
        let modelled: Vec<Option<f64>> =
            self.fits.rows().iter().map(|x| Some(highest.value(x))).collect();
        let ratio = mean(&self.values(figure))? / mean(&modelled)?;
        Some(StandIn::of_phases(figure, models, ratio))
    }
}

fn mean(values: &[Option<f64>]) -> Option<f64> {
    let known: Vec<f64> = values.iter().copied().flatten().collect();
    (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
}
