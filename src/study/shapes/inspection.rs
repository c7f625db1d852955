//! The inspection that the parts have passed.

use super::nominal::Nominal;
use crate::population::measurements::{MeasuredValue, ValueColumn};
use crate::statistics::shapes::{FittedShape, SortedValues};
use crate::statistics::{Capability, Confidence, FitDistances, FitProbabilities, Interval};

/// An inspection to a band about nominal.
#[derive(Debug, Clone)]
pub struct Inspection {
    /// Half width of the band, of the nominal value.
    pub band: f64,
    /// Values that would not have passed; they are not fitted.
    pub outside: Vec<MeasuredValue>,
    /// How far the limits are from all values.
    pub capability: Option<Capability>,
}

/// Distances from a distribution that was known before the values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownFit {
    /// The distances.
    pub distances: FitDistances,
    /// Their probabilities.
    pub probabilities: FitProbabilities,
}

impl Inspection {
    pub(super) fn new(
        band: f64,
        column: &ValueColumn,
        nominal: Nominal,
        confidence: Confidence,
    ) -> Self {
        let mut found = Self { band, outside: Vec::new(), capability: None };
        let limits = found.limits();
        let ratio = |measured: &MeasuredValue| measured.value / nominal.value;
        let passes =
            |measured: &&MeasuredValue| (limits.lower..=limits.upper).contains(&ratio(measured));
        found.outside = column.values.iter().filter(|m| !passes(m)).copied().collect();
        let ratios: Vec<f64> = column.values.iter().map(ratio).collect();
        found.capability = Capability::new(&ratios, limits, confidence);
        found
    }

    /// The limits, over nominal.
    pub fn limits(&self) -> Interval {
        Interval { lower: 1.0 - self.band, upper: 1.0 + self.band }
    }

    /// How far values lie from a uniform distribution over the whole band.
    pub(super) fn uniform_over_band(&self, ratios: &SortedValues) -> Option<KnownFit> {
        let distances = FittedShape::Uniform(self.limits()).distances(ratios)?;
        Some(KnownFit { distances, probabilities: distances.probabilities_when_known() })
    }
}
