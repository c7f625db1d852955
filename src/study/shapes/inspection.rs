//! The inspection that the parts have passed.

use super::nominal::Nominal;
use crate::population::measurements::{MeasuredValue, ValueColumn};
use crate::statistics::shapes::{CutNormal, FittedShape, SortedValues};
use crate::statistics::{Capability, Confidence, FitDistances, FitProbabilities, Interval};

/// What rounding does to a ratio at most.
const ROUNDING: f64 = 1e-12;
/// Above this share of a normal process outside the band, the values that passed scatter so much less than
/// the process that they no longer stand for it.
const CUT: f64 = 3e-3;

/// An inspection to a band about nominal.
#[derive(Debug, Clone)]
pub struct Inspection {
    /// Ends of the band: deviations, fractions of the nominal value.
    pub band: Interval,
    /// Values that would not have passed; they are not fitted.
    pub outside: Vec<MeasuredValue>,
    /// How far the limits are from the process. Where all values passed, and the band cuts the normal process
    /// that is fitted to them, it is that process; else all values.
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
        band: Interval,
        column: &ValueColumn,
        nominal: Nominal,
        confidence: Confidence,
    ) -> Self {
        let mut found = Self { band, outside: Vec::new(), capability: None };
        let ratio = |measured: &MeasuredValue| found.ratio(measured.value, nominal);
        let ratios: Vec<f64> = column.values.iter().map(ratio).collect();
        let outside = column.values.iter().zip(&ratios).filter(|(_, ratio)| !found.passes(**ratio));
        let outside = outside.map(|(measured, _)| *measured).collect();
        found.outside = outside;
        found.capability = found.capability_of(ratios, confidence);
        found
    }

    fn capability_of(&self, ratios: Vec<f64>, confidence: Confidence) -> Option<Capability> {
        let limits = self.limits();
        let of_values = Capability::new(&ratios, limits, confidence);
        if !self.outside.is_empty() {
            return of_values;
        }
        let process = CutNormal::fit(&SortedValues::new(ratios)?, Some(limits)).ok()?;
        if process.cut_share() < CUT {
            return of_values;
        }
        Some(Capability::of_process(process.mean, process.sigma, limits))
    }

    /// Half width of a band that reaches as far below the nominal value as above it.
    pub fn half_width(&self) -> Option<f64> {
        let Interval { lower, upper } = self.band;
        (lower + upper == 0.0).then_some(upper)
    }

    /// The limits, over nominal.
    pub fn limits(&self) -> Interval {
        Interval { lower: 1.0 + self.band.lower, upper: 1.0 + self.band.upper }
    }

    /// A value over nominal. One at a limit, but for rounding, lies at it.
    pub(super) fn ratio(&self, value: f64, nominal: Nominal) -> f64 {
        let (ratio, Interval { lower, upper }) = (value / nominal.value, self.limits());
        let snapped = ratio.clamp(lower, upper);
        if (ratio - snapped).abs() < ROUNDING { snapped } else { ratio }
    }

    /// Whether such a ratio lies inside the limits.
    pub(super) fn passes(&self, ratio: f64) -> bool {
        let Interval { lower, upper } = self.limits();
        (lower..=upper).contains(&ratio)
    }

    /// How far values lie from a uniform distribution over the whole band.
    pub(super) fn uniform_over_band(&self, ratios: &SortedValues) -> Option<KnownFit> {
        let distances = FittedShape::Uniform(self.limits()).distances(ratios)?;
        Some(KnownFit { distances, probabilities: distances.probabilities_when_known() })
    }
}
