//! How many converters to build for a number of good ones.

use super::beta::{self, Portion};
use super::confidence::within_tail;
use super::proportion::smallest;

/// Trials at most: of a yield that needs more, no number is told.
const MOST: u64 = 1_000_000_000_000;

/// The probability that of so many independent trials at least `wanted` succeed, each with the probability
/// `success`: Iₚ(Q, n − Q + 1) (DLMF 8.17.5).
pub fn probability_of_successes(wanted: u64, trials: u64, success: f64) -> f64 {
    beta::binomial_at_least(wanted, trials, Portion::new(success.clamp(0.0, 1.0)))
}

/// The smallest number of independent trials of which at least `wanted` succeed but for a probability of
/// `tail`, each with the probability `success`; none above 10¹². The number of trials up to the success
/// number Q follows the negative binomial distribution: this is its quantile.
pub fn trials_for_successes(wanted: u64, success: f64, tail: f64) -> Option<u64> {
    let success = Portion::new(success.clamp(0.0, 1.0));
    let short = |trials: u64| match wanted.checked_sub(1) {
        None => 0.0,
        Some(most) => beta::binomial_at_most(most, trials, success),
    };
    smallest(wanted, MOST, |trials| within_tail(short(trials), tail))
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Binomial, DiscreteCDF};

    use super::*;

    /// Tables of the binomial distribution, from memory: of 13 trials that succeed with 0.9 each, at least
    /// 10 succeed with 0.9658, of 12 with 0.8891; of 10 at least 8 with 0.9298.
    #[test]
    fn printed_tables() {
        for (wanted, trials, printed) in [(10, 13, 0.9658), (10, 12, 0.8891), (8, 10, 0.9298)] {
            let found = probability_of_successes(wanted, trials, 0.9);
            assert!((found - printed).abs() < 5e-5, "{wanted} of {trials}: {found}");
        }
        assert_eq!(trials_for_successes(10, 0.9, 0.05), Some(13));
    }

    /// Without a failure: n trials all succeed with pⁿ, so Q trials do for pᵠ ≥ 0.95.
    #[test]
    fn ends_by_hand() {
        assert_eq!(trials_for_successes(400, 1.0, 0.05), Some(400));
        assert_eq!(trials_for_successes(1, 0.5, 0.05), Some(5));
        assert_eq!(trials_for_successes(5, 0.99, 0.05), Some(5));
        assert_eq!(trials_for_successes(6, 0.99, 0.05), Some(7));
        assert_eq!(trials_for_successes(5, 0.0, 0.05), None);
        assert_eq!(trials_for_successes(0, 0.3, 0.05), Some(0));
    }

    /// Another library's binomial distribution: the number is enough, one less is not.
    #[test]
    fn the_number_is_the_smallest_that_is_enough() {
        for wanted in [1, 7, 100, 400, 5000] {
            for success in [0.3, 0.9, 0.985, 0.9999] {
                for tail in [0.05, 0.025, 0.001] {
                    let n = trials_for_successes(wanted, success, tail).unwrap();
                    let short = |n: u64| Binomial::new(success, n).unwrap().cdf(wanted - 1);
                    assert!(short(n) <= tail, "{wanted} {success} {tail}: {n}");
                    assert!(n == wanted || short(n - 1) > tail, "{wanted} {success} {tail}: {n}");
                }
            }
        }
    }

    /// As many as a scenario may ask for.
    #[test]
    fn large_series_end_quickly() {
        let n = trials_for_successes(1_000_000_000, 0.97, 0.025).unwrap();
        // Normal approximation: 1.96 standard deviations of the number of good ones.
        let mean = 1e9_f64 / 0.97;
        let spread = 1.96 * (mean * 0.97 * 0.03).sqrt() / 0.97;
        assert!((n as f64 - mean - spread).abs() < 0.01 * spread, "{n}");
    }
}
