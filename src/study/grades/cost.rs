//! The cost per good converter. All formulas are common practice, without a source.
//!
//! With Q good converters wanted, yield y, n parts of a kind in a converter, price p and least
//! order M of that kind, F the cost of a failure and O that of everything else:
//!
//! ```text
//! built     B = Q/y  where failures are scrapped,  B = Q  where they are reworked
//! bought    max(n B, M) of every kind
//! failures  (Q/y)(1 − y) scrapped,                 Q (1 − y) reworked
//! cost of a good converter = (Σ p max(n B, M) + B O + failures F) / Q
//! ```
//!
//! Of parts that are screened at incoming inspection more are bought: n counts 1/(1 − s) for each
//! part that a converter needs, with s the share that is screened out.
//!
//! Without least orders that is (parts + O + (1 − y) F)/y for scrap and parts + O + (1 − y) F for
//! rework. What is bought beyond the need counts as worth nothing; B is the expected number, not
//! rounded. The cost falls as the yield rises, so that bounds of the yield give bounds of the cost.

use super::set::GradeSet;
use crate::converter::ConverterSize;
use crate::scenario::{Failed, Grades};
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

#[derive(Debug, Clone, Copy, PartialEq)]
struct PartCost {
    price: f64,
    number: f64,
    least: f64,
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
            price: grade.price,
            number: offer.parameter.parts(size, candidate.arrangement) as f64
                * grade.tolerance.bought_per_used(),
            least: grade.minimum_quantity as f64,
        });
        Self {
            parts: parts.collect(),
            quantity: grades.quantity as f64,
            failed: grades.failed,
            failure_cost: grades.failure_cost,
            other_cost: grades.other_cost,
        }
    }

    /// Price of the parts on offer in one converter, least orders aside.
    pub fn parts(&self) -> f64 {
        self.parts.iter().map(|part| part.number * part.price).sum()
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
        let bought = |part: &PartCost| part.price * (part.number * built).max(part.least);
        let parts: f64 = self.parts.iter().map(bought).sum();
        let failures = built * (1.0 - good) * self.failure_cost;
        (parts + built * self.other_cost + failures) / self.quantity
    }

    /// What parts bought beyond the need add to the cost of a good converter.
    pub fn surplus(&self, good: f64) -> f64 {
        let built = self.built(good);
        if !built.is_finite() {
            return 0.0;
        }
        let beyond = |part: &PartCost| part.price * (part.least - part.number * built).max(0.0);
        self.parts.iter().map(beyond).sum::<f64>() / self.quantity
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::{Arrangement, ConverterSize, Parameter};
    use crate::scenario::{Grade, Offer, Shape, Tolerance};

    const SIZE: ConverterSize = ConverterSize { phases: 3, legs: 2 };

    fn grades(failed: Failed, least: u64) -> Grades {
        let grade = Grade {
            name: "a".into(),
            tolerance: Tolerance::new(Shape::Uniform, 0.05),
            price: 2.0,
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
        near(scrap.parts(), 14.0);
        near(scrap.per_good(0.8), (14.0 + 30.0 + 0.2 * 5.0) / 0.8);
        near(in_chain(Failed::Reworked, 1).per_good(0.8), 14.0 + 30.0 + 0.2 * 5.0);
        assert!(scrap.per_good(0.0).is_infinite());
        near(in_chain(Failed::Reworked, 1).per_good(0.0), 49.0);
    }

    /// Without charge balancing the capacitors are not bought, whatever their least order.
    #[test]
    fn a_paralleled_converter_has_no_flying_capacitors() {
        let paralleled = model(Failed::Scrapped, 450, Arrangement::Paralleled);
        near(paralleled.parts(), 6.0);
        near(paralleled.per_good(0.8), (450.0 * 2.0 + 125.0 * 30.0 + 25.0 * 5.0) / 100.0);
    }

    /// 125 converters are built: 375 transformers and 500 capacitors; 450 is the least order.
    #[test]
    fn least_orders_make_small_series_dear() {
        let model = model(Failed::Scrapped, 450, Arrangement::Chain);
        near(model.per_good(0.8), ((450.0 + 500.0) * 2.0 + 125.0 * 30.0 + 25.0 * 5.0) / 100.0);
        near(model.surplus(0.8), 75.0 * 2.0 / 100.0);
        near(model.parts(), 14.0);
    }

    #[test]
    fn the_cost_falls_as_the_yield_rises() {
        for failed in Failed::ALL {
            for least in [1, 310, 450, 10_000] {
                let model = model(failed, least, Arrangement::Chain);
                let costs: Vec<f64> =
                    (1..=50).map(|k| model.per_good(f64::from(k) / 50.0)).collect();
                assert!(costs.is_sorted_by(|a, b| a >= b), "{failed:?} {least}");
            }
        }
    }
}
