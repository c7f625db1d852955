//! How a change of the converters changes their outcomes, on the same samples.
//!
//! Where few samples fail, trying all of them again tells precisely how many the change saves. Among
//! the many that pass, a part is enough to tell how many it loses. So both are counted among their own
//! number of samples: saved converters among the first n, lost ones among the first m.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Confidence, Difference, Estimator, StatisticsError, Verdict, Yield};

/// Samples that were tried again after a change, by their outcomes before and now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OutcomeChanges {
    /// Samples of which every one that failed was tried again.
    pub failing_among: u64,
    /// Of these, failed before and pass now.
    pub saved: u64,
    /// Of these, failed before and fail now.
    pub still_failing: u64,
    /// Samples of which every one that passed was tried again.
    pub passing_among: u64,
    /// Of these, passed before and fail now.
    pub lost: u64,
}

/// The yield after a change.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct ChangedYield {
    /// The yield seen.
    pub estimate: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end of the interval.
    pub upper: f64,
    /// Confidence level of the interval.
    pub confidence: Confidence,
}

impl ChangedYield {
    /// Whether the changed population meets a target, a fraction.
    pub fn verdict(&self, target: f64) -> Verdict {
        Verdict::of_interval([self.lower, self.upper], target)
    }
}

impl OutcomeChanges {
    /// The yield now less the yield before: the share of all samples that is saved, less the share that
    /// is lost.
    ///
    /// Either share has its own interval that permits half of the error, so that the interval of the
    /// difference holds at least as often as it says (Bonferroni).
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
    pub fn difference(&self, estimator: &Estimator) -> Result<Difference, StatisticsError> {
        let half = half_of_error(estimator)?;
        let saved = share(&half, self.saved, self.failing_among)?;
        let lost = share(&half, self.lost, self.passing_among)?;
        Ok(Difference {
            estimate: saved.estimate - lost.estimate,
            lower: saved.lower - lost.upper,
            upper: saved.upper - lost.lower,
            confidence: estimator.confidence(),
        })
    }

    /// The yield now. Shares that still fail and that are lost have an interval each, as for the
    /// difference; counted among the same samples they have one together.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
    pub fn yield_now(&self, estimator: &Estimator) -> Result<ChangedYield, StatisticsError> {
        let confidence = estimator.confidence();
        if self.failing_among == self.passing_among {
            let failing = share(estimator, self.still_failing + self.lost, self.passing_among)?;
            let Share { estimate, lower, upper } = failing;
            let (estimate, lower, upper) = (1.0 - estimate, 1.0 - upper, 1.0 - lower);
            return Ok(ChangedYield { estimate, lower, upper, confidence });
        }
        let half = half_of_error(estimator)?;
        let still = share(&half, self.still_failing, self.failing_among)?;
        let lost = share(&half, self.lost, self.passing_among)?;
        Ok(ChangedYield {
            estimate: 1.0 - still.estimate - lost.estimate,
            lower: (1.0 - still.upper - lost.upper).max(0.0),
            upper: (1.0 - still.lower - lost.lower).min(1.0),
            confidence,
        })
    }
}

/// A share of all samples.
struct Share {
    estimate: f64,
    lower: f64,
    upper: f64,
}

fn half_of_error(estimator: &Estimator) -> Result<Estimator, StatisticsError> {
    let tail = estimator.confidence().two_sided_tail();
    Ok(estimator.with_confidence(Confidence::new(1.0 - tail)?))
}

/// The share of so many events, by way of the yield without them.
fn share(estimator: &Estimator, events: u64, trials: u64) -> Result<Share, StatisticsError> {
    let others = trials.checked_sub(events);
    let others = others.ok_or(StatisticsError::Successes { successes: events, trials })?;
    let Yield { lower, upper, .. } = estimator.estimate(others, trials)?;
    let estimate = events as f64 / trials as f64;
    Ok(Share { estimate, lower: 1.0 - upper, upper: 1.0 - lower })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fixed(level: f64) -> Estimator {
        Estimator::Fixed(Confidence::new(level).unwrap())
    }

    /// By hand, from the Clopper–Pearson intervals at 97.5 % of 30 among 1000 and 0 among 500: the
    /// upper end of the latter is 1 − 0.0125^(1/500).
    #[test]
    fn differences_by_hand() {
        let changes = OutcomeChanges {
            failing_among: 1000,
            saved: 30,
            still_failing: 20,
            passing_among: 500,
            lost: 0,
        };
        let difference = changes.difference(&fixed(0.95)).unwrap();
        let saved = fixed(0.975).estimate(970, 1000).unwrap();
        let lost = 1.0 - libm::pow(0.0125, 1.0 / 500.0);
        assert!((difference.estimate - 0.03).abs() < 1e-15);
        assert!((difference.lower - (1.0 - saved.upper - lost)).abs() < 1e-9, "{difference:?}");
        assert!((difference.upper - (1.0 - saved.lower)).abs() < 1e-12, "{difference:?}");
        let now = changes.yield_now(&fixed(0.95)).unwrap();
        assert!((now.estimate - 0.98).abs() < 1e-15);
        assert!(now.lower < 0.98 - 0.005 && now.upper < 0.99, "{now:?}");
    }

    /// Counted among the same samples, the yield has the plain interval of its count.
    #[test]
    fn one_count_has_one_interval() {
        let changes = OutcomeChanges {
            failing_among: 400,
            saved: 5,
            still_failing: 8,
            passing_among: 400,
            lost: 2,
        };
        let now = changes.yield_now(&fixed(0.9)).unwrap();
        let plain = fixed(0.9).estimate(390, 400).unwrap();
        assert!((now.lower - plain.lower).abs() < 1e-15 && (now.upper - plain.upper).abs() < 1e-15);
        assert_eq!(now.verdict(0.9), Verdict::Pass);
        assert_eq!(now.verdict(0.98), Verdict::NotDecided);
        assert_eq!(now.verdict(0.999), Verdict::Fail);
        assert!(OutcomeChanges::default().difference(&fixed(0.9)).is_err(), "of nothing");
    }
}
