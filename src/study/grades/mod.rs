//! Which part grades make a good converter cheapest, and how sure that is.
//!
//! All sets of grades are tried on the same samples, so that they differ by their parts alone. The
//! cheapest set is picked there, which flatters it a little: the best of many looks better than it
//! is. So it is tried again, with its nearest rivals and with one step up and down in every part,
//! on fresh samples, and the numbers to rely on come from there.

mod cost;
mod passes;
mod rank;
mod trials;

pub use self::cost::{Cost, CostModel, parts_in_converter};
pub use self::passes::Passes;
pub use self::rank::rank;
pub use self::trials::{Progress, Trials, legs, with_grades};
use super::run::{RunError, Settings};
use super::trial::Binding;
use crate::statistics::{Difference, Verdict, Yield};

/// What the samples say of one set of grades.
#[derive(Debug, Clone)]
pub struct Tried {
    /// Whether each sample passes.
    pub passed: Vec<bool>,
    /// The demand missed most often.
    pub binding: Option<Binding>,
}

/// Tries one set of grades (the place of a grade in every offer) on the samples of a seed.
pub trait Bench {
    /// What the samples say.
    ///
    /// # Errors
    ///
    /// When the samples cannot be gone through; [`EngineError::Interrupted`] ends the comparison
    /// with what there is.
    ///
    /// [`EngineError::Interrupted`]: crate::engine::EngineError::Interrupted
    fn try_set(&mut self, set: &[usize], seed: u64) -> Result<Tried, RunError>;

    /// The yield of the same converters without charge balancing, where that can be told.
    ///
    /// # Errors
    ///
    /// As [`try_set`](Self::try_set).
    fn without_balancing(&mut self, set: &[usize], seed: u64) -> Result<Option<Yield>, RunError>;

    /// Told how many trials there will be in all, as soon as that is known.
    fn plan(&mut self, trials: usize);
}

/// One set of grades on one lot of samples.
#[derive(Debug, Clone)]
pub struct SetResult {
    /// The place of a grade in every offer.
    pub set: Vec<usize>,
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
    /// Whether no other set is cheaper and at least as good, or better and no dearer.
    pub on_front: bool,
    /// Against the recommended set; none for that set itself.
    pub against: Option<Comparison>,
    passes: Passes,
    model: CostModel,
}

/// A set against the recommended one, on the same samples: that set less the recommended one.
#[derive(Debug, Clone, Copy)]
pub struct Comparison {
    /// Difference of the yields.
    pub good: Difference,
    /// Difference of the costs of a good converter; none where one of them has no bound.
    pub cost: Option<Difference>,
}

impl Comparison {
    /// Whether the samples leave open which of the two is the cheaper.
    pub fn is_tie(&self) -> bool {
        self.cost.is_some_and(|cost| cost.is_open())
    }

    /// Whether the other set is surely the cheaper.
    pub fn is_cheaper(&self) -> bool {
        self.cost.is_some_and(|cost| cost.upper < 0.0)
    }
}

/// Why a set is tried again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It is the recommended one.
    Recommended,
    /// Among those that may be recommended it comes next in cost.
    Rival,
    /// It is the cheapest of all, but misses the yield target.
    CheapestOfAll,
    /// It is one step from the recommended set.
    Step(Step),
}

/// One grade dearer or cheaper in one offer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// The place of the offer.
    pub offer: usize,
    /// The grade there.
    pub grade: usize,
    /// Whether it is the dearer one.
    pub up: bool,
}

/// A set that was tried again.
#[derive(Debug, Clone)]
pub struct Verified {
    /// Why.
    pub roles: Vec<Role>,
    /// What the fresh samples say.
    pub result: SetResult,
}

/// What the comparison has come to.
#[derive(Debug)]
pub struct Ranking {
    /// How it was carried out.
    pub settings: Settings,
    /// Seed of the fresh samples.
    pub fresh_seed: u64,
    /// Driven legs, which decide the number of flying capacitors.
    pub legs: usize,
    /// The sets that were tried, in the scenario's order: all, unless it was interrupted.
    pub sets: Vec<SetResult>,
    /// Place of the recommended one among them.
    pub best: usize,
    /// Whether every set surely misses the yield target; the recommended one is then the cheapest
    /// of all.
    pub all_miss: bool,
    /// Sets that were tried again, the recommended one first; all that should be, unless it was
    /// interrupted.
    pub verified: Vec<Verified>,
    /// Yield of the recommended set's parts without charge balancing, on the fresh samples.
    pub paralleled: Option<Yield>,
    /// Whether it was interrupted: sets, or trials on fresh samples, are missing.
    pub partial: bool,
}

impl Ranking {
    /// The recommended set on fresh samples, or on the first ones where there are no others.
    pub fn recommended(&self) -> &SetResult {
        self.verified.first().map_or(&self.sets[self.best], |v| &v.result)
    }

    /// Whether the recommended set meets the yield target.
    pub fn verdict(&self, target: f64) -> Verdict {
        self.recommended().good.verdict(target)
    }

    /// Sets of the first samples that may be as cheap as the recommended one.
    pub fn ties(&self) -> impl Iterator<Item = &SetResult> {
        self.sets.iter().filter(|set| set.against.is_some_and(|against| against.is_tie()))
    }

    /// Rivals that meet the target as far as is known, and came out surely cheaper on fresh samples.
    pub fn overturned_by(&self, target: f64) -> Vec<&SetResult> {
        let cheaper = |v: &&Verified| {
            v.roles.contains(&Role::Rival)
                && v.result.against.is_some_and(|against| against.is_cheaper())
                && (self.all_miss || v.result.good.verdict(target) != Verdict::Fail)
        };
        self.verified.iter().filter(cheaper).map(|v| &v.result).collect()
    }

    /// The steps from the recommended set, on the fresh samples, in the order of the offers.
    pub fn steps(&self) -> Vec<(Step, &SetResult)> {
        let each = self.verified.iter().flat_map(|v| {
            v.roles.iter().filter_map(|role| match role {
                Role::Step(step) => Some((*step, &v.result)),
                _ => None,
            })
        });
        let mut steps: Vec<_> = each.collect();
        steps.sort_by_key(|(step, _)| (step.offer, step.grade));
        steps
    }
}
