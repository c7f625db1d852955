//! Which of the ordered values enclose a quantile of the population.

use schemars::JsonSchema;
use serde::Serialize;

use super::Confidence;
use super::beta::{Portion, binomial_at_least, binomial_at_most};
use super::confidence::within_tail;

/// Ranks, from 1, of the two ordered values that enclose a quantile, and how often they do.
///
/// The number K of n values up to the quantile p is binomial, so X(l) ≤ quantile ≤ X(u) with
/// probability P(l ≤ K ≤ u − 1) or more, whatever the distribution: H. A. David and H. N. Nagaraja,
/// Order Statistics, 3rd edition (2003), section 7.1.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct Ranks {
    /// Rank of the lower end.
    pub lower: u64,
    /// Rank of the upper end.
    pub upper: u64,
    /// P(lower ≤ K ≤ upper − 1), at least the confidence asked for.
    pub coverage: f64,
}

impl Ranks {
    /// The central ranks among `count` values: the closest that leave at most half the
    /// remainder of `confidence` on each side.
    ///
    /// `None` when `count` is too small to enclose quantile `p`, or `p` is not within (0, 1).
    pub fn central(count: u64, p: f64, confidence: Confidence) -> Option<Self> {
        if !(p > 0.0 && p < 1.0) {
            return None;
        }
        let (p, tail) = (Portion::new(p), confidence.two_sided_tail());
        let below = |lower: u64| binomial_at_most(lower - 1, count, p);
        let above = |upper: u64| binomial_at_least(upper, count, p);
        // Both conditions hold up to some rank, or from some rank on.
        let lower = first_rank(count, |rank| !within_tail(below(rank), tail)) - 1;
        let upper = first_rank(count, |rank| within_tail(above(rank), tail));
        (lower >= 1 && upper <= count).then(|| Self {
            lower,
            upper,
            coverage: 1.0 - below(lower) - above(upper),
        })
    }
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

    fn ranks(count: u64, p: f64, level: f64) -> Option<Ranks> {
        Ranks::central(count, p, Confidence::new(level).unwrap())
    }

    /// The median of five fair coins: P(K = 0) = P(K = 5) = 1/32.
    #[test]
    fn median_of_five_by_hand() {
        let r = ranks(5, 0.5, 0.9).unwrap();
        assert_eq!((r.lower, r.upper), (1, 5));
        assert!((r.coverage - 30.0 / 32.0).abs() < 1e-14);
        assert_eq!(ranks(5, 0.5, 30.0 / 32.0).map(|r| r.lower), Some(1)); // an exact tie
        assert_eq!(ranks(5, 0.5, 0.94), None);
        assert_eq!(ranks(0, 0.5, 0.5), None);
    }

    /// 0.99ⁿ must fit into the tail of 2.5 %: 368 values.
    #[test]
    fn too_few_values_enclose_no_far_quantile() {
        assert_eq!(ranks(367, 0.99, 0.95), None);
        assert_eq!(ranks(368, 0.99, 0.95).map(|r| r.upper), Some(368));
        assert_eq!(ranks(367, 0.01, 0.95), None);
        assert_eq!(ranks(368, 0.01, 0.95).map(|r| r.lower), Some(1));
        for p in [0.0, 1.0, -1.0, f64::NAN] {
            assert_eq!(ranks(1000, p, 0.95), None, "{p}");
        }
    }

    /// No closer rank would do, on either side.
    #[test]
    fn ranks_are_the_closest_that_cover() {
        for (count, p) in [(60, 0.5), (1000, 0.05), (1000, 0.95), (12_345, 0.99)] {
            let (r, portion) = (ranks(count, p, 0.95).unwrap(), Portion::new(p));
            assert!(binomial_at_most(r.lower - 1, count, portion) <= 0.025);
            assert!(binomial_at_most(r.lower, count, portion) > 0.025);
            assert!(binomial_at_least(r.upper, count, portion) <= 0.025);
            assert!(binomial_at_least(r.upper - 1, count, portion) > 0.025);
            assert!(r.coverage >= 0.95);
        }
    }
}
