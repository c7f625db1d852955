//! A worst case, as searches find it.

use super::case_figure::{SolvedCounts, UnsolvedConverter};
use super::extreme::ExtremeConverter;
use crate::converter::Converter;
use crate::statistics::{Extreme, QuantileEnd};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;

/// The worst case of a limited figure at an operating point in an arrangement. Values are in the
/// figure's unit; shares are fractions.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCase {
    /// Index of the case among those of the run.
    pub case: usize,
    /// The limited figure.
    pub figure: Figure,
    /// Its limit, as what converters must meet.
    pub demand: Demand,
    /// Its value for the nominal converter.
    pub nominal: f64,
    /// The root-sum-square value; none where the converter in the middle of the box, or one beside it,
    /// is not solved.
    pub root_sum_square: Option<f64>,
    /// What the target share of all converters keeps to at the confidence.
    pub tolerance_limit: QuantileEnd,
    /// The largest of the solved samples.
    pub largest_sample: Option<Extreme>,
    /// The extreme value; none where no converter of the box was solved.
    pub extreme: Option<ExtremeConverter>,
    /// Parts that the search moves; those that are always alike count as one.
    pub parts: usize,
    /// Converters that the search solved or failed to solve.
    pub counts: SolvedCounts,
    /// A converter of the box that has no value, solved afresh; none where the search met none.
    pub unsolved: Option<UnsolvedConverter>,
}

impl WorstCase {
    /// How many times as far from the nominal value as the largest sample the extreme value lies; none
    /// where either is missing or no sample is above the nominal value.
    pub fn times_as_far(&self) -> Option<f64> {
        let sampled = self.largest_sample?.value - self.nominal;
        let found = self.extreme.as_ref()?.value - self.nominal;
        (sampled > 0.0).then(|| found / sampled)
    }

    /// The extreme value as a share of the limit; none where there is no such value.
    pub fn share_of_limit(&self) -> Option<f64> {
        self.extreme.as_ref().map(|extreme| self.demand.use_of(extreme.value))
    }
}

/// A worst case, and the work that its search took.
pub(super) struct Searched {
    pub(super) worst: WorstCase,
    /// The extreme converter as it comes out of the box, with the responses of its parts.
    pub(super) drawn: Option<Converter>,
    pub(super) work: f64,
}

impl Searched {
    pub(super) fn is_open(&self) -> bool {
        self.worst.extreme.as_ref().is_some_and(|extreme| !extreme.settled)
    }

    pub(super) fn exceeds_its_limit(&self) -> bool {
        self.worst.share_of_limit().is_some_and(|share| share > 1.0)
    }

    pub(super) fn value(&self) -> Option<f64> {
        self.worst.extreme.as_ref().map(|extreme| extreme.value)
    }

    /// Takes over what a further search found, where it is more.
    pub(super) fn take(&mut self, further: Self) {
        let is_more = further.value().is_some() && further.value() >= self.value();
        let Self { worst, drawn, work } = further;
        self.work += work;
        self.worst.counts += worst.counts;
        self.worst.unsolved = self.worst.unsolved.take().or(worst.unsolved);
        if is_more {
            (self.worst.extreme, self.drawn) = (worst.extreme, drawn);
        }
    }
}
