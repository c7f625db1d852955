//! How many samples show a yield, before any is drawn.

use super::beta::{self, Portion};
use super::confidence::within_tail;
use super::proportion::smallest;
use super::{Confidence, StatisticsError};

/// The smallest number of samples which, all passing, shows at this confidence that at least the
/// fraction `content` of the population passes: contentⁿ ≤ 1 − confidence.
///
/// S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Ann. Math. Statist.
/// 12 (1941) 91–96. It is also the number whose largest value lies above the quantile `content`.
///
/// # Errors
///
/// As [`samples_with_failures`].
pub fn samples_without_failure(
    content: f64,
    confidence: Confidence,
) -> Result<u64, StatisticsError> {
    samples_with_failures(0, content, confidence)
}

/// The smallest number of samples which shows `content` with so many `failures` among them: a tolerance
/// limit of the order `failures` + 1.
///
/// One failure gives the size for two-sided limits of first order, whose smallest and largest value
/// together enclose the content. Both leave out two blocks of equal distribution.
///
/// # Errors
///
/// [`StatisticsError::Content`] unless 0 < `content` < 1, [`StatisticsError::TooManySamples`] if
/// more than 10¹² are needed.
pub fn samples_with_failures(
    failures: u32,
    content: f64,
    confidence: Confidence,
) -> Result<u64, StatisticsError> {
    if !(content > 0.0 && content < 1.0) {
        return Err(StatisticsError::Content(content));
    }
    let failures = u64::from(failures);
    let fails = Portion::new(content).flipped();
    let tail = confidence.one_sided_tail();
    let shows = |samples| within_tail(beta::binomial_at_most(failures, samples, fails), tail);
    smallest(failures + 1, 1_000_000_000_000, shows)
        .ok_or(StatisticsError::TooManySamples { content, confidence: confidence.get() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::lower_bound;

    fn confidence(level: f64) -> Confidence {
        Confidence::new(level).unwrap()
    }

    #[test]
    fn an_exact_tie_is_enough() {
        assert_eq!(samples_without_failure(0.5, confidence(0.75)), Ok(2)); // 0.5² = 1 − 0.75
        assert_eq!(samples_without_failure(0.5, confidence(0.5)), Ok(1));
    }

    #[test]
    fn impossible_contents_are_refused() {
        for content in [0.0, 1.0, 1.5, -0.1, f64::NAN] {
            let refused = samples_without_failure(content, confidence(0.95)).unwrap_err();
            assert!(matches!(refused, StatisticsError::Content(_)), "{content}");
        }
        let refused = samples_without_failure(1.0 - 1e-13, confidence(0.95)).unwrap_err();
        assert!(matches!(refused, StatisticsError::TooManySamples { .. }));
    }

    /// The same statement from the other side: the lower bound of the yield reaches the content.
    #[test]
    fn is_where_the_lower_bound_reaches_the_content() {
        let c = confidence(0.9);
        for failures in [0_u32, 1, 2, 7, 40] {
            for content in [0.3, 0.9, 0.999] {
                let n = samples_with_failures(failures, content, c).unwrap();
                let bound = |n: u64| lower_bound(n - u64::from(failures), n, c).unwrap();
                assert!(bound(n) >= content, "{failures} {content}: {n}");
                if n > u64::from(failures) + 1 {
                    assert!(bound(n - 1) < content, "{failures} {content}: {n}");
                }
            }
        }
    }
}
