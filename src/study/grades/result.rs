//! What the comparison of grades results in.

use std::cmp::Ordering;

use schemars::JsonSchema;
use serde::Serialize;

use super::cost::{Cost, CostModel};
use super::set::GradeSet;
use crate::converter::ConverterSize;
use crate::population::RandomSource;
use crate::statistics::{Difference, Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::settings::Settings;

/// A stage of the comparison: what is evaluated at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// All sets in both arrangements.
    All,
    /// The short list, on fresh samples.
    ShortList,
    /// The recommended set with its neighbours, on the same fresh samples.
    Steps,
}

impl Stage {
    /// The word used on the terminal and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::All => "all sets",
            Self::ShortList => "short list",
            Self::Steps => "single steps",
        }
    }
}

/// One set of grades on one lot of samples.
#[derive(Debug, Clone)]
pub struct SetResult {
    /// The set and its arrangement.
    pub candidate: GradeSet,
    /// Where its samples come from.
    pub source: RandomSource,
    /// Its yield.
    pub good: Yield,
    /// The demand missed most often.
    pub binding: Option<Binding>,
    /// Price of its parts in one converter, least orders aside.
    pub parts: f64,
    /// Cost of a good converter.
    pub cost: Cost,
    /// What parts bought beyond the need add to it.
    pub surplus: f64,
    /// Longest lead time of its parts, in weeks; none where no part has one.
    pub lead_time: Option<f64>,
    /// Whether no other set in the same arrangement is cheaper and at least as good, or better and
    /// no dearer.
    pub on_front: bool,
    /// Against the recommended set; none for that set itself.
    pub against: Option<SetComparison>,
    pub(super) model: CostModel,
}

/// A set against the recommended one, on the same samples: that set less the recommended one.
#[derive(Debug, Clone, Copy)]
pub struct SetComparison {
    /// Difference of the yields.
    pub good: Difference,
    /// Difference of the costs of a good converter; none where one of them has no bound.
    pub cost: Option<Difference>,
}

impl SetComparison {
    /// Whether the samples leave open which of the two is the cheaper.
    pub fn is_tie(&self) -> bool {
        self.cost.is_some_and(|cost| cost.is_open())
    }

    /// Whether the other set is cheaper over the whole interval of the difference.
    pub fn is_cheaper(&self) -> bool {
        self.cost.is_some_and(|cost| cost.upper < 0.0)
    }
}

/// Whether to balance the charge with flying capacitors, rather than to parallel the phases plainly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum BalancingVerdict {
    /// The plain converter has the worse verdict on the target, or the same and is dearer over the
    /// whole interval of the difference.
    #[serde(rename = "recommended")]
    Recommended,
    /// The plain converter has the same verdict and is cheaper over the whole interval, or has the
    /// better verdict and is not dearer over the whole interval.
    #[serde(rename = "not recommended")]
    NotRecommended,
    /// The samples do not decide.
    #[serde(rename = "not decided")]
    NotDecided,
}

/// One grade dearer or cheaper in one offer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GradeStep {
    /// Index of the offer.
    pub offer: usize,
    /// Index of the grade in the offer.
    pub grade: usize,
    /// Whether it is the dearer one.
    pub dearer: bool,
}

/// A set one step from the recommended one.
#[derive(Debug, Clone)]
pub struct SteppedSet {
    /// The step.
    pub step: GradeStep,
    /// The set's result.
    pub result: SetResult,
    /// Whether the set is among the combinations of the scenario.
    pub stated: bool,
}

/// How much more a set costs per good converter than another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostDifference {
    /// In the scenario's currency.
    pub amount: f64,
    /// As a share of the other one's cost.
    pub relative: f64,
}

/// The result of the comparison.
#[derive(Debug)]
pub struct Ranking {
    /// How it was carried out; the samples are those asked for.
    pub settings: Settings,
    /// The fresh samples.
    pub verification: RandomSource,
    /// Phases and driven legs, which decide how many parts a converter has.
    pub size: ConverterSize,
    /// All sets in the chain on the first samples, in the scenario's order.
    pub sets: Vec<SetResult>,
    /// All sets without charge balancing on the first samples; flying capacitors left out, each
    /// once.
    pub paralleled: Vec<SetResult>,
    /// Index of the recommended set among those in the chain.
    pub best: usize,
    /// The short list on fresh samples, cheapest first as the first samples had it; empty where the
    /// comparison was interrupted before.
    pub shortlist: Vec<SetResult>,
    /// On the fresh samples, the best without charge balancing: the cheapest of those with the best
    /// verdict on the target.
    pub without_balancing: Option<SetResult>,
    /// One step from the recommended set, on the fresh samples, in the order of the offers.
    pub steps: Vec<SteppedSet>,
    /// The stage at which it was interrupted, whose samples are not all there.
    pub interrupted: Option<Stage>,
}

impl Ranking {
    /// Whether it was interrupted.
    pub fn is_partial(&self) -> bool {
        self.interrupted.is_some()
    }

    /// The recommended set on fresh samples, or on the first ones where there are no others.
    pub fn recommended(&self) -> &SetResult {
        self.last_result(&self.sets[self.best])
    }

    /// Whether the recommended set meets the yield target.
    pub fn verdict(&self, target: f64) -> Verdict {
        self.recommended().good.verdict(target)
    }

    /// The result of a set in the chain on the fresh samples, where it was evaluated on them.
    pub fn fresh_result(&self, set: &SetResult) -> Option<&SetResult> {
        self.shortlist.iter().find(|s| s.candidate == set.candidate)
    }

    /// The result of a set in the chain: on the fresh samples where it was evaluated on them.
    pub fn last_result<'a>(&'a self, set: &'a SetResult) -> &'a SetResult {
        self.fresh_result(set).unwrap_or(set)
    }

    /// Whether all sets in the chain miss the target on the first samples.
    pub fn all_miss(&self, target: f64) -> bool {
        self.sets.iter().all(|set| set.good.verdict(target) == Verdict::Fail)
    }

    /// The other sets in the chain whose cost compares with the recommended one's like this,
    /// cheapest first; on the fresh samples where they were tried on them.
    fn others(&self, like: impl Fn(&SetComparison) -> bool) -> Vec<&SetResult> {
        let all = self.sets.iter().map(|set| self.last_result(set));
        let mut others: Vec<_> =
            all.filter(|set| set.against.as_ref().is_some_and(&like)).collect();
        others.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
        others
    }

    /// Sets that may be as cheap as the recommended one, whatever their yield.
    pub fn ties(&self) -> Vec<&SetResult> {
        self.others(SetComparison::is_tie)
    }

    /// Sets that are cheaper over the whole interval, and were passed over because of their yield.
    pub fn passed_over(&self) -> Vec<&SetResult> {
        self.others(SetComparison::is_cheaper)
    }

    /// Number of the other sets in the chain that are dearer: neither ties nor passed over.
    pub fn dearer(&self) -> usize {
        self.sets.len() - 1 - self.ties().len() - self.passed_over().len()
    }

    /// The next in cost on the fresh samples, of those that meet the target there.
    pub fn runner_up(&self, target: f64) -> Option<&SetResult> {
        let others = self.shortlist.iter().filter(|set| set.against.is_some());
        let meets = others.filter(|set| set.good.verdict(target) == Verdict::Pass);
        meets.min_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate))
    }

    /// How much more than the recommended set another one costs.
    pub fn above_recommended(&self, set: &SetResult) -> CostDifference {
        let recommended = self.recommended().cost.estimate;
        let amount = set.cost.estimate - recommended;
        CostDifference { amount, relative: amount / recommended }
    }

    /// Whether to balance the charge, and the best set without it.
    pub fn balancing(&self, target: f64) -> Option<(BalancingVerdict, &SetResult)> {
        let plain = self.without_balancing.as_ref()?;
        let cost = plain.against.and_then(|against| against.cost);
        let (cheaper, dearer) = (cost.map(|c| c.upper < 0.0), cost.map(|c| c.lower > 0.0));
        let worth = match plain.good.verdict(target).cmp(&self.verdict(target)) {
            Ordering::Greater => BalancingVerdict::Recommended,
            Ordering::Equal if dearer == Some(true) => BalancingVerdict::Recommended,
            Ordering::Equal if cheaper == Some(true) => BalancingVerdict::NotRecommended,
            Ordering::Less if dearer == Some(false) => BalancingVerdict::NotRecommended,
            _ => BalancingVerdict::NotDecided,
        };
        Some((worth, plain))
    }

    /// Sets in the chain that none beats in cost and yield, and the recommended one, cheapest first.
    pub fn front(&self) -> Vec<&SetResult> {
        let best = &self.sets[self.best].candidate;
        let mut front: Vec<_> =
            self.sets.iter().filter(|set| set.on_front || set.candidate == *best).collect();
        front.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
        front
    }
}
