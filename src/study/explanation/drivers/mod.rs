//! What drives the figures: the share of the variance that each parameter explains.
//!
//! The first samples of the run are the two independent draws. Converters that are the first but for
//! one parameter are solved in addition ([`PickFreeze`](crate::statistics::PickFreeze)). Linear models
//! that were fitted to other samples of the run stand in for the figures and make the intervals
//! narrower; they also tell how much of a figure a linear model explains.

mod group;
mod linear;
mod models;
mod sampling;
mod stand_in;

pub use self::group::{Driver, DriverPart};
use self::models::Models;
use crate::converter::{Arrangement, Parameter};
use crate::population::Population;
use crate::statistics::{Confidence, VarianceShares};
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::explanation::explained::Explained;

/// Fewer draws say too little.
const LEAST_DRAWS: u64 = 25;
/// Draws of the stand-ins.
const STAND_IN_DRAWS: u64 = 2048;

/// What drives the figures of all cases.
#[derive(Debug, Clone)]
pub struct Drivers {
    /// Draws of which each driver was exchanged.
    pub draws: u64,
    /// One a case, in the run's order.
    pub cases: Vec<CaseDrivers>,
}

/// What drives the figures of one operating point in one arrangement.
#[derive(Debug, Clone)]
pub struct CaseDrivers {
    /// Exchanged draws that have no figure, because one of the three converters is out of range or not
    /// solved. They are left out.
    pub left_out: u64,
    /// The limited figures, then the output current of every phase; those that do not vary are not
    /// here.
    pub figures: Vec<FigureDrivers>,
}

/// What drives one figure.
#[derive(Debug, Clone)]
pub struct FigureDrivers {
    /// The figure.
    pub figure: Figure,
    /// Share of its variance that a linear model of all parts explains; none where too few samples
    /// were kept to fit one.
    pub linear: Option<f64>,
    /// The drivers that the arrangement has, in the order of [`Driver::all`].
    pub shares: Vec<DriverShares>,
}

/// What a driver explains of a figure.
#[derive(Debug, Clone)]
pub struct DriverShares {
    /// The driver.
    pub driver: Driver,
    /// Its shares of the variance.
    pub shares: VarianceShares,
}

/// Whose shares are asked for, and how often they are exchanged.
struct DriverQuestion<'a> {
    explained: Explained<'a>,
    population: Population,
    drivers: Vec<Driver>,
    /// Parameters whose deviations the linear models take.
    parameters: Vec<Parameter>,
    /// The figures asked for, one list a case.
    figures: Vec<Vec<Figure>>,
    draws: u64,
    confidence: Confidence,
}

/// Finds what drives the figures with so many solutions at most; none where these are too few, or
/// nothing scatters.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn drivers(
    explained: Explained,
    solves: u64,
    progress: &mut dyn Progress,
) -> Result<Option<Drivers>, StudyError> {
    let Some(question) = DriverQuestion::new(explained, solves)? else { return Ok(None) };
    let models = Models::fit(&question)?;
    sampling::answer(&question, &models, progress).map(Some)
}

/// The figures that the explanation needs of the run's first samples.
pub(super) fn figures_to_keep(limited: &[Figure], phases: usize) -> Vec<Figure> {
    let mut all = limited.to_vec();
    all.extend((0..phases).map(Figure::OutputCurrent));
    all.extend(limited.iter().filter_map(|f| stand_in::phase_figures(*f, phases)).flatten());
    let mut once: Vec<Figure> = Vec::new();
    for figure in all {
        if !once.contains(&figure) {
            once.push(figure);
        }
    }
    once
}

impl<'a> DriverQuestion<'a> {
    fn new(explained: Explained<'a>, solves: u64) -> Result<Option<Self>, StudyError> {
        let Explained { session, run, kept } = explained;
        let scenario = session.scenario();
        let drivers = Driver::all(&scenario.tolerances);
        let acts = |arrangement: Arrangement| {
            drivers.iter().filter(|driver| driver.acts_on(session.size(), arrangement)).count()
        };
        let a_draw: usize = run.cases.iter().map(|case| acts(case.arrangement())).sum();
        let draws = solves.checked_div(a_draw as u64).unwrap_or(0).min(kept.measured() / 2);
        if draws < LEAST_DRAWS {
            return Ok(None);
        }
        let figures = |arrangement: Arrangement| {
            let limited = Demand::all(&scenario.limits, arrangement);
            let currents = (0..scenario.phases).map(Figure::OutputCurrent);
            limited.into_iter().filter_map(|demand| demand.figure).chain(currents).collect()
        };
        Ok(Some(Self {
            population: session.population(&scenario.tolerances, explained.draws()),
            parameters: scenario.tolerances.iter().map(|(parameter, _)| parameter).collect(),
            figures: run.cases.iter().map(|case| figures(case.arrangement())).collect(),
            confidence: Confidence::new(scenario.limits.confidence)?,
            explained,
            drivers,
            draws,
        }))
    }
}
