//! The rating that a yield requires: a quantile over all converters.

use serde::Serialize;

use crate::statistics::{Confidence, Distribution, Interval, Ranks};

/// The value that the target share of all converters keeps to, with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TargetQuantile {
    /// The quantile at the target, in the unit of the values.
    pub value: f64,
    /// Its interval from order statistics; `None` where the samples do not suffice, or where its
    /// upper end falls on a converter that does not count.
    pub interval: Option<Interval>,
}

impl TargetQuantile {
    /// The required rating: with it as the limit, the whole interval of the yield meets the target.
    pub fn required_rating(&self) -> Option<f64> {
        self.interval.map(|i| i.upper)
    }

    /// The quantile of the `values` of the converters that count, among all `samples`. The others
    /// count as above all values: those not solved because nothing is known of theirs, and, for a
    /// rating that gives a yield, those that fail for another reason because no rating makes them
    /// good. `None` where the target falls on one of them.
    pub fn new(
        values: &Distribution,
        samples: u64,
        target: f64,
        confidence: Confidence,
    ) -> Option<Self> {
        let ordered = values.ordered()?;
        let count = ordered.count();
        // The value of a rank among all samples is the value of that rank among the solved.
        let at = |rank: u64| {
            let probability = (rank as f64 - 0.5) / count as f64;
            (rank <= count).then(|| ordered.quantile(probability)).flatten()
        };
        let exact = target * samples as f64;
        // Forgives the rounding of a product that is whole.
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to samples")]
        let rank = ((exact * (1.0 - 4.0 * f64::EPSILON)).ceil() as u64).max(1);
        let ranks = Ranks::central(samples, target, confidence);
        let interval = ranks
            .and_then(|ranks| Some(Interval { lower: at(ranks.lower)?, upper: at(ranks.upper)? }));
        Some(Self { value: at(rank)?, interval })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn currents(count: u64) -> Distribution {
        let mut currents = Distribution::exact_up_to(1000);
        (0..count).for_each(|n| currents.push(n, (n + 1) as f64));
        currents
    }

    /// `tests/published/order_statistics.rs`: 95 % of n = 1000, q = .95 has the ranks 936 and 964,
    /// and n = 1000, q = .99 the ranks 983 and 997; values equal to their ranks show them.
    #[test]
    fn the_rating_is_an_order_statistic() {
        let confidence = Confidence::new(0.95).unwrap();
        let rating = TargetQuantile::new(&currents(1000), 1000, 0.95, confidence).unwrap();
        assert!((rating.value - 950.0).abs() < 1e-12);
        assert_eq!(rating.interval.map(|i| (i.lower, i.upper)), Some((936.0, 964.0)));
        let rating = TargetQuantile::new(&currents(1000), 1000, 0.99, confidence).unwrap();
        assert!((rating.value - 990.0).abs() < 1e-12);
        assert_eq!(rating.interval.map(|i| (i.lower, i.upper)), Some((983.0, 997.0)));
    }

    #[test]
    fn converters_that_are_not_solved_stand_above_all() {
        let confidence = Confidence::new(0.95).unwrap();
        let some = TargetQuantile::new(&currents(994), 1000, 0.99, confidence).unwrap();
        assert!((some.value - 990.0).abs() < 1e-12);
        assert_eq!(some.interval, None, "the upper end, rank 997, is not known");
        assert_eq!(TargetQuantile::new(&currents(989), 1000, 0.99, confidence), None);
        assert_eq!(TargetQuantile::new(&currents(0), 1000, 0.99, confidence), None);
    }
}
