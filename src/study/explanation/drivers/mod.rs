//! What drives the figures: the share of the variance that each parameter explains.
//!
//! The first samples of the run are the two independent draws. Converters that are the first but for
//! one parameter are solved in addition ([`PickFreeze`](crate::statistics::PickFreeze)). Linear models
//! that were fitted to other samples of the run stand in for the figures and make the intervals
//! narrower; they also tell how much of a figure a linear model explains.

mod exchanged;
mod group;
mod linear;
mod models;
mod question;
mod result;
mod sampling;
mod stand_in;

pub use self::group::{Driver, DriverPart};
use self::models::Models;
use self::question::DriverQuestion;
pub use self::result::{CaseDrivers, DriverShares, Drivers, FigureDrivers};
use super::explained::Explained;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;

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
