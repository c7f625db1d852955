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
    pub fn error(self, x: impl Iterator<Item = f64> + Clone) -> f64 {
        let (count, sum) = x.clone().fold((0.0, 0.0), |(n, s), v| (n + 1.0, s + v));
        if sum == 0.0 {
            return 0.0;
        }
        let mean: f64 = sum / count;
        let high = x.clone().fold(f64::NEG_INFINITY, f64::max);
        let low = x.fold(f64::INFINITY, f64::min);
        match self {
            Self::Deviation => (high - mean).max(mean - low) / mean,
            Self::Overload => (high - mean) / mean,
            Self::Spread => (high - low) / mean,
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
}
