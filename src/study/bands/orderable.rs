//! A set of bands that can be ordered: every band is one of the steps that the scenario allows.
//!
//! Without prices no set is better than another by money. So the rule is: a band that adds the fewest
//! failures grows first. That brings parts which hardly matter to their widest step, and leaves the
//! failures that the target permits to the others. `step_search` has the rule in full.

use super::verification::{Verification, confirmed};
use crate::converter::Parameter;
use crate::scenario::Tolerances;
use crate::statistics::{Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::trials::Trial;

/// The steps of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartSteps {
    /// The part.
    pub parameter: Parameter,
    /// Half widths, rising: those that are no wider than the widest band asked for, or the present one. Of
    /// an unequal band they are those with which its farther end is a step.
    pub steps: Vec<f64>,
    /// Whether the scenario has wider steps.
    pub is_cut: bool,
}

/// A set of steps that was tried on the samples of the search.
#[derive(Debug, Clone, PartialEq)]
pub struct SetOfSteps {
    /// The place of each part's band in its steps.
    pub places: Vec<usize>,
    /// The bands.
    pub tolerances: Tolerances,
    /// What came of it.
    pub trial: Trial,
    /// Its yield, with its interval at the shared level.
    pub good: Yield,
}

impl SetOfSteps {
    /// Samples that fail.
    pub fn failures(&self) -> u64 {
        self.trial.samples - self.trial.good
    }
}

/// A part of the chosen set, and the same set with its band one step wider.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderableBand {
    /// The part.
    pub parameter: Parameter,
    /// Its band.
    pub band: f64,
    /// Its next step; none at the last one.
    pub wider: Option<WiderStep>,
    /// Whether the last step is the last only because of the widest band asked for.
    pub is_cut: bool,
}

/// What the search saw one step wider.
#[derive(Debug, Clone, PartialEq)]
pub struct WiderStep {
    /// The band.
    pub band: f64,
    /// The yield with it, all other bands as in the set.
    pub good: Yield,
    /// What is missed most often.
    pub binding: Option<Binding>,
}

/// How the search for a set of steps ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderEnding {
    /// Fresh samples confirm the set.
    Confirmed,
    /// Fresh samples confirm none of the sets that they tried.
    NotConfirmed,
    /// Even the narrowest steps were not seen to meet the target.
    NoneMeets,
    /// Some part has no step that is narrow enough.
    NoStep,
}

/// The set of bands that can be ordered.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderableSet {
    /// The parts that can be ordered, with their steps: all but measured ones.
    pub parts: Vec<PartSteps>,
    /// How the search ended.
    pub ending: OrderEnding,
    /// The set that was verified last, or the narrowest one where none was seen to meet the target; none
    /// without steps.
    pub set: Option<SetOfSteps>,
    /// Its parts, with what a step more does to each.
    pub bands: Vec<OrderableBand>,
    /// Runs on fresh samples, in their order.
    pub verifications: Vec<Verification>,
    /// Trials made on the samples of the search.
    pub trials: u64,
}

impl OrderableSet {
    /// The run that confirms the set, if one does.
    pub fn confirmed(&self) -> Option<&Verification> {
        confirmed(&self.verifications)
    }

    /// Whether a part has steps: others keep their present tolerance.
    pub fn has_steps(&self, parameter: Parameter) -> bool {
        self.parts.iter().any(|part| part.parameter == parameter)
    }

    /// Whether all sets of steps are said to miss the target: the narrowest one does, by the upper end of
    /// its interval.
    pub fn rules_out(&self, target: f64) -> bool {
        let misses = |set: &SetOfSteps| set.good.verdict(target) == Verdict::Fail;
        self.ending == OrderEnding::NoneMeets && self.set.as_ref().is_some_and(misses)
    }

    /// Parts without any step that is narrow enough.
    pub fn without_step(&self) -> impl Iterator<Item = Parameter> {
        self.parts.iter().filter(|part| part.steps.is_empty()).map(|part| part.parameter)
    }
}
