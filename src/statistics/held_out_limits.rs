//! How many samples keep to several limits at once, where these limits come from all samples.
//!
//! Counting the samples against limits that they set themselves flatters. So the first samples set limits of
//! their own, so low that they hardly ever lie above the given ones. The later samples are independent of
//! these. What keeps to the lower limits keeps to the given ones too.

use super::{Estimator, StateError, StatisticsError, TallyState, Yield};

/// First samples at most.
const MOST_FIRST: u64 = 1 << 14;
/// First samples where the number of all is not fixed.
const FIRST_OF_SEQUENCE: u64 = 1 << 12;
/// By how many standard deviations the limits of the first samples lie lower than expected.
const LOWER: f64 = 4.0;

/// What the first samples are to tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeldOutPlan {
    /// Their number.
    pub first: u64,
    /// So many of them stand above each of their limits.
    pub above: u64,
}

/// Counts samples against limits that others set.
#[derive(Debug, Clone)]
pub struct HeldOutLimits {
    plan: HeldOutPlan,
    /// Of the first samples, figure by figure, until they are all there.
    first: Vec<Vec<f64>>,
    /// One a figure, once they are all there; none that is known.
    lower: Option<Vec<Option<f64>>>,
    counted: u64,
    kept: u64,
}

impl HeldOutPlan {
    /// Where the limits are upper ends of intervals of the quantile at `target`. None where these are no values.
    ///
    /// Of a fixed number of samples the first half tells, else so many. `s` of all samples stand above such a
    /// limit. Of m first ones among n then do m s on average, with variance `m s (1 − s) (1 − m/n)`
    /// (hypergeometric).
    pub fn of_quantiles(samples: u64, target: f64, estimator: &Estimator) -> Option<Self> {
        let (first, share, left) = match estimator {
            Estimator::Fixed(_) => {
                let rank = estimator.quantile_ranks(samples, target).upper?;
                let first = MOST_FIRST.min(samples / 2);
                let share = (samples - rank) as f64 / samples as f64;
                (first, share, 1.0 - first as f64 / samples as f64)
            }
            Estimator::Sequential(_) => (FIRST_OF_SEQUENCE, 1.0 - target, 1.0),
        };
        let expected = first as f64 * share;
        let above = expected + LOWER * (expected * (1.0 - share) * left).sqrt();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few thousand")]
        let above = above as u64;
        (above < first).then_some(Self { first, above })
    }
}

impl HeldOutLimits {
    /// No samples yet, of so many figures.
    pub fn new(plan: HeldOutPlan, figures: usize) -> Self {
        Self { plan, first: vec![Vec::new(); figures], lower: None, counted: 0, kept: 0 }
    }

    /// Learns the limits from samples in their order, figure by figure, of which the first has this number; NaN
    /// where a sample has no value. What lies behind the first samples changes nothing.
    pub fn learn(&mut self, sample: u64, figures: &[&[f64]]) {
        let first = self.among_first(sample, figures);
        if self.lower.is_some() {
            return;
        }
        for (own, values) in self.first.iter_mut().zip(figures) {
            own.extend_from_slice(&values[..first]);
        }
        if self.first.first().is_some_and(|own| own.len() as u64 == self.plan.first) {
            let above = self.plan.above;
            self.lower = Some(self.first.iter_mut().map(|own| limit(own, above)).collect());
            self.first = Vec::new();
        }
    }

    /// Adds samples in the same way: the first ones, unless their limits are known already, are learnt from, all
    /// later ones are counted.
    pub fn take(&mut self, sample: u64, figures: &[&[f64]]) {
        self.learn(sample, figures);
        let samples = figures.first().map_or(0, |values| values.len());
        for n in self.among_first(sample, figures)..samples {
            let lower = self.lower.iter().flatten();
            let keeps = lower
                .zip(figures)
                .all(|(limit, values)| limit.is_some_and(|limit| values[n] <= limit));
            self.counted += 1;
            self.kept += u64::from(keeps);
        }
    }

    /// How many of these samples are first ones.
    fn among_first(&self, sample: u64, figures: &[&[f64]]) -> usize {
        let samples = figures.first().map_or(0, |values| values.len());
        let left = self.plan.first.saturating_sub(sample);
        usize::try_from(left).unwrap_or(samples).min(samples)
    }

    /// Writes the limits and the counts, or joins those of later samples, whose limits must be the same.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        let figures = self.lower.as_ref().map_or(self.first.len(), Vec::len);
        if let Some(read) = state.value(&self.lower)? {
            let is_same = self.lower.is_none() || self.lower == read;
            let is_known = read.as_ref().is_some_and(|read| read.len() == figures);
            if !(is_same && is_known) {
                return Err(StateError);
            }
            self.lower = read;
        }
        state.count(&mut self.counted)?;
        state.count(&mut self.kept)
    }

    /// The first samples, and how many of the later ones keep to their limits: at least its lower end of all
    /// converters keep to the given limits, one a figure. None where a given limit lies lower, or either is no
    /// value, and where no samples are left to count.
    ///
    /// # Errors
    ///
    /// As [`Estimator::estimate`].
    pub fn kept(
        &self,
        given: &[Option<f64>],
        estimator: &Estimator,
    ) -> Result<Option<Yield>, StatisticsError> {
        let Some(lower) = self.lower.as_ref().filter(|_| self.counted > 0) else { return Ok(None) };
        let is_lower = |(lower, given): (&Option<f64>, &Option<f64>)| {
            lower.zip(*given).is_some_and(|(lower, given)| lower <= given)
        };
        if lower.len() != given.len() || !lower.iter().zip(given).all(is_lower) {
            return Ok(None);
        }
        estimator.estimate(self.kept, self.counted).map(Some)
    }

    /// Samples that set the limits of those that were counted.
    pub fn first(&self) -> u64 {
        self.plan.first
    }
}

/// The value that so many stand above, those without a value first; none where it is no value.
fn limit(values: &mut [f64], above: u64) -> Option<f64> {
    let place = values.len().checked_sub(usize::try_from(above).ok()?.checked_add(1)?)?;
    // What has no value stands above all values, whatever its sign.
    values.iter_mut().filter(|value| value.is_nan()).for_each(|value| *value = f64::INFINITY);
    let (_, limit, _) = values.select_nth_unstable_by(place, f64::total_cmp);
    limit.is_finite().then_some(*limit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Confidence;

    /// By hand: of four first samples one may stand above. Of the other three one keeps to both limits.
    #[test]
    fn later_samples_are_counted_against_the_limits_of_the_first() {
        let plan = HeldOutPlan { first: 4, above: 1 };
        let mut limits = HeldOutLimits::new(plan, 2);
        limits.take(0, &[&[1.0, 4.0, 2.0], &[5.0, 6.0, 7.0]]);
        limits.take(3, &[&[3.0, 2.0, 3.5, 1.0], &[f64::NAN, 7.0, 5.0, 8.0]]);
        assert_eq!(limits.lower, Some(vec![Some(3.0), Some(7.0)]));
        let estimator = Estimator::Fixed(Confidence::new(0.95).unwrap());
        let kept = |given: [f64; 2]| limits.kept(&given.map(Some), &estimator).unwrap();
        let counted = kept([3.0, 7.0]).unwrap();
        assert_eq!([counted.successes, counted.trials], [1, 3]);
        assert!(kept([2.9, 7.0]).is_none(), "a given limit lies lower");
        assert!(limits.kept(&[Some(9.0), None], &estimator).unwrap().is_none());
    }
}
