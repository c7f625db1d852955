//! How many samples a run draws.

use crate::statistics::{Confidence, Estimator, FileEffect, SequentialTest, Verdict};

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

    /// Whether the run goes on, with so many good chains among the samples so far, and such files of measured
    /// parts. These may leave the verdict on their whole production open: then it goes on as long as more
    /// samples may decide that too. The intervals hold wherever it ends.
    pub(super) fn goes_on(
        &self,
        good: u64,
        samples: u64,
        files: impl FnOnce() -> Vec<FileEffect>,
    ) -> Continuation {
        let Self::UntilDecided(test) = self else {
            return Continuation { is_decided: false, left: None };
        };
        let is_decided = test.verdict(good, samples) != Verdict::NotDecided;
        if is_decided && may_decide_production(test, good, samples, &files()) {
            return Continuation { is_decided: false, left: Some(test.most_samples() - samples) };
        }
        let expected = test.samples_to_decide(good, samples).unwrap_or(u64::MAX);
        Continuation { is_decided, left: Some(expected.min(test.most_samples()) - samples) }
    }
}

/// Whether the verdict on the whole production of measured parts is open, and more samples may decide it.
fn may_decide_production(
    test: &SequentialTest,
    good: u64,
    samples: u64,
    files: &[FileEffect],
) -> bool {
    let target = test.target();
    test.estimate(good, samples).is_ok_and(|sampled| {
        sampled.of_population(files).verdict(target) == Verdict::NotDecided
            && sampled.samples_may_decide(files, target)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of 98.0 % against 97.0 % a file that leaves 2 · 0.2 points open is clear some time after the
    /// samples are, one that leaves 2 · 2 points open never.
    #[test]
    fn a_run_goes_on_while_more_samples_decide_on_the_production() {
        let test = SequentialTest::new(0.97, Confidence::new(0.95).unwrap(), 100_000);
        let until = SampleSize::UntilDecided(test);
        let file = |parts: u64, deviation: f64| {
            vec![FileEffect { parts, drawn: 3, variance: deviation * deviation }]
        };
        let ends_with = |files: &dyn Fn() -> Vec<FileEffect>| {
            let numbers = (1..1_000).map(|n| 100 * n);
            numbers.into_iter().find(|n| until.goes_on(n / 50 * 49, *n, files).is_decided).unwrap()
        };
        let samples = ends_with(&Vec::new);
        let (large, small) = (ends_with(&|| file(100_000, 0.002)), ends_with(&|| file(100, 0.02)));
        assert!(samples < large && large < 4 * samples, "{samples} {large}");
        assert_eq!(small, samples, "more would not help");
    }

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
        assert!(until.goes_on(500, 500, Vec::new).is_decided);
        let open = until.goes_on(9_905, 10_000, Vec::new);
        assert!(!open.is_decided && open.left == Some(90_000), "{open:?}: too close to 99 %");
        assert!(until.goes_on(995, 1000, Vec::new).left.unwrap() < 20_000);
    }
}
