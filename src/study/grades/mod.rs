//! Which part grades make a good converter cheapest, and how sure that is.
//!
//! All sets of grades are tried on the same samples, so that they differ by their parts alone, in
//! the chain and without charge balancing. The cheapest few that meet the yield target there go on
//! a short list. Whatever is picked where it looked best looks better than it is; so the short list
//! is tried again on fresh samples, and the recommended set is the cheapest of it that meets the
//! target there, at a level that allows for their number. Where none does, it is the cheapest that
//! may, and the verdict says so.

mod cost;
mod ranking;
mod set;

use std::cmp::Ordering;

use schemars::JsonSchema;
use serde::Serialize;

pub use self::cost::{Cost, CostModel};
pub use self::ranking::{EvaluateSets, Stage, rank};
pub use self::set::GradeSet;
use crate::converter::driven_legs;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::{Difference, Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::nominal::{BaselineError, baselines};
use crate::study::common::settings::Settings;

/// One candidate on one lot of samples.
#[derive(Debug, Clone)]
pub struct SetResult {
    /// The set and its arrangement.
    pub candidate: GradeSet,
    /// Seed of its samples.
    pub seed: u64,
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
    model: CostModel,
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

    /// Whether the other set is surely the cheaper.
    pub fn is_cheaper(&self) -> bool {
        self.cost.is_some_and(|cost| cost.upper < 0.0)
    }
}

/// How much more a set costs per good converter than another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostDifference {
    /// In the scenario's currency.
    pub amount: f64,
    /// Of the other one's cost.
    pub relative: f64,
}

/// Whether charge balancing is worth its cost, against phases that are merely paralleled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum BalancingVerdict {
    /// Without it the verdict on the target is worse, or the cost is higher at the confidence.
    #[serde(rename = "recommended")]
    Recommended,
    /// Without it the verdict is the same at a lower cost, or better and not at a higher one.
    #[serde(rename = "not recommended")]
    NotRecommended,
    /// The samples do not decide.
    #[serde(rename = "not decided")]
    NotDecided,
}

/// One grade dearer or cheaper in one offer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GradeStep {
    /// The place of the offer.
    pub offer: usize,
    /// The grade there.
    pub grade: usize,
    /// Whether it is the dearer one.
    pub dearer: bool,
}

/// A set one step from the recommended one, and what became of it.
#[derive(Debug, Clone)]
pub struct SteppedSet {
    /// The step.
    pub step: GradeStep,
    /// The set's result.
    pub result: SetResult,
}

/// What the comparison has come to.
#[derive(Debug)]
pub struct Ranking {
    /// How it was carried out; the samples are those asked for.
    pub settings: Settings,
    /// Seed of the fresh samples.
    pub fresh_seed: u64,
    /// Driven legs, which decide the number of flying capacitors.
    pub legs: usize,
    /// All sets in the chain on the first samples, in the scenario's order.
    pub sets: Vec<SetResult>,
    /// All sets without charge balancing on the first samples; flying capacitors left out, each
    /// once.
    pub paralleled: Vec<SetResult>,
    /// Place of the recommended set among all.
    pub best: usize,
    /// The short list on fresh samples, cheapest first as the first samples had it; empty where the
    /// comparison was interrupted before.
    pub shortlist: Vec<SetResult>,
    /// On the fresh samples, the best without charge balancing: the cheapest of those that stand
    /// best to the target.
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

    /// What is known of a set in the chain: from the fresh samples where it was tried on them.
    pub fn last_result<'a>(&'a self, set: &'a SetResult) -> &'a SetResult {
        self.shortlist.iter().find(|s| s.candidate == set.candidate).unwrap_or(set)
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

    /// Sets that are surely cheaper, and were passed over because of their yield.
    pub fn passed_over(&self) -> Vec<&SetResult> {
        self.others(SetComparison::is_cheaper)
    }

    /// How many of the other sets cost more at the confidence, or make no good converter.
    pub fn dearer(&self) -> usize {
        self.sets.len() - 1 - self.ties().len() - self.passed_over().len()
    }

    /// How much more than the recommended set another one costs.
    pub fn above_recommended(&self, set: &SetResult) -> CostDifference {
        let recommended = self.recommended().cost.estimate;
        let amount = set.cost.estimate - recommended;
        CostDifference { amount, relative: amount / recommended }
    }

    /// Whether all sets in the chain miss the target on the first samples.
    pub fn all_miss(&self, target: f64) -> bool {
        self.sets.iter().all(|set| set.good.verdict(target) == Verdict::Fail)
    }

    /// The next in cost on the fresh samples, of those that meet the target there.
    pub fn runner_up(&self, target: f64) -> Option<&SetResult> {
        let others = self.shortlist.iter().filter(|set| set.against.is_some());
        let meets = others.filter(|set| set.good.verdict(target) == Verdict::Pass);
        meets.min_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate))
    }

    /// What charge balancing is worth, with the best that can be had without it.
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

/// Driven legs of the chain: as many as any operating point drives.
///
/// # Errors
///
/// When the nominal converter cannot deliver an operating point.
pub fn legs(scenario: &Scenario, method: Method) -> Result<usize, BaselineError> {
    let all = baselines(scenario, method)?;
    Ok(driven_legs(all.iter().map(|baseline| baseline.case.point.drive)))
}
