//! The recommended set of bands under other assumptions about its parts.
//!
//! All of it happens on fresh samples, which chose nothing: the set as it is and under each assumption, on
//! the same probabilities. Together they draw no more converters than a verification run. So each verdict
//! errs as seldom as its interval says.

use super::trials::Trials;
use crate::population::RandomSource;
use crate::scenario::Tolerances;
use crate::statistics::{Estimator, OutcomeChanges, PairedCounts, Verdict};
use crate::study::common::assumption::Assumption;
use crate::study::common::error::StudyError;
use crate::study::common::what_if::{AssumptionOutcome, Change, WhatIf};

/// Fewer samples say too little.
const LEAST_SAMPLES: u64 = 30;

/// What other assumptions do to the recommended set.
#[derive(Debug, Clone)]
pub struct OtherAssumptions {
    /// The fresh samples, used for nothing else.
    pub source: RandomSource,
    /// How many, of each assumption.
    pub samples: u64,
    /// How many of them pass under the scenario's own assumptions.
    pub passing: u64,
    /// The verdict of the set, and under each assumption.
    pub what_if: WhatIf,
}

/// Tries a set that fresh samples showed to meet the target under all other assumptions. None where nothing
/// scatters or the samples are too few.
///
/// # Errors
///
/// Those of the trials.
pub(super) fn other_assumptions(
    recommended: &Tolerances,
    source: RandomSource,
    trials: &mut Trials,
) -> Result<Option<OtherAssumptions>, StudyError> {
    let (assumptions, sets): (Vec<Assumption>, Vec<Tolerances>) =
        Assumption::alternatives(recommended).into_iter().unzip();
    let sets: Vec<Tolerances> = std::iter::once(recommended.clone()).chain(sets).collect();
    let samples = trials.samples_of_each(sets.len());
    if assumptions.is_empty() || samples < LEAST_SAMPLES {
        return Ok(None);
    }
    let pairs = trials.share(&sets, source)?;
    let (target, estimator) = (trials.rule.target, Estimator::Fixed(trials.rule.plain));
    let mut outcomes = Vec::new();
    for (n, assumption) in assumptions.into_iter().enumerate() {
        let change = Change::new(changes(pairs.counts(0, n + 1)), &estimator)?;
        let verdict = change.now.verdict(target);
        outcomes.push(AssumptionOutcome { assumption, change, verdict });
    }
    let what_if = WhatIf {
        verdict: Verdict::Pass,
        failing_among: pairs.samples(),
        passing_among: pairs.samples(),
        outcomes,
    };
    let (samples, passing) = (pairs.samples(), pairs.good(0));
    Ok(Some(OtherAssumptions { source, samples, passing, what_if }))
}

/// Of samples that pass with the set alone, and with the other assumption alone.
fn changes(counts: PairedCounts) -> OutcomeChanges {
    let PairedCounts { first, second, neither, .. } = counts;
    let all = counts.trials();
    OutcomeChanges {
        failing_among: all,
        saved: second,
        still_failing: neither,
        passing_among: all,
        lost: first,
    }
}
