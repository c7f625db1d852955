//! The intervals that belong to the way in which the number of samples came about.

use super::{Confidence, Ranks, SequentialTest, StatisticsError, Verdict, Yield};

/// What intervals are made by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Estimator {
    /// For a number of samples fixed in advance: exact intervals at this confidence level.
    Fixed(Confidence),
    /// For a number that follows from the samples: intervals that hold at all numbers at once.
    Sequential(SequentialTest),
}

impl Estimator {
    /// The confidence level of the intervals.
    pub const fn confidence(&self) -> Confidence {
        match self {
            Self::Fixed(confidence) => *confidence,
            Self::Sequential(test) => test.confidence(),
        }
    }

    /// The yield of so many successes.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
    pub fn estimate(&self, successes: u64, trials: u64) -> Result<Yield, StatisticsError> {
        match self {
            Self::Fixed(confidence) => Yield::new(successes, trials, *confidence),
            Self::Sequential(test) => test.estimate(successes, trials),
        }
    }

    /// What such a yield says about a target; of a sequential test, its own target.
    pub fn verdict(&self, good: &Yield, target: f64) -> Verdict {
        match self {
            Self::Fixed(_) => good.verdict(target),
            Self::Sequential(test) => test.against(target).verdict(good.successes, good.trials),
        }
    }

    /// Ranks of the ordered values that enclose quantile `p`.
    pub fn quantile_ranks(&self, count: u64, p: f64) -> Ranks {
        match self {
            Self::Fixed(confidence) => Ranks::central(count, p, *confidence),
            Self::Sequential(test) if p > 0.0 && p < 1.0 => test.against(p).quantile_ranks(count),
            Self::Sequential(_) => Ranks::NONE,
        }
    }
}
