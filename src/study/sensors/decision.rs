//! What to build, and whether other conditions would change that.

use serde::Serialize;

use super::result::{SensorStudy, VariantResult};
use super::variant::Variant;
use crate::statistics::Verdict;

/// What the study comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// Whether the chain alone meets the target: whether the sensors can go.
    pub chain: Verdict,
    /// Of the variants whose whole interval meets the target, that with the lowest price per good
    /// converter, of equals the first; none where none does.
    pub cheapest: Option<Variant>,
}

/// What the decision takes of a variant.
#[derive(Debug, Clone, Copy)]
struct VerdictAndPrice {
    verdict: Verdict,
    /// Price per good converter; infinite where none is good.
    price: f64,
}

impl Decision {
    /// The decision among (a) to (d).
    fn new(variants: &[VerdictAndPrice]) -> Self {
        let all = Variant::ALL.into_iter().zip(variants);
        let passing = all.filter(|(_, v)| v.verdict == Verdict::Pass);
        let cheapest = passing.reduce(|a, b| if b.1.price < a.1.price { b } else { a });
        let chain = variants[Variant::Chain.index()].verdict;
        Self { chain, cheapest: cheapest.map(|(variant, _)| variant) }
    }
}

impl SensorStudy {
    /// The decision as things are.
    pub fn decision(&self) -> Decision {
        Decision::new(&self.verdicts())
    }

    /// The decision if a variant met the target, with a yield of `target`, or missed it, and all else
    /// were as it is.
    pub fn decision_if(&self, variant: Variant, meets: bool, target: f64) -> Decision {
        let mut all = self.verdicts();
        all[variant.index()] = if meets {
            let price = self.variant(variant).bill.price / target;
            VerdictAndPrice { verdict: Verdict::Pass, price }
        } else {
            VerdictAndPrice { verdict: Verdict::Fail, price: f64::INFINITY }
        };
        Decision::new(&all)
    }

    fn verdicts(&self) -> Vec<VerdictAndPrice> {
        let of_variant = |v: &VariantResult| VerdictAndPrice {
            verdict: v.verdict,
            price: v.price_per_good().unwrap_or(f64::INFINITY),
        };
        self.variants.iter().map(of_variant).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cheapest_of_those_that_pass_by_hand() {
        use Verdict::{Fail, NotDecided, Pass};
        let decide = |v: [(Verdict, f64); 4]| {
            let variants = v.map(|(verdict, price)| VerdictAndPrice { verdict, price });
            let Decision { chain, cheapest } = Decision::new(&variants);
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
