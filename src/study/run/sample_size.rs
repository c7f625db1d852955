//! How many samples a run draws.

use crate::statistics::{Confidence, Estimator, SequentialTest, Verdict};

/// How many samples a run draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SampleSize {
    /// So many, fixed in advance.
    Fixed(u64),
    /// As many as decide the chain's verdict.
    UntilDecided(SequentialTest),
}

/// Samples that a run until decided hands on to files, at most: some gigabytes.
pub(super) const MOST_IN_FILES: u64 = 1_000_000;

/// Whether a run goes on after a batch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Continuation {
    pub(super) is_decided: bool,
    /// Samples still to come, as far as one can tell; none where their number is fixed.
    pub(super) left: Option<u64>,
}

impl SampleSize {
    /// The most samples.
    pub const fn most(&self) -> u64 {
        match self {
            Self::Fixed(samples) => *samples,
            Self::UntilDecided(test) => test.most_samples(),
        }
    }

    /// Whether it was fixed in advance.
    pub const fn is_fixed(&self) -> bool {
        matches!(self, Self::Fixed(_))
    }

    /// What makes the intervals of such a run.
    pub(super) const fn estimator(&self, confidence: Confidence) -> Estimator {
        match self {
            Self::Fixed(_) => Estimator::Fixed(confidence),
            Self::UntilDecided(test) => Estimator::Sequential(*test),
        }
    }

    /// What sampling is called while it goes on.
    pub(super) const fn stage(&self) -> &'static str {
        match self {
            Self::Fixed(_) => "samples",
            Self::UntilDecided(_) => "until decided, samples",
        }
    }

    /// How many samples of a batch are handed on to files.
    pub(super) fn in_files(&self, first: u64, samples: usize) -> usize {
        match self {
            Self::Fixed(_) => samples,
            Self::UntilDecided(_) => {
                let left = usize::try_from(MOST_IN_FILES.saturating_sub(first));
                left.unwrap_or(usize::MAX).min(samples)
            }
        }
    }

    /// Whether the run goes on, with so many good chains among the samples so far.
    pub(super) fn goes_on(&self, good: u64, samples: u64) -> Continuation {
        let Self::UntilDecided(test) = self else {
            return Continuation { is_decided: false, left: None };
        };
        let is_decided = test.verdict(good, samples) != Verdict::NotDecided;
        let expected = test.samples_to_decide(good, samples).unwrap_or(u64::MAX);
        Continuation { is_decided, left: Some(expected.min(test.most_samples()) - samples) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_take_the_first_million_samples_of_a_run_until_decided() {
        let test = SequentialTest::new(0.99, Confidence::new(0.95).unwrap(), 10_000_000);
        let (fixed, until) = (SampleSize::Fixed(5_000_000), SampleSize::UntilDecided(test));
        for (first, kept) in [(0, 2048), (999_424, 576), (1_001_472, 0)] {
            assert_eq!((until.in_files(first, 2048), fixed.in_files(first, 2048)), (kept, 2048));
        }
    }

    #[test]
    fn a_run_goes_on_until_decided_or_the_most_samples() {
        let test = SequentialTest::new(0.99, Confidence::new(0.95).unwrap(), 100_000);
        let until = SampleSize::UntilDecided(test);
        assert!(until.goes_on(500, 500).is_decided);
        let open = until.goes_on(9_905, 10_000);
        assert!(!open.is_decided && open.left == Some(90_000), "{open:?}: too close to 99 %");
        assert!(until.goes_on(995, 1000).left.unwrap() < 20_000);
    }
}
