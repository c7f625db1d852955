//! The difference of two yields of different samples.

use super::{Confidence, Difference, StatisticsError, wilson};

/// How many samples pass, of how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Passes {
    /// Samples that pass.
    pub successes: u64,
    /// All samples.
    pub trials: u64,
}

/// Difference of the yields of independent samples, first less second.
///
/// R. G. Newcombe, "Interval estimation for the difference between independent proportions: comparison of
/// eleven methods", Statistics in Medicine 17 (1998) 873–890, method 10: with the Wilson interval (l, u) of each
/// yield p,
///
/// ```text
/// lower = p₁ − p₂ − √((p₁ − l₁)² + (u₂ − p₂)²)
/// upper = p₁ − p₂ + √((u₁ − p₁)² + (p₂ − l₂)²)
/// ```
///
/// # Errors
///
/// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
pub fn independent_difference(
    first: Passes,
    second: Passes,
    confidence: Confidence,
) -> Result<Difference, StatisticsError> {
    let [p, q] = [first, second].map(|own| own.successes as f64 / own.trials as f64);
    let own = wilson(first.successes, first.trials, confidence)?;
    let other = wilson(second.successes, second.trials, confidence)?;
    let root = |a: f64, b: f64| (a * a + b * b).sqrt();
    Ok(Difference {
        estimate: p - q,
        lower: p - q - root(p - own.lower, other.upper - q),
        upper: p - q + root(own.upper - p, q - other.lower),
        confidence,
    })
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

    use super::*;

    fn confidence() -> Confidence {
        Confidence::new(0.95).unwrap()
    }

    fn passes(successes: u64, trials: u64) -> Passes {
        Passes { successes, trials }
    }

    /// Newcombe 1998, table II, method 10, all six decimals that it prints (from memory).
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
            let found = independent_difference(first, second, confidence()).unwrap();
            assert!((found.lower - lower).abs() < 6e-5, "{found:?}");
            assert!((found.upper - upper).abs() < 6e-5, "{found:?}");
        }
    }

    /// Truth known, many repetitions: the interval misses a difference about as often as it says. One that
    /// took both yields as paired with a correlation of one half would miss it far more often.
    #[test]
    fn the_interval_misses_as_often_as_it_says() {
        let (truth, trials, repetitions) = ([0.985, 0.97], 1500, 3000);
        let mut rng = ChaCha8Rng::seed_from_u64(41);
        let (mut missed, mut missed_if_halved) = (0, 0);
        for _ in 0..repetitions {
            let [first, second] = truth.map(|p| {
                passes((0..trials).filter(|_| rng.random::<f64>() < p).count() as u64, trials)
            });
            let found = independent_difference(first, second, confidence()).unwrap();
            let difference = truth[0] - truth[1];
            missed += u32::from(difference < found.lower || found.upper < difference);
            let narrow =
                libm::fabs(difference - found.estimate) > 0.5 * (found.upper - found.lower) * 0.707;
            missed_if_halved += u32::from(narrow);
        }
        // Four standard errors of 5 % of 3000: 1.6 %.
        let share = f64::from(missed) / f64::from(repetitions);
        assert!((share - 0.05).abs() < 0.016, "{share}");
        assert!(f64::from(missed_if_halved) / f64::from(repetitions) > 0.12);
    }
}
