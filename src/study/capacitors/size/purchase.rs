//! What to buy for a size: more than it by what a dc voltage takes, and at which price.
//!
//! Parts on offer are larger than what is to buy, each by what it is. So the yield of converters with these
//! parts is another one than that of the size, and is sampled for itself.

use super::prepared::PreparedSize;
use crate::scenario::{CapacitorOffer, Scenario};
use crate::statistics::Yield;
use crate::study::common::drift::DriftingChain;
use crate::units::{Farad, Volt};

/// What to buy for one converter.
#[derive(Debug, Clone, PartialEq)]
pub struct SizePurchase {
    /// The places after phases 1 … N − 1.
    pub places: Vec<PlacePurchase>,
    /// Price of all flying capacitors of a converter; none where some place has no part on offer.
    pub price: Option<f64>,
    /// The yield of the samples with the parts on offer, at what their dc voltage leaves; none where some place has
    /// none, or the nominal converter does not deliver every operating point.
    pub good: Option<Yield>,
    /// The price over that; none without either.
    pub price_per_good: Option<f64>,
}

/// What to buy for one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacePurchase {
    /// DC voltage: the ideal one at the highest input voltage, and the assumed drift.
    pub dc_voltage: Volt,
    /// Share of the capacitance that this leaves; none where the scenario does not tell.
    pub left: Option<f64>,
    /// Capacitance without dc voltage of which that leaves the size; none where it is not known.
    pub to_buy: Option<Farad>,
    /// The cheapest part on offer that has so much.
    pub offer: Option<CapacitorOffer>,
}

impl SizePurchase {
    /// None where the scenario tells neither a dc bias nor any part on offer.
    pub(super) fn new(
        scenario: &Scenario,
        prepared: &PreparedSize,
        legs: usize,
        capacitance: Farad,
    ) -> Option<Self> {
        let settings = &scenario.capacitors;
        if settings.dc_bias.points.is_empty() && settings.offers.is_empty() {
            return None;
        }
        let inputs = scenario.operating_points.iter().map(|point| point.input_voltage.0);
        let (input, phases) = (inputs.fold(0.0, f64::max), scenario.phases as f64);
        let place = |k: usize| {
            let ideal = input * (phases - k as f64) / phases;
            let dc_voltage = Volt(ideal + drift(scenario, prepared, k - 1));
            let left = settings.dc_bias.left(dc_voltage);
            let to_buy = left.map(|left| Farad(capacitance.0 / left));
            let offer = to_buy.and_then(|least| cheapest(&settings.offers, least));
            PlacePurchase { dc_voltage, left, to_buy, offer }
        };
        let places: Vec<PlacePurchase> = (1..scenario.phases).map(place).collect();
        let prices: Option<Vec<f64>> =
            places.iter().map(|own| own.offer.map(|offer| offer.price)).collect();
        let price = prices.map(|prices| legs as f64 * prices.iter().sum::<f64>());
        Some(Self { places, price, good: None, price_per_good: None })
    }

    /// What the parts on offer have at their dc voltage, place by place; none where some place has none.
    pub fn bought(&self) -> Option<Vec<Farad>> {
        self.places.iter().map(PlacePurchase::bought).collect()
    }

    /// Takes the yield of the samples with these parts.
    pub(super) fn set_yield(&mut self, good: Option<Yield>) {
        let share = good.map(|good| good.estimate).filter(|share| *share > 0.0);
        self.price_per_good = self.price.zip(share).map(|(price, share)| price / share);
        self.good = good;
    }
}

impl PlacePurchase {
    /// What the part on offer has at its dc voltage.
    pub fn bought(&self) -> Option<Farad> {
        Some(Farad(self.left? * self.offer?.capacitance.0))
    }
}

/// The most by which the capacitors of a place drift, in volt.
fn drift(scenario: &Scenario, prepared: &PreparedSize, place: usize) -> f64 {
    let drifts = prepared.cases.iter().filter_map(|own| {
        let (state, point) = (own.outcome.solved()?, &own.case.point);
        let converter = own.converter.at(&point.condition);
        let chain = DriftingChain { converter: &converter, state, point };
        Some(chain.worst_drift(scenario).after(place).0)
    });
    drifts.fold(0.0, f64::max)
}

/// The cheapest part with so much capacitance at least; of equal prices the smallest.
fn cheapest(offers: &[CapacitorOffer], least: Farad) -> Option<CapacitorOffer> {
    // What differs by rounding alone is enough.
    let mut enough =
        offers.iter().filter(|own| own.capacitance.0 >= least.0 * (1.0 - 1e-9)).copied();
    let first = enough.next()?;
    Some(enough.fold(first, |a, b| if b.price < a.price { b } else { a }))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A larger part that costs less is taken, and one that is too small never.
    #[test]
    fn the_cheapest_part_that_is_large_enough_is_taken() {
        let offer = |capacitance: f64, price: f64| CapacitorOffer {
            capacitance: Farad(capacitance * 1e-6),
            price,
        };
        let offers = [offer(4.7, 1.0), offer(10.0, 3.0), offer(22.0, 2.5), offer(47.0, 2.5)];
        let taken = |least: f64| cheapest(&offers, Farad(least * 1e-6));
        assert_eq!(taken(4.7), Some(offers[0]));
        assert_eq!(taken(4.8), Some(offers[2]));
        assert_eq!(taken(30.0), Some(offers[3]));
        assert_eq!(taken(48.0), None);
    }
}
