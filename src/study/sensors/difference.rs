//! The differences between two variants, on the same samples.

use serde::Serialize;

use super::quantile::QuantileComparison;
use super::result::SensorStudy;
use super::variant::Variant;
use crate::statistics::{Difference, PairedCounts, StatisticsError};

/// One variant less another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VariantDifference {
    /// How the samples divide, the one variant first.
    pub counts: PairedCounts,
    /// Yield, with its paired interval.
    pub good: Difference,
    /// McNemar p-value: the probability of a division at least as uneven if both yields were equal
    /// ([`PairedCounts::p_value`]).
    pub p_value: f64,
    /// Price per good converter; none where one of the two has none.
    pub price_per_good: Option<f64>,
    /// The same, relative to the other.
    pub relative_price: Option<f64>,
    /// Failure rate, FIT.
    pub failure_rate: f64,
}

impl VariantDifference {
    /// Whether the yields differ at the confidence of their interval: of this pair by itself.
    pub fn is_significant(&self) -> bool {
        self.p_value <= 1.0 - self.good.confidence.get()
    }
}

impl SensorStudy {
    /// `one` less `other`.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`].
    pub fn difference(
        &self,
        one: Variant,
        other: Variant,
    ) -> Result<VariantDifference, StatisticsError> {
        let counts = self.pairs.counts(one.index(), other.index());
        let [first, second] = [one, other].map(|v| self.variant(v));
        let prices = first.price_per_good().zip(second.price_per_good());
        Ok(VariantDifference {
            counts,
            good: counts.difference(first.good.confidence)?,
            p_value: counts.p_value(),
            price_per_good: prices.map(|(a, b)| a - b),
            relative_price: prices.map(|(a, b)| a / b - 1.0),
            failure_rate: first.bill.failure_rate - second.bill.failure_rate,
        })
    }

    /// Whether a good converter of `one` costs more than one of `other`, of this pair by itself, sample by sample at
    /// the confidence of one yield; none where the samples leave it open.
    ///
    /// The logarithm of the ratio of both costs is that of the prices less the paired difference of the logarithms
    /// of both yields.
    pub fn costs_more_alone(&self, one: Variant, other: Variant) -> Option<bool> {
        let [first, second] = [one, other].map(|v| self.variant(v));
        let counts = self.pairs.counts(one.index(), other.index());
        let yields = counts.cost_difference(libm::log, libm::log, first.good.confidence);
        let yields = yields.ok().flatten()?;
        let prices = libm::log(first.bill.price / second.bill.price);
        match (prices > yields.upper, prices < yields.lower) {
            (true, _) => Some(true),
            (_, true) => Some(false),
            _ => None,
        }
    }

    /// Samples that are good in one variant and not in the other.
    pub fn good_in_one_alone(&self, one: Variant, other: Variant) -> u64 {
        self.pairs.counts(one.index(), other.index()).first
    }

    /// How much lower, as a share, the RMS current that the target share keeps to is in `one` than in
    /// `other`: a fair comparison in one arrangement, where both block the same voltage.
    pub fn current_reduction(&self, one: Variant, other: Variant) -> Option<f64> {
        let [first, second] = [one, other].map(|v| self.variant(v).currents[0]);
        Some(1.0 - first?.value / second?.value)
    }

    /// How the intervals of those currents lie to each other; none where a current is missing.
    pub fn current_comparison(&self, one: Variant, other: Variant) -> Option<QuantileComparison> {
        let [one, other] = [one, other].map(|v| self.variant(v).currents[0]);
        Some(one?.compare(&other?))
    }

    /// The RMS current that a switch in the chain would carry if its phases shared as unevenly as those
    /// of (a), A: what the chain's nominal switch carries, times the oversize of (a). A hypothesis: no
    /// chain shares so.
    pub fn chain_current_if_uneven(&self) -> Option<f64> {
        let over = self.variant(Variant::Paralleled).oversize()[0]?;
        Some(over * self.variant(Variant::Chain).nominal[0])
    }

    /// How much less, relatively, the chain's switches carry than [`Self::chain_current_if_uneven`].
    pub fn less_than_uneven(&self) -> Option<f64> {
        let current = self.variant(Variant::Chain).currents[0]?.value;
        Some(1.0 - current / self.chain_current_if_uneven()?)
    }
}
