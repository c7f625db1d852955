//! Confidence levels and intervals.

use schemars::JsonSchema;
use serde::Serialize;

use super::StatisticsError;

/// A confidence level, between 0 and 1: the share of repetitions in which an interval holds the
/// true value.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, JsonSchema, Serialize)]
#[serde(transparent)]
pub struct Confidence(f64);

impl Confidence {
    /// Checks the level.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::Confidence`] unless 0 < `level` < 1.
    pub fn new(level: f64) -> Result<Self, StatisticsError> {
        if level > 0.0 && level < 1.0 {
            Ok(Self(level))
        } else {
            Err(StatisticsError::Confidence(level))
        }
    }

    /// The level, as a fraction.
    pub const fn get(self) -> f64 {
        self.0
    }

    /// The probability left outside a one-sided interval: 1 − level.
    pub fn one_sided_tail(self) -> f64 {
        1.0 - self.0
    }

    /// The probability left outside on each side of a central interval: (1 − level) / 2.
    pub fn two_sided_tail(self) -> f64 {
        0.5 * self.one_sided_tail()
    }
}

/// Whether a probability meets a tail, but for the rounding of both: 0.5² meets 1 − 0.75.
pub(super) fn within_tail(probability: f64, tail: f64) -> bool {
    probability <= tail * (1.0 + 1e-12)
}

/// A closed interval, in the unit of the figure it belongs to.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct Interval {
    /// The lower end.
    pub lower: f64,
    /// The upper end.
    pub upper: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_outside_the_open_interval_are_refused() {
        for level in [0.0, 1.0, -0.5, 95.0, f64::NAN, f64::INFINITY] {
            let refused = Confidence::new(level).unwrap_err();
            assert!(matches!(refused, StatisticsError::Confidence(_)), "{level}");
        }
        assert!(Confidence::new(f64::MIN_POSITIVE).is_ok());
        assert!(Confidence::new(1.0 - f64::EPSILON).is_ok());
    }

    #[test]
    fn tails_by_hand() {
        let c = Confidence::new(0.75).unwrap();
        assert_eq!((c.get(), c.one_sided_tail(), c.two_sided_tail()), (0.75, 0.25, 0.125));
    }

    #[test]
    fn the_error_says_what_and_the_limit() {
        let text = Confidence::new(95.0).unwrap_err().to_string();
        assert_eq!(
            text,
            "the confidence level is 95; it must lie between 0 and 1, neither included"
        );
    }
}
