//! What a change of the converters changes on the same samples, and the verdict again under other
//! assumptions.

use super::assumption::Assumption;
use crate::statistics::{
    ChangedYield, Difference, Estimator, OutcomeChanges, StatisticsError, Verdict,
};

/// What a change of the converters changes, at one operating point or all of them.
#[derive(Debug, Clone, Copy)]
pub struct Change {
    /// Samples by their outcomes before and now.
    pub outcomes: OutcomeChanges,
    /// The yield now less the yield before.
    pub difference: Difference,
    /// The yield now.
    pub now: ChangedYield,
}

impl Change {
    /// The intervals of counted outcomes.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
    pub fn new(outcomes: OutcomeChanges, estimator: &Estimator) -> Result<Self, StatisticsError> {
        let difference = outcomes.difference(estimator)?;
        Ok(Self { outcomes, difference, now: outcomes.yield_now(estimator)? })
    }
}

/// The verdict again under other assumptions, for the chain.
#[derive(Debug, Clone)]
pub struct WhatIf {
    /// The verdict under the scenario's own assumptions; with measured parts, on these alone.
    pub verdict: Verdict,
    /// Samples of which every one that failed was tried again.
    pub failing_among: u64,
    /// Samples of which every one that passed was tried again.
    pub passing_among: u64,
    /// One an assumption.
    pub outcomes: Vec<AssumptionOutcome>,
}

/// What another assumption does to the verdict.
#[derive(Debug, Clone)]
pub struct AssumptionOutcome {
    /// The assumption.
    pub assumption: Assumption,
    /// What it changes.
    pub change: Change,
    /// The verdict then.
    pub verdict: Verdict,
}

/// Whether another assumption changes a verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VerdictChange {
    /// The verdict is the same.
    Same,
    /// It is shown to be another one.
    Changed,
    /// The samples do not tell.
    Open,
}

impl WhatIf {
    /// Whether an assumption changes the verdict.
    pub fn change(&self, outcome: &AssumptionOutcome) -> VerdictChange {
        match outcome.verdict {
            Verdict::NotDecided => VerdictChange::Open,
            then if then == self.verdict => VerdictChange::Same,
            _ => VerdictChange::Changed,
        }
    }
}
