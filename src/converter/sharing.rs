//! Sharing error: how unequally the phases of one converter carry the current.

use schemars::JsonSchema;
use serde::Serialize;

/// The quantity that the phases are to share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shared {
    /// Mean output current of a phase.
    OutputCurrent,
    /// Mean absolute tank current: what a rectifying current probe reads.
    MeanTankCurrent,
    /// Root-mean-square tank current: what heats the windings.
    RmsTankCurrent,
}

impl Shared {
    /// All three.
    pub const ALL: [Self; 3] = [Self::OutputCurrent, Self::MeanTankCurrent, Self::RmsTankCurrent];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::OutputCurrent => "output-current",
            Self::MeanTankCurrent => "mean-tank-current",
            Self::RmsTankCurrent => "rms-tank-current",
        }
    }
}

/// How the phases' differences become one number. With m the mean of the x(k):
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// max |x(k) − m| / m
    Deviation,
    /// (max x − m) / m
    Overload,
    /// (max x − min x) / m
    Spread,
}

impl Measure {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Deviation, Self::Overload, Self::Spread];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Deviation => "deviation",
            Self::Overload => "overload",
            Self::Spread => "spread",
        }
    }

    /// The sharing error of the values `x`, a fraction of their mean.
    ///
    /// Zero for no values and for a mean of zero, where nothing is shared.
    pub fn error(self, x: impl Iterator<Item = f64>) -> f64 {
        let (mut count, mut sum) = (0.0, 0.0);
        let (mut high, mut low) = (f64::NEG_INFINITY, f64::INFINITY);
        for value in x {
            count += 1.0;
            sum += value;
            high = high.max(value);
            low = low.min(value);
        }
        if sum == 0.0 {
            return 0.0;
        }
        let mean: f64 = sum / count;
        match self {
            Self::Deviation => (high - mean).max(mean - low) / mean,
            Self::Overload => (high - mean) / mean,
            Self::Spread => (high - low) / mean,
        }
    }

    /// The sharing error where one of `phases` carries all, which no other is above.
    pub fn largest(self, phases: usize) -> f64 {
        let of_one_that_carries_all = (0..phases).map(|phase| if phase == 0 { 1.0 } else { 0.0 });
        self.error(of_one_that_carries_all)
    }

    /// What the sharing error of the values `x` is the largest of, each a fraction of their mean: the
    /// signed deviation of every value, its negative, or the signed difference of every two. Empty
    /// where the mean is zero.
    pub fn components(self, x: &[f64]) -> Vec<f64> {
        let sum: f64 = x.iter().sum();
        if sum == 0.0 {
            return Vec::new();
        }
        let mean = sum / x.len() as f64;
        let above = x.iter().map(|v| (v - mean) / mean);
        let below = x.iter().map(|v| (mean - v) / mean);
        match self {
            Self::Deviation => above.chain(below).collect(),
            Self::Overload => above.collect(),
            Self::Spread => {
                let pairs = x.iter().enumerate().flat_map(|(j, high)| {
                    let others = x.iter().enumerate().filter(move |(k, _)| *k != j);
                    others.map(move |(_, low)| (high - low) / mean)
                });
                pairs.collect()
            }
        }
    }
}

/// Which sharing error a limit speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Sharing {
    /// The quantity shared.
    pub share: Shared,
    /// The measure of its inequality.
    pub measure: Measure,
}

impl Default for Sharing {
    fn default() -> Self {
        Self { share: Shared::OutputCurrent, measure: Measure::Deviation }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measures_of_three_phases_by_hand() {
        let x = [9.0, 10.0, 14.0]; // mean 11
        let error = |m: Measure| m.error(x.iter().copied());
        assert!((error(Measure::Deviation) - 3.0 / 11.0).abs() < 1e-15);
        assert!((error(Measure::Overload) - 3.0 / 11.0).abs() < 1e-15);
        assert!((error(Measure::Spread) - 5.0 / 11.0).abs() < 1e-15);
        let low = [4.0, 10.0, 10.0]; // mean 8: the lowest is the farthest
        assert!((Measure::Deviation.error(low.into_iter()) - 0.5).abs() < 1e-15);
        assert!((Measure::Overload.error(low.into_iter()) - 0.25).abs() < 1e-15);
    }

    /// One phase of three at three times the mean, the others at nothing.
    #[test]
    fn no_error_is_above_that_of_one_phase_that_carries_all() {
        let largest = Measure::ALL.map(|own| own.largest(3));
        for (found, expected) in largest.into_iter().zip([2.0, 2.0, 3.0]) {
            assert!((found - expected).abs() < 1e-15);
        }
        for x in [[0.0, 0.0, 1.0], [0.0, 0.3, 1.0], [1.0, 0.0, 1.0], [0.1, 0.2, 9.0]] {
            for measure in Measure::ALL {
                assert!(measure.error(x.into_iter()) <= measure.largest(3) + 1e-15);
            }
        }
    }

    /// Whatever the values, the error is its largest component to the last bit.
    #[test]
    fn the_largest_component_is_the_error() {
        for x in [vec![9.0, 10.0, 14.0], vec![4.0, 10.0, 10.0], vec![1.3, 0.7, 2.9, 0.1]] {
            for measure in Measure::ALL {
                let components = measure.components(&x);
                let largest = components.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let error = measure.error(x.iter().copied());
                assert_eq!(largest.to_bits(), error.to_bits(), "{measure:?} of {x:?}");
            }
        }
        let of_three = Measure::ALL.map(|m| m.components(&[9.0, 10.0, 14.0]).len());
        assert_eq!(of_three, [6, 3, 6]);
        assert!(Measure::Deviation.components(&[0.0, 0.0]).is_empty());
    }
}
