//! The median converter: of a run's first samples the one whose sharing error is nearest to the median of
//! all.
//!
//! Which error is the median is known once all samples have passed. Up to [`MOST_SAMPLES`] samples the errors
//! of all of them are kept, and the sample found has the median itself. Of more the first ones stand for all,
//! so that memory does not grow: among 32 768 the nearest one differs from the median by about a hundred
//! thousandth of all samples in rank.

use crate::converter::{Arrangement, Sharing};
use crate::engine::Batch;
use crate::solver::Case;
use crate::statistics::{StateError, TallyState};
use crate::study::common::figures::Figure;

/// Samples whose errors are kept, at most, and errors of all operating points together: 8 MB.
const MOST_SAMPLES: usize = 1 << 15;
const MOST_ERRORS: usize = 1 << 20;

/// A sample with a typical sharing error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MedianSample {
    /// Its number.
    pub sample: u64,
    /// Its sharing error in the chain.
    pub sharing_error: f64,
    /// It was looked for among so many first samples; none where these are all.
    pub among_first: Option<u64>,
}

/// The sharing errors of a run's first samples in the chain, at every operating point.
#[derive(Clone)]
pub(super) struct FirstErrors {
    /// Column of the sharing error that the limit speaks of.
    column: Option<usize>,
    /// Places of the chain's cases.
    places: Vec<usize>,
    /// Samples that are kept, at most.
    most: usize,
    /// One a place; NaN where a sample is not solved.
    errors: Vec<Vec<f64>>,
}

impl FirstErrors {
    pub(super) fn new(cases: &[Case], figures: &[Figure], sharing: Sharing) -> Self {
        let wanted = Figure::SharingError(sharing);
        let is_chain = |place: &usize| cases[*place].arrangement == Arrangement::Chain;
        let places: Vec<usize> = (0..cases.len()).filter(is_chain).collect();
        Self {
            column: figures.iter().position(|figure| *figure == wanted),
            most: MOST_SAMPLES.min(MOST_ERRORS / places.len().max(1)),
            errors: vec![Vec::new(); places.len()],
            places,
        }
    }

    /// Takes a batch, in the order of its samples.
    pub(super) fn take(&mut self, batch: &Batch) {
        let Some(column) = self.column else { return };
        for (errors, place) in self.errors.iter_mut().zip(&self.places) {
            let room = (self.most as u64).saturating_sub(batch.first);
            let room = usize::try_from(room).unwrap_or(usize::MAX);
            let error = |n: usize| batch.row(n, *place).figures[column];
            errors.extend((0..batch.len().min(room)).map(error));
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(super) fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        let most = if self.column.is_some() { self.most as u64 } else { 0 };
        self.errors.iter_mut().try_for_each(|own| state.of_first(own, most, 1))
    }

    /// The sample whose error in the case at `place` is nearest to the median of all `samples`; of several the
    /// first.
    pub(super) fn nearest(&self, place: usize, median: f64, samples: u64) -> Option<MedianSample> {
        let errors = &self.errors[self.places.iter().position(|own| *own == place)?];
        let solved = errors.iter().enumerate().filter(|(_, error)| error.is_finite());
        let beside = |error: &f64| (error - median).abs();
        let nearest = solved.min_by(|a, b| beside(a.1).total_cmp(&beside(b.1)));
        let kept = errors.len() as u64;
        nearest.map(|(n, error)| MedianSample {
            sample: n as u64,
            sharing_error: *error,
            among_first: (kept < samples).then_some(kept),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(errors: &[f64]) -> FirstErrors {
        FirstErrors { column: Some(0), places: vec![2], most: 10, errors: vec![errors.to_vec()] }
    }

    /// By hand: the nearest one, of equals the first; what is not solved is never taken.
    #[test]
    fn the_nearest_sample_is_the_median_one() {
        let errors = kept(&[f64::NAN, 0.04, 0.01, 0.03, 0.02, 0.03]);
        let found = |median, samples| errors.nearest(2, median, samples).unwrap();
        let wanted = MedianSample { sample: 3, sharing_error: 0.03, among_first: None };
        assert_eq!(found(0.03, 6), wanted);
        assert_eq!(found(0.028, 7), MedianSample { among_first: Some(6), ..wanted });
        assert_eq!(found(9.0, 6).sample, 1);
        assert_eq!(errors.nearest(0, 0.03, 6), None, "no chain");
        assert_eq!(kept(&[f64::NAN]).nearest(2, 0.03, 1), None);
    }
}
