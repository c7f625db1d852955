//! What to build, and whether that would be another thing under other conditions.

use serde::Serialize;

use super::{SensorStudy, Variant};
use crate::statistics::Verdict;

/// What the study comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// Whether the chain alone meets the target: whether the sensors can go.
    pub chain: Verdict,
    /// Of the variants that surely meet the target, that with the lowest price for a good
    /// converter, of equals the first; none where none does.
    pub cheapest: Option<Variant>,
}

impl Decision {
    /// From the verdict and the price for a good converter of (a) to (d).
    fn new(variants: &[(Verdict, f64)]) -> Self {
        let passing = Variant::ALL.into_iter().zip(variants).filter(|(_, v)| v.0 == Verdict::Pass);
        let cheapest = passing.reduce(|a, b| if b.1.1 < a.1.1 { b } else { a });
        Self { chain: variants[Variant::Chain.index()].0, cheapest: cheapest.map(|(v, _)| v) }
    }
}

impl SensorStudy {
    /// The decision as things are.
    pub fn decision(&self) -> Decision {
        Decision::new(&self.standings())
    }

    /// The decision if a variant surely met the target, a yield of `target`, or surely missed it,
    /// and all else were as it is.
    pub fn decision_if(&self, variant: Variant, meets: bool, target: f64) -> Decision {
        let mut all = self.standings();
        all[variant.index()] = if meets {
            (Verdict::Pass, self.variant(variant).bill.price / target)
        } else {
            (Verdict::Fail, f64::INFINITY)
        };
        Decision::new(&all)
    }

    fn standings(&self) -> Vec<(Verdict, f64)> {
        let each = self.variants.iter();
        each.map(|v| (v.verdict, v.price_per_good().unwrap_or(f64::INFINITY))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cheapest_of_those_that_pass_by_hand() {
        use Verdict::{Fail, NotDecided, Pass};
        let decide = |v: [(Verdict, f64); 4]| {
            let Decision { chain, cheapest } = Decision::new(&v);
            (chain, cheapest.map(Variant::letter))
        };
        let found = decide([(Fail, 1.0), (Pass, 99.0), (Pass, 92.7), (Pass, 101.0)]);
        assert_eq!(found, (Pass, Some('c')));
        let found = decide([(Pass, 90.0), (Pass, 90.0), (Pass, 92.7), (Pass, 101.0)]);
        assert_eq!(found, (Pass, Some('a')));
        let found = decide([(Fail, 90.0), (NotDecided, 91.0), (Fail, 92.7), (NotDecided, 101.0)]);
        assert_eq!(found, (NotDecided, None));
    }
}
