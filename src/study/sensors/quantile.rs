//! The value that a target share of all converters keeps to: a quantile over all of them.

use std::cmp::Ordering;

use crate::statistics::{Confidence, Distribution, QuantileEnd, QuantileInterval};

/// The value that the target share of all converters keeps to, with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TargetQuantile {
    /// The quantile at the target, in the unit of the values.
    pub value: f64,
    /// Its interval from order statistics.
    pub interval: QuantileInterval,
}

/// How the intervals of two quantiles lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuantileComparison {
    /// They lie apart: the quantiles differ.
    Apart,
    /// They have values in common.
    Overlap,
    /// So few samples do not give the ends that decide.
    TooFewSamples,
}

impl TargetQuantile {
    /// The required rating: with it as the limit, the whole interval of the yield meets the target.
    pub fn required_rating(&self) -> Option<f64> {
        self.interval.upper.value()
    }

    /// Whether the intervals lie apart. Each of them misses its quantile on one side with half the
    /// permitted error at most. So the wrong order is told no more often than permitted.
    pub fn is_told_from(&self, other: &Self) -> bool {
        self.compare(other) == QuantileComparison::Apart
    }

    /// How the interval of the smaller quantile lies to that of the larger one. An upper end that is
    /// beyond is above every lower end.
    pub fn compare(&self, other: &Self) -> QuantileComparison {
        let is_in_order = self.value.total_cmp(&other.value) != Ordering::Greater;
        let (low, high) = if is_in_order { (self, other) } else { (other, self) };
        match (low.interval.upper, high.interval.lower) {
            (QuantileEnd::TooFewSamples, _) | (_, QuantileEnd::TooFewSamples) => {
                QuantileComparison::TooFewSamples
            }
            (QuantileEnd::Value(upper), QuantileEnd::Value(lower)) if upper < lower => {
                QuantileComparison::Apart
            }
            (QuantileEnd::Value(_), QuantileEnd::Beyond) => QuantileComparison::Apart,
            _ => QuantileComparison::Overlap,
        }
    }

    /// The quantile at the target, of all samples. Those without a value stand above all values: what
    /// is not solved, and, for a rating, what fails for another reason, because no rating makes it
    /// good. `None` where the target falls on one of them.
    pub fn new(values: &Distribution, target: f64, confidence: Confidence) -> Option<Self> {
        let ordered = values.ordered()?;
        let interval = ordered.quantile_interval(target, confidence);
        Some(Self { value: ordered.quantile(target)?, interval })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn currents(count: u64, samples: u64) -> Distribution {
        let mut currents = Distribution::exact_up_to(1000);
        (0..count).for_each(|n| currents.push(n, (n + 1) as f64));
        (count..samples).for_each(|n| currents.push(n, f64::NAN));
        currents
    }

    /// `tests/published/order_statistics.rs`: 95 % of n = 1000, q = .95 has the ranks 936 and 964,
    /// and n = 1000, q = .99 the ranks 983 and 997; values equal to their ranks show them.
    #[test]
    fn the_rating_is_an_order_statistic() {
        let confidence = Confidence::new(0.95).unwrap();
        for (target, rank, ends) in [(0.95, 950.0, [936.0, 964.0]), (0.99, 990.0, [983.0, 997.0])] {
            let found = TargetQuantile::new(&currents(1000, 1000), target, confidence).unwrap();
            assert!((found.value - rank).abs() < 1e-12);
            let interval = found.interval;
            assert_eq!([interval.lower, interval.upper], ends.map(QuantileEnd::Value));
            assert_eq!(found.required_rating(), Some(ends[1]));
        }
    }

    #[test]
    fn converters_that_are_not_solved_stand_above_all() {
        let confidence = Confidence::new(0.95).unwrap();
        let some = TargetQuantile::new(&currents(994, 1000), 0.99, confidence).unwrap();
        assert!((some.value - 990.0).abs() < 1e-12);
        assert_eq!(some.required_rating(), None, "the upper end, rank 997, is not known");
        assert_eq!(TargetQuantile::new(&currents(989, 1000), 0.99, confidence), None);
        assert_eq!(TargetQuantile::new(&currents(0, 1000), 0.99, confidence), None);
    }

    /// An end that is beyond leaves the comparison open for another reason than one that so few samples
    /// do not give (368 are needed).
    #[test]
    fn an_end_beyond_is_not_for_want_of_samples() {
        let confidence = Confidence::new(0.95).unwrap();
        let quantile = |count, samples| {
            TargetQuantile::new(&currents(count, samples), 0.99, confidence).unwrap()
        };
        let [whole, upper_end_beyond] = [1000, 994].map(|count| quantile(count, 1000));
        assert_eq!(upper_end_beyond.interval.upper, QuantileEnd::Beyond);
        assert_eq!(upper_end_beyond.compare(&whole), QuantileComparison::Overlap);
        let few = quantile(300, 300);
        assert_eq!(few.compare(&whole), QuantileComparison::TooFewSamples);
        assert_eq!(whole.compare(&few), QuantileComparison::TooFewSamples);
        let more = quantile(5000, 5000);
        assert_eq!(upper_end_beyond.compare(&more), QuantileComparison::Overlap, "990 or more");
        assert_eq!(whole.compare(&more), QuantileComparison::Apart);
    }
}
