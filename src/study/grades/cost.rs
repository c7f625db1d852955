//! The cost per good converter. All formulas are common practice, without a source.
//!
//! With Q good converters wanted, yield y, n parts of a kind in a converter, price p and least
//! order M of that kind, m the cost of measuring and matching one part, F the cost of a failure and O
//! that of everything else:
//!
//! ```text
//! built     B = Q/y  where failures are scrapped,  B = Q  where they are reworked
//! bought    max(n B, M) of every kind
//! failures  (Q/y)(1 − y) scrapped,                 Q (1 − y) reworked
//! cost of a good converter = (Σ (p max(n B, M) + m n B) + B O + failures F) / Q
//! ```
//!
//! Where price p(k) holds from quantity q(k) on, the cheapest of all orders is taken: more parts than
//! needed where their lower price makes up for it. It costs min over k of p(k) max(n B, M, q(k)), which
//! never falls as n B rises.
//!
//! Of parts that are screened at incoming inspection more are bought: n counts 1/(1 − s) for each
//! part that a converter needs, with s the share that is screened out.
//!
//! Without least orders that is (parts + O + (1 − y) F)/y for scrap and parts + O + (1 − y) F for
//! rework. What is bought beyond the need counts as worth nothing; B is the expected number, not
//! rounded. The cost falls as the yield rises, so that bounds of the yield give bounds of the cost.

use super::set::GradeSet;
use crate::converter::{Arrangement, ConverterSize};
use crate::scenario::{Failed, Grade, Grades, Offer, PriceBreak};
use crate::statistics::Yield;

/// The money side of one set of grades.
#[derive(Debug, Clone, PartialEq)]
pub struct CostModel {
    /// Price, parts bought for a converter and least order of every part.
    parts: Vec<PartCost>,
    quantity: f64,
    failed: Failed,
    failure_cost: f64,
    other_cost: f64,
}

#[derive(Debug, Clone, PartialEq)]
struct PartCost {
    prices: PriceList,
    /// Parts bought for a converter.
    number: f64,
    /// Of measuring and matching one part.
    matching: f64,
}

/// Prices of one part by the size of the order, and the least order.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceList {
    least: f64,
    price: f64,
    breaks: Vec<PriceBreak>,
}

/// An order of one part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartOrder {
    /// Parts ordered.
    pub pieces: f64,
    /// Price of one.
    pub price: f64,
}

impl PartOrder {
    /// Price of all.
    pub fn spend(self) -> f64 {
        self.price * self.pieces
    }
}

impl PriceList {
    /// That of a grade.
    pub fn new(grade: &Grade) -> Self {
        let least = grade.minimum_quantity as f64;
        Self { least, price: grade.price, breaks: grade.price_breaks.clone() }
    }

    /// The cheapest order that holds so many parts; of equal ones the smallest.
    pub fn cheapest(&self, needed: f64) -> PartOrder {
        let pieces = needed.max(self.least);
        let breaks = self
            .breaks
            .iter()
            .map(|own| PartOrder { pieces: pieces.max(own.quantity as f64), price: own.price });
        let plain = PartOrder { pieces, price: self.price };
        breaks.fold(plain, |best, next| if next.spend() < best.spend() { next } else { best })
    }

    /// The same list with all prices multiplied.
    fn scaled(&self, factor: f64) -> Self {
        let scaled = |own: &PriceBreak| PriceBreak { price: factor * own.price, ..*own };
        let breaks = self.breaks.iter().map(scaled).collect();
        Self { price: factor * self.price, breaks, ..*self }
    }
}

/// A cost with the bounds that the yield's interval gives it, in the scenario's currency; infinite
/// where no converter may be good.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// At the yield seen.
    pub estimate: f64,
    /// At the upper end of the yield.
    pub lower: f64,
    /// At the lower end of the yield.
    pub upper: f64,
}

impl CostModel {
    /// The costs of a set of grades in converters of this size.
    pub fn new(grades: &Grades, candidate: &GradeSet, size: ConverterSize) -> Self {
        let parts = candidate.chosen(grades).map(|(offer, grade)| PartCost {
            prices: PriceList::new(grade),
            number: bought_for_one(offer, grade, candidate.arrangement, size),
            matching: grade.tolerance.matching.map_or(0.0, |matching| matching.cost),
        });
        Self {
            parts: parts.collect(),
            quantity: grades.quantity as f64,
            failed: grades.failed,
            failure_cost: grades.failure_cost,
            other_cost: grades.other_cost,
        }
    }

    /// Price of the parts on offer in one converter, measuring and matching included: at the price of the
    /// order that this yield asks for, surplus aside.
    pub fn parts(&self, good: f64) -> f64 {
        let price = |part: &PartCost| part.number * (self.price(part, good) + part.matching);
        self.parts.iter().map(price).sum()
    }

    /// Price of one part in the order that this yield asks for; `part` counts the parts that the set has.
    pub(super) fn ordered_price(&self, part: usize, good: f64) -> Option<f64> {
        self.parts.get(part).map(|own| self.price(own, good))
    }

    fn price(&self, part: &PartCost, good: f64) -> f64 {
        let built = self.built(good);
        if built.is_finite() { part.order(built).price } else { part.prices.price }
    }

    /// Converters built for the quantity wanted, on average.
    fn built(&self, good: f64) -> f64 {
        match self.failed {
            Failed::Scrapped => self.quantity / good,
            Failed::Reworked => self.quantity,
        }
    }

    /// Cost of a good converter at the yield `good`; infinite where none is.
    pub fn per_good(&self, good: f64) -> f64 {
        let built = self.built(good);
        if !built.is_finite() {
            return f64::INFINITY;
        }
        let parts: f64 = self.parts.iter().map(|part| part.cost(built)).sum();
        let failures = built * (1.0 - good) * self.failure_cost;
        (parts + built * self.other_cost + failures) / self.quantity
    }

    /// What parts bought beyond the need add to the cost of a good converter.
    pub fn surplus(&self, good: f64) -> f64 {
        let built = self.built(good);
        if !built.is_finite() {
            return 0.0;
        }
        let beyond = |part: &PartCost| {
            let order = part.order(built);
            order.price * (order.pieces - part.number * built)
        };
        self.parts.iter().map(beyond).sum::<f64>() / self.quantity
    }

    /// The same costs with all prices of one part multiplied; `part` counts the parts that the set has.
    pub(super) fn with_price(&self, part: usize, factor: f64) -> Self {
        let mut model = self.clone();
        if let Some(own) = model.parts.get_mut(part) {
            own.prices = own.prices.scaled(factor);
        }
        model
    }

    /// The cost with its bounds; infinite where no sample is good, whatever rework costs.
    pub fn cost(&self, good: &Yield) -> Cost {
        let none = good.successes == 0;
        Cost {
            estimate: if none { f64::INFINITY } else { self.per_good(good.estimate) },
            lower: self.per_good(good.upper),
            upper: self.per_good(good.lower),
        }
    }
}

impl PartCost {
    /// The order for so many converters.
    fn order(&self, built: f64) -> PartOrder {
        self.prices.cheapest(self.number * built)
    }

    /// Cost of the parts of so many converters, measuring and matching included.
    fn cost(&self, built: f64) -> f64 {
        let matching = self.matching * self.number * built;
        self.order(built).spend() + matching
    }
}

/// Parts of a kind that are bought for one converter: some more where parts are screened.
pub(super) fn bought_for_one(
    offer: &Offer,
    grade: &Grade,
    arrangement: Arrangement,
    size: ConverterSize,
) -> f64 {
    offer.parameter.parts(size, arrangement) as f64 * grade.tolerance.bought_per_used()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::Parameter;
    use crate::scenario::{Matching, Shape, Tolerance};

    const SIZE: ConverterSize = ConverterSize { phases: 3, legs: 2 };

    fn grades(failed: Failed, least: u64) -> Grades {
        let grade = Grade {
            name: "a".into(),
            tolerance: Tolerance::new(Shape::Uniform, 0.05),
            price: 2.0,
            price_breaks: Vec::new(),
            lead_time: None,
            minimum_quantity: least,
        };
        let offer = |parameter| Offer { parameter, grades: vec![grade.clone()] };
        Grades {
            currency: "credits".into(),
            quantity: 100,
            failed,
            failure_cost: 5.0,
            other_cost: 30.0,
            offers: vec![offer(Parameter::TurnsRatio), offer(Parameter::FlyingCapacitance)],
            sets: vec![vec![0, 0]],
        }
    }

    fn model(failed: Failed, least: u64, arrangement: Arrangement) -> CostModel {
        let grades = grades(failed, least);
        CostModel::new(&grades, &GradeSet::new(&grades, &[0, 0], arrangement), SIZE)
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-12 * b.abs(), "{a} against {b}");
    }

    /// Three phases, two legs: 3 transformers and 4 capacitors, 14 credits a converter.
    #[test]
    fn costs_by_hand() {
        let in_chain = |failed, least| model(failed, least, Arrangement::Chain);
        let scrap = in_chain(Failed::Scrapped, 1);
        near(scrap.parts(0.8), 14.0);
        near(scrap.per_good(0.8), (14.0 + 30.0 + 0.2 * 5.0) / 0.8);
        near(in_chain(Failed::Reworked, 1).per_good(0.8), 14.0 + 30.0 + 0.2 * 5.0);
        assert!(scrap.per_good(0.0).is_infinite());
        near(in_chain(Failed::Reworked, 1).per_good(0.0), 49.0);
    }

    /// Without charge balancing the capacitors are not bought, whatever their least order.
    #[test]
    fn a_paralleled_converter_has_no_flying_capacitors() {
        let paralleled = model(Failed::Scrapped, 450, Arrangement::Paralleled);
        near(paralleled.parts(0.8), 6.0);
        near(paralleled.per_good(0.8), (450.0 * 2.0 + 125.0 * 30.0 + 25.0 * 5.0) / 100.0);
    }

    /// 125 converters are built: 375 transformers and 500 capacitors; 450 is the least order.
    #[test]
    fn least_orders_make_small_series_dear() {
        let model = model(Failed::Scrapped, 450, Arrangement::Chain);
        near(model.per_good(0.8), ((450.0 + 500.0) * 2.0 + 125.0 * 30.0 + 25.0 * 5.0) / 100.0);
        near(model.surplus(0.8), 75.0 * 2.0 / 100.0);
        near(model.parts(0.8), 14.0);
    }

    fn with_breaks(failed: Failed, least: u64, breaks: &[(u64, f64)]) -> CostModel {
        let mut grades = grades(failed, least);
        let breaks = breaks.iter().map(|&(quantity, price)| PriceBreak { quantity, price });
        grades.offers[0].grades[0].price_breaks = breaks.collect();
        CostModel::new(&grades, &GradeSet::new(&grades, &[0, 0], Arrangement::Chain), SIZE)
    }

    /// 375 transformers are needed: 400 at 1.80 cost less than 375 at 2, and 1000 at 1 cost more.
    #[test]
    fn more_are_ordered_where_the_price_break_makes_up_for_it() {
        let rest = 500.0 * 2.0 + 125.0 * 30.0 + 25.0 * 5.0;
        let one = with_breaks(Failed::Scrapped, 1, &[(400, 1.8), (1000, 1.0)]);
        near(one.per_good(0.8), (400.0 * 1.8 + rest) / 100.0);
        near(one.surplus(0.8), 25.0 * 1.8 / 100.0);
        near(one.parts(0.8), 3.0 * 1.8 + 8.0);
        near(one.ordered_price(0, 0.8).unwrap(), 1.8);
        near(one.with_price(0, 0.5).ordered_price(0, 0.8).unwrap(), 0.9);
        let two = with_breaks(Failed::Scrapped, 1, &[(400, 1.9)]);
        near(two.per_good(0.8), (375.0 * 2.0 + rest) / 100.0);
        let three = with_breaks(Failed::Scrapped, 600, &[(400, 1.9)]);
        near(three.per_good(0.8), (600.0 * 1.9 + rest + 100.0 * 2.0) / 100.0);
        near(three.with_price(0, 2.0).per_good(0.8), (1200.0 * 1.9 + rest + 200.0) / 100.0);
    }

    /// Every part that is used is measured, whatever is ordered.
    #[test]
    fn measuring_and_matching_cost_each_part_used() {
        let mut grades = grades(Failed::Scrapped, 450);
        let matching = Matching { pieces: 60, cost: 0.5, uncertainty: 0.0 };
        grades.offers[0].grades[0].tolerance.matching = Some(matching);
        let set = GradeSet::new(&grades, &[0, 0], Arrangement::Chain);
        let model = CostModel::new(&grades, &set, SIZE);
        let without = (450.0 + 500.0) * 2.0 + 125.0 * 30.0 + 25.0 * 5.0;
        near(model.per_good(0.8), (without + 375.0 * 0.5) / 100.0);
        near(model.parts(0.8), 14.0 + 1.5);
    }

    #[test]
    fn the_cost_falls_as_the_yield_rises() {
        for failed in Failed::ALL {
            for least in [1, 310, 450, 10_000] {
                let model = with_breaks(failed, least, &[(320, 1.9), (340, 1.2), (3000, 0.1)]);
                let costs: Vec<f64> =
                    (1..=50).map(|k| model.per_good(f64::from(k) / 50.0)).collect();
                assert!(costs.is_sorted_by(|a, b| a >= b), "{failed:?} {least}");
            }
        }
    }
}
