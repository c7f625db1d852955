//! The difference of two yields of different samples.

use super::{Confidence, Difference, Interval, StatisticsError, Yield};

/// How many samples pass, of how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Passes {
    /// Samples that pass.
    pub successes: u64,
    /// All samples.
    pub trials: u64,
}

/// The highest level at which the rule below errs no more often than it says. Above it, errors of few failures
/// among few samples dominate, and they are not those of a sum of squares: at 99 % it errs 1.3 times as often.
pub const HIGHEST_SQUARED_LEVEL: f64 = 0.95;

/// Difference of the yields of independent samples, first less second, at a level of at most
/// [`HIGHEST_SQUARED_LEVEL`].
///
/// R. G. Newcombe, "Interval estimation for the difference between independent proportions: comparison of
/// eleven methods", Statistics in Medicine 17 (1998) 873–890, squares and adds the distances to the ends (l, u) of
/// an interval of each yield p:
///
/// ```text
/// lower = p₁ − p₂ − √((p₁ − l₁)² + (u₂ − p₂)²)
/// upper = p₁ − p₂ + √((u₁ − p₁)² + (p₂ − l₂)²)
/// ```
///
/// Here the intervals are those of Clopper and Pearson, as G. Y. Zou and A. Donner allow for any (Statistics in
/// Medicine 27 (2008) 1693–1702, from memory). With Wilson's, of Newcombe's method 10, few failures of unequal numbers of
/// samples err up to twice as often as they say.
///
/// # Errors
///
/// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
pub fn independent_difference(
    first: Passes,
    second: Passes,
    confidence: Confidence,
) -> Result<Difference, StatisticsError> {
    let interval = |own: Passes| {
        let found = Yield::new(own.successes, own.trials, confidence)?;
        Ok(Interval { lower: found.lower, upper: found.upper })
    };
    let [estimate, lower, upper] =
        square_and_add([first, second], [interval(first)?, interval(second)?]);
    Ok(Difference { estimate, lower, upper, confidence })
}

/// The difference of two yields and its ends, from an interval of each.
fn square_and_add(passes: [Passes; 2], [own, other]: [Interval; 2]) -> [f64; 3] {
    let [p, q] = passes.map(|own| own.successes as f64 / own.trials as f64);
    let root = |a: f64, b: f64| (a * a + b * b).sqrt();
    [
        p - q,
        p - q - root(p - own.lower, other.upper - q),
        p - q + root(own.upper - p, q - other.lower),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::wilson;

    fn level(level: f64) -> Confidence {
        Confidence::new(level).unwrap()
    }

    fn passes(successes: u64, trials: u64) -> Passes {
        Passes { successes, trials }
    }

    /// Newcombe 1998, table II, method 10 (with Wilson's intervals), all decimals that it prints (from
    /// memory).
    #[test]
    fn published_intervals() {
        for (first, second, lower, upper) in [
            (passes(56, 70), passes(48, 80), 0.0524, 0.3339),
            (passes(9, 10), passes(3, 10), 0.1705, 0.8090),
            (passes(6, 7), passes(2, 7), 0.0582, 0.8062),
            (passes(5, 56), passes(0, 29), -0.0381, 0.1926),
            (passes(0, 10), passes(0, 20), -0.1611, 0.2775),
            (passes(10, 10), passes(0, 20), 0.6791, 1.0),
        ] {
            let both = [first, second];
            let intervals = both.map(|own| wilson(own.successes, own.trials, level(0.95)).unwrap());
            let [_, low, high] = square_and_add(both, intervals);
            assert!((low - lower).abs() < 6e-5 && (high - upper).abs() < 6e-5, "{low} {high}");
        }
    }

    /// Binomial probabilities that matter of `trials` with such a share of failures, by the ratio of
    /// neighbours: number of failures and probability.
    fn probabilities(trials: u64, failing: f64) -> Vec<(u64, f64)> {
        let n = trials as f64;
        let next = |probability: f64, k: u64| {
            probability * (n - k as f64) / (k as f64 + 1.0) * failing / (1.0 - failing)
        };
        let mut probability = libm::exp(n * libm::log1p(-failing));
        let mut all = Vec::new();
        for k in 0..=trials {
            all.push((k, probability));
            probability = next(probability, k);
            if probability < 1e-11 && k as f64 > n * failing {
                break;
            }
        }
        all
    }

    /// How often an interval misses the difference of two true shares of failures: all outcomes, each with its
    /// probability.
    fn misses(trials: [u64; 2], failing: [f64; 2], confidence: Confidence) -> f64 {
        let truth = failing[1] - failing[0];
        let second = probabilities(trials[1], failing[1]);
        let mut missed = 0.0;
        for (k, own) in probabilities(trials[0], failing[0]) {
            for (j, other) in &second {
                let [first, second] =
                    [passes(trials[0] - k, trials[0]), passes(trials[1] - j, trials[1])];
                let found = independent_difference(first, second, confidence).unwrap();
                let is_missed = truth < found.lower || found.upper < truth;
                missed += if is_missed { own * other } else { 0.0 };
            }
        }
        missed
    }

    /// By exact enumeration, without any draw: unequal numbers of samples and few failures, where Wilson's
    /// intervals err up to twice as often as they say.
    #[test]
    fn no_difference_is_missed_more_often_than_stated() {
        for (trials, failing) in [
            ([20_000, 1000], [0.0009, 0.0009]),
            ([20_000, 1000], [0.0005, 0.000_17]),
            ([20_000, 500], [0.0002, 0.0002]),
            ([2000, 200], [0.01, 0.01]),
            ([1000, 1000], [0.01, 0.003]),
            ([400, 400], [0.05, 0.1]),
            ([50, 300], [0.1, 0.03]),
        ] {
            for confidence in [0.8, 0.9, HIGHEST_SQUARED_LEVEL] {
                let missed = misses(trials, failing, level(confidence));
                assert!(missed <= 1.0 - confidence, "{trials:?} {failing:?} {missed}");
            }
        }
    }

    /// Nor is the interval wide without need: with many failures it misses nearly as often as it may.
    #[test]
    fn many_failures_use_what_may_be_missed() {
        let missed = misses([1500, 1500], [0.03, 0.05], level(0.95));
        assert!((0.035..0.05).contains(&missed), "{missed}");
    }
}
