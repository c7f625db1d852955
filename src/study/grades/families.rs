//! How the permitted error is shared among the statements that hold together (Bonferroni).
//!
//! The data choose the recommended set, and with it what the others are compared with. A table of
//! comparisons therefore takes the level of all comparisons that it might have come to show: every
//! set that may be the recommended one, with every other. Then the choice does not matter. That is
//! stricter than comparisons with the best alone (J. C. Hsu, Annals of Statistics 12 (1984)
//! 1136–1144). Those would not do here, because the recommended set need not be the cheapest.
//!
//! What is said of all other sets rests on the first samples and on the fresh ones. In the chain, either
//! kind takes half of the permitted error, so that what is said holds as a whole.

use crate::converter::Arrangement;
use crate::scenario::Grades;
use crate::statistics::{Confidence, StatisticsError, samples_without_failure};

use super::set::GradeSet;

/// Sets of an arrangement that are evaluated again at a time: as long as none of them meets the target
/// on the fresh samples, as many more are taken in.
pub(super) const SHORTLIST: usize = 4;
/// Sets of an arrangement that are evaluated again at most.
pub(super) const LONGEST: usize = 3 * SHORTLIST;

/// The numbers of sets that statements are made of, and the confidence that they share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Families {
    confidence: Confidence,
    chain: usize,
    paralleled: usize,
    /// Sets one step from another one, at most.
    steps: usize,
}

impl Families {
    /// The families of all sets of the grades on offer.
    pub(super) fn new(grades: &Grades, confidence: Confidence) -> Self {
        let steps = grades.offers.iter().map(|offer| offer.grades.len().saturating_sub(1).min(2));
        Self {
            confidence,
            chain: GradeSet::all(grades, Arrangement::Chain).len(),
            paralleled: GradeSet::all(grades, Arrangement::Paralleled).len(),
            steps: steps.sum(),
        }
    }

    /// The error that the scenario permits.
    pub(super) fn error(self) -> f64 {
        self.confidence.one_sided_tail()
    }

    /// All sets of an arrangement.
    fn sets(self, arrangement: Arrangement) -> usize {
        match arrangement {
            Arrangement::Chain => self.chain,
            Arrangement::Paralleled => self.paralleled,
        }
    }

    /// Sets that the short list of an arrangement comes to hold at most.
    pub(super) fn listed(self, arrangement: Arrangement) -> usize {
        self.sets(arrangement).min(LONGEST)
    }

    /// The level at which so many intervals hold together.
    fn shared(self, intervals: usize) -> Result<Confidence, StatisticsError> {
        Confidence::new(1.0 - self.error() / intervals.max(1) as f64)
    }

    /// The level at which so many intervals hold together with half the permitted error.
    fn half_shared(self, intervals: usize) -> Result<Confidence, StatisticsError> {
        self.shared(2 * intervals.max(1))
    }

    /// The level of the yields of a short list: one for every length that it may come to have.
    pub(super) fn listed_yields(
        self,
        arrangement: Arrangement,
    ) -> Result<Confidence, StatisticsError> {
        self.shared(self.listed(arrangement))
    }

    /// The level of a lower bound of the yield that holds for every set of both short lists with half of the
    /// permitted error.
    pub(super) fn series_bound(self) -> Result<Confidence, StatisticsError> {
        let sets: usize = Arrangement::ALL.iter().map(|own| self.listed(*own)).sum();
        self.half_shared(sets)
    }

    /// The level of differences from the recommended set on the first samples.
    pub(super) fn first_differences(
        self,
        arrangement: Arrangement,
    ) -> Result<Confidence, StatisticsError> {
        match arrangement {
            Arrangement::Chain => self.half_shared(pairs(self.chain)),
            Arrangement::Paralleled => self.shared(self.chain * self.paralleled),
        }
    }

    /// The level of differences from the recommended set on the fresh samples. In the chain there are
    /// those of the short list, and those one step from the recommended set. A set may be among both: one
    /// level, so that one difference has one interval.
    pub(super) fn fresh_differences(
        self,
        arrangement: Arrangement,
    ) -> Result<Confidence, StatisticsError> {
        let chain = self.listed(Arrangement::Chain);
        match arrangement {
            Arrangement::Chain => self.half_shared(pairs(chain) + chain * self.steps),
            Arrangement::Paralleled => self.shared(chain * self.listed(Arrangement::Paralleled)),
        }
    }

    /// The level of the yields of the sets one step from the recommended one.
    pub(super) fn stepped_yields(self) -> Result<Confidence, StatisticsError> {
        self.shared(self.listed(Arrangement::Chain) * self.steps)
    }

    /// The fewest samples with which a set of the chain's short list can meet a target, all passing.
    pub(super) fn fewest_samples(self, target: f64) -> Result<u64, StatisticsError> {
        let listed = self.listed_yields(Arrangement::Chain)?;
        samples_without_failure(target, Confidence::new(1.0 - listed.two_sided_tail())?)
    }
}

/// Number of pairs of so many.
fn pairs(sets: usize) -> usize {
    sets * sets.saturating_sub(1) / 2
}
