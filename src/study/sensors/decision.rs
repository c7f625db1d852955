//! What to build, whether that is settled, and whether other conditions would change it.

use schemars::JsonSchema;
use serde::Serialize;

use super::result::{SensorStudy, VariantResult};
use super::variant::Variant;
use crate::statistics::{Confidence, Interval, StatisticsError, Verdict, Yield};

/// Variants compared. Their intervals share the permitted error.
const VARIANTS: usize = Variant::ALL.len();

/// The level of each variant's interval with which the intervals of all variants hold together at
/// `confidence` (Bonferroni): 1 − (1 − confidence)/4. Whatever follows from these intervals then holds
/// at `confidence`, all of it at once: every verdict, and which costs are lower.
///
/// # Errors
///
/// [`StatisticsError::Confidence`] for a level so close to 1 that the quarter is lost in rounding.
pub fn joint_level(confidence: Confidence) -> Result<Confidence, StatisticsError> {
    Confidence::new(1.0 - (1.0 - confidence.get()) / VARIANTS as f64)
}

/// A yield and what the converter costs, good or not.
#[derive(Debug, Clone, Copy)]
pub struct PricedYield {
    /// The yield, with an interval at the [`joint_level`].
    pub good: Yield,
    /// Price of the converter.
    pub price: f64,
}

impl PricedYield {
    /// The cost per good converter at the ends of the yield's interval; without an upper end, infinite.
    pub fn cost_interval(&self) -> Interval {
        Interval { lower: self.price / self.good.upper, upper: self.price / self.good.lower }
    }
}

/// The cost of what is not judged: no rival of any other.
const NO_COST: Interval = Interval { lower: f64::INFINITY, upper: f64::INFINITY };

/// What the study comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// Whether the chain alone meets the target: whether the sensors can go.
    pub chain: Verdict,
    /// Of the variants whose whole interval meets the target, that with the lowest estimated cost
    /// per good converter, of equals the first; none where none does.
    pub cheapest: Option<Variant>,
    /// By variant: why it may cost less than [`Self::cheapest`] and meet the target. Without any,
    /// the cheapest is so at the confidence of the verdicts.
    pub doubts: [Option<CostDoubt>; VARIANTS],
}

/// Why a variant leaves it open which one costs least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum CostDoubt {
    /// The samples do not decide whether it meets the target.
    #[serde(rename = "verdict not decided")]
    VerdictNotDecided,
    /// It meets the target, and the intervals of both costs overlap.
    #[serde(rename = "costs not distinguished")]
    CostsNotDistinguished,
}

/// What the decision takes of a variant.
#[derive(Debug, Clone, Copy)]
struct VerdictAndCost {
    verdict: Verdict,
    /// Estimated cost per good converter; infinite where none is good.
    cost: f64,
    /// What that cost may be.
    range: Interval,
}

impl VerdictAndCost {
    fn new(variant: &PricedYield, target: f64) -> Self {
        Self {
            verdict: variant.good.verdict(target),
            cost: variant.price / variant.good.estimate,
            range: variant.cost_interval(),
        }
    }
}

impl VerdictAndCost {
    /// Why it may cost less than one that meets the target, and meet it too.
    fn doubt_against(&self, least: &Self) -> Option<CostDoubt> {
        let may_cost_less = self.range.lower < least.range.upper;
        match self.verdict {
            Verdict::Pass if may_cost_less => Some(CostDoubt::CostsNotDistinguished),
            Verdict::NotDecided if may_cost_less => Some(CostDoubt::VerdictNotDecided),
            _ => None,
        }
    }
}

impl Decision {
    /// The decision among (a) to (d), in this order, against a yield target.
    ///
    /// With intervals at the [`joint_level`], all verdicts and the statement that no other variant
    /// which meets the target costs less hold together at the confidence. While all four intervals
    /// hold the true yields, no verdict is wrong. A variant that truly meets the target then passes
    /// or is not decided, and its cost is at least the lower end of its range.
    pub fn among(variants: &[PricedYield; VARIANTS], target: f64) -> Self {
        Self::new(&variants.map(|variant| VerdictAndCost::new(&variant, target)))
    }

    fn new(variants: &[VerdictAndCost; VARIANTS]) -> Self {
        let passing =
            Variant::ALL.into_iter().filter(|v| variants[v.index()].verdict == Verdict::Pass);
        let cost = |v: Variant| variants[v.index()].cost;
        let cheapest = passing.reduce(|a, b| if cost(b) < cost(a) { b } else { a });
        let doubts = Variant::ALL.map(|v| {
            let least = cheapest.filter(|least| *least != v)?;
            variants[v.index()].doubt_against(&variants[least.index()])
        });
        Self { chain: variants[Variant::Chain.index()].verdict, cheapest, doubts }
    }

    /// The variants that may cost less than the cheapest and meet the target, and why.
    pub fn rivals(&self) -> impl Iterator<Item = (Variant, CostDoubt)> {
        let all = Variant::ALL.into_iter().zip(self.doubts);
        all.filter_map(|(variant, doubt)| Some((variant, doubt?)))
    }

    /// Whether no other variant that meets the target costs less, at the confidence of the verdicts.
    pub fn is_lowest_cost_secured(&self) -> bool {
        self.cheapest.is_some() && self.rivals().next().is_none()
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
        let (verdict, cost) = if meets {
            (Verdict::Pass, self.variant(variant).bill.price / target)
        } else {
            (Verdict::Fail, f64::INFINITY)
        };
        all[variant.index()] =
            VerdictAndCost { verdict, cost, range: Interval { lower: cost, upper: cost } };
        Decision::new(&all)
    }

    fn verdicts(&self) -> [VerdictAndCost; VARIANTS] {
        Variant::ALL.map(|variant| {
            let result: &VariantResult = self.variant(variant);
            VerdictAndCost {
                verdict: result.verdict,
                cost: result.price_per_good().unwrap_or(f64::INFINITY),
                range: if result.is_judged { result.cost_interval() } else { NO_COST },
            }
        })
    }
}

impl VariantResult {
    /// The cost per good converter at the ends of the joint interval of the yield.
    pub fn cost_interval(&self) -> Interval {
        PricedYield { good: self.joint, price: self.bill.price }.cost_interval()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use CostDoubt::{CostsNotDistinguished, VerdictNotDecided};
    use Verdict::{Fail, NotDecided, Pass};

    /// Costs that are known to a tenth to either side.
    fn decide(v: [(Verdict, f64); 4]) -> Decision {
        Decision::new(&v.map(|(verdict, cost)| VerdictAndCost {
            verdict,
            cost,
            range: Interval { lower: 0.9 * cost, upper: 1.1 * cost },
        }))
    }

    #[test]
    fn the_cheapest_of_those_that_pass_by_hand() {
        let found = |v| {
            let Decision { chain, cheapest, .. } = decide(v);
            (chain, cheapest.map(Variant::letter))
        };
        let all = [(Fail, 1.0), (Pass, 99.0), (Pass, 92.7), (Pass, 101.0)];
        assert_eq!(found(all), (Pass, Some('c')));
        let all = [(Pass, 90.0), (Pass, 90.0), (Pass, 92.7), (Pass, 101.0)];
        assert_eq!(found(all), (Pass, Some('a')));
        let all = [(Fail, 90.0), (NotDecided, 91.0), (Fail, 92.7), (NotDecided, 101.0)];
        assert_eq!(found(all), (NotDecided, None));
    }

    /// (c) passes at 100, which is at most 110. What may be below that is a rival, unless it fails:
    /// 0.9 × 122 is, 0.9 × 123 is not.
    #[test]
    fn the_lowest_cost_is_open_while_a_rival_may_cost_less() {
        let rivals = |v| decide(v).rivals().map(|(v, d)| (v.letter(), d)).collect::<Vec<_>>();
        let all = [(NotDecided, 80.0), (Fail, 50.0), (Pass, 100.0), (Pass, 122.0)];
        assert_eq!(rivals(all), [('a', VerdictNotDecided), ('d', CostsNotDistinguished)]);
        assert!(!decide(all).is_lowest_cost_secured());
        let all = [(NotDecided, 123.0), (Fail, 50.0), (Pass, 100.0), (Pass, 123.0)];
        assert!(rivals(all).is_empty() && decide(all).is_lowest_cost_secured());
        let none = [(NotDecided, 80.0), (Fail, 50.0), (Fail, 100.0), (NotDecided, 122.0)];
        assert!(rivals(none).is_empty() && !decide(none).is_lowest_cost_secured());
    }
}
