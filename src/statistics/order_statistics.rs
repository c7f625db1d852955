//! Which of the ordered values enclose a quantile of the population.

use super::Confidence;
use super::beta::{Portion, binomial_at_least, binomial_at_most};
use super::confidence::within_tail;
use super::memo::{Memo, recalled};

thread_local! {
    /// All figures of a study have the same number of values, and the same quantiles.
    static RANKS: Memo<(u64, f64, Confidence), Ranks> = const { Memo::new(Vec::new()) };
}

/// Ranks, from 1, of the two ordered values that enclose a quantile.
///
/// Each end stands by itself: where the values are too few for one, the other still bounds the quantile
/// with half the permitted error.
///
/// The number K of n values up to the quantile p is binomial, so X(l) ≤ quantile ≤ X(u) with
/// probability P(l ≤ K ≤ u − 1) or more, whatever the distribution: H. A. David and H. N. Nagaraja,
/// Order Statistics, 3rd edition (2003), section 7.1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ranks {
    /// Rank of the lower end; `None` where the values are too few for one.
    pub lower: Option<u64>,
    /// Rank of the upper end; `None` where the values are too few for one.
    pub upper: Option<u64>,
}

impl Ranks {
    /// No values enclose the quantile on either side.
    pub const NONE: Self = Self { lower: None, upper: None };

    /// The central ranks among `count` values: the closest that leave at most half the
    /// remainder of `confidence` on each side. None where `p` is not within (0, 1).
    pub fn central(count: u64, p: f64, confidence: Confidence) -> Self {
        if !(p > 0.0 && p < 1.0) {
            return Self::NONE;
        }
        recalled(&RANKS, (count, p, confidence), || Self::found(count, p, confidence))
    }

    fn found(count: u64, p: f64, confidence: Confidence) -> Self {
        let (p, tail) = (Portion::new(p), confidence.two_sided_tail());
        let below = |lower: u64| binomial_at_most(lower - 1, count, p);
        let above = |upper: u64| binomial_at_least(upper, count, p);
        // Both conditions hold up to some rank, or from some rank on.
        let lower = first_rank(count, |rank| !within_tail(below(rank), tail)) - 1;
        let upper = first_rank(count, |rank| within_tail(above(rank), tail));
        Self::among(count, lower, upper)
    }

    /// Those ranks that `count` values have.
    pub(super) fn among(count: u64, lower: u64, upper: u64) -> Self {
        let values = 1..=count;
        let [lower, upper] = [lower, upper].map(|rank| values.contains(&rank).then_some(rank));
        Self { lower, upper }
    }

    /// P(lower ≤ K ≤ upper − 1) among so many values: how often the ends that exist enclose quantile
    /// `p`. At least the confidence asked for.
    pub fn coverage(&self, count: u64, p: f64) -> f64 {
        let p = Portion::new(p);
        let below = self.lower.map_or(0.0, |lower| binomial_at_most(lower - 1, count, p));
        let above = self.upper.map_or(0.0, |upper| binomial_at_least(upper, count, p));
        1.0 - below - above
    }
}

/// The rank of the ordered value that one more value exceeds with a probability of 1 − `confidence` at most;
/// none where the values are too few for one.
///
/// One more value is as likely to take any of the n + 1 places among n values as any other, whatever the
/// distribution. So it exceeds the value of rank r with a probability of 1 − r/(n + 1) at most: S. S. Wilks,
/// Annals of Mathematical Statistics 13 (1942), 400–409, cited from memory.
pub fn prediction_rank(count: u64, confidence: Confidence) -> Option<u64> {
    let rank = rounded_up(confidence.get() * (count as f64 + 1.0));
    (rank <= count).then_some(rank)
}

/// The fewest values that have such a rank.
pub fn fewest_for_prediction(confidence: Confidence) -> u64 {
    rounded_up(confidence.get() / confidence.one_sided_tail())
}

/// The next whole number; what is whole but for its last digits is whole.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "above zero")]
fn rounded_up(number: f64) -> u64 {
    (number * (1.0 - 1e-12)).ceil() as u64
}

/// The first rank from 1 to `count` at which `holds` turns true; `count + 1` if it never does.
pub(super) fn first_rank(count: u64, holds: impl Fn(u64) -> bool) -> u64 {
    let (mut low, mut high) = (1, count + 1);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ranks(count: u64, p: f64, level: f64) -> [Option<u64>; 2] {
        let ranks = Ranks::central(count, p, Confidence::new(level).unwrap());
        [ranks.lower, ranks.upper]
    }

    /// The median of five fair coins: P(K = 0) = P(K = 5) = 1/32.
    #[test]
    fn median_of_five_by_hand() {
        let r = Ranks::central(5, 0.5, Confidence::new(0.9).unwrap());
        assert_eq!([r.lower, r.upper], [Some(1), Some(5)]);
        assert!((r.coverage(5, 0.5) - 30.0 / 32.0).abs() < 1e-14);
        assert_eq!(ranks(5, 0.5, 30.0 / 32.0), [Some(1), Some(5)], "an exact tie");
        assert_eq!(ranks(5, 0.5, 0.94), [None; 2]);
        assert_eq!(ranks(0, 0.5, 0.5), [None; 2]);
    }

    /// 0.99ⁿ must fit into the tail of 2.5 %: 368 values. The end on the other side needs few.
    #[test]
    fn too_few_values_enclose_no_far_quantile() {
        assert!(matches!(ranks(367, 0.99, 0.95), [Some(1..=363), None]));
        assert_eq!(ranks(368, 0.99, 0.95)[1], Some(368));
        assert!(matches!(ranks(367, 0.01, 0.95), [None, Some(5..=367)]));
        assert_eq!(ranks(368, 0.01, 0.95)[0], Some(1));
        for p in [0.0, 1.0, -1.0, f64::NAN] {
            assert_eq!(ranks(1000, p, 0.95), [None; 2], "{p}");
        }
    }

    /// By hand: of 200 values the rank is 0.95 × 201 = 190.95, so the 191st; of 19 the last, 0.95 × 20; of 18
    /// there is none. 99 % need 99, and half needs one.
    #[test]
    fn ranks_of_one_more_value_by_hand() {
        let rank = |count: u64, level: f64| prediction_rank(count, Confidence::new(level).unwrap());
        let found = [(200, 0.95), (19, 0.95), (18, 0.95), (99, 0.99), (98, 0.99), (1, 0.5)];
        let expected = [Some(191), Some(19), None, Some(99), None, Some(1)];
        assert_eq!(found.map(|(count, level)| rank(count, level)), expected);
        let fewest = |level: f64| fewest_for_prediction(Confidence::new(level).unwrap());
        assert_eq!([0.95, 0.99, 0.999, 0.5].map(fewest), [19, 99, 999, 1]);
    }

    /// No closer rank would do, on either side.
    #[test]
    fn ranks_are_the_closest_that_cover() {
        for (count, p) in [(60, 0.5), (1000, 0.05), (1000, 0.95), (12_345, 0.99)] {
            let ([lower, upper], portion) =
                (ranks(count, p, 0.95).map(Option::unwrap), Portion::new(p));
            assert!(binomial_at_most(lower - 1, count, portion) <= 0.025);
            assert!(binomial_at_most(lower, count, portion) > 0.025);
            assert!(binomial_at_least(upper, count, portion) <= 0.025);
            assert!(binomial_at_least(upper - 1, count, portion) > 0.025);
            assert!(Ranks { lower: Some(lower), upper: Some(upper) }.coverage(count, p) >= 0.95);
        }
    }
}
