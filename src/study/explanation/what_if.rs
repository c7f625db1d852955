//! What if an assumption is wrong: the verdict of a run again under each of a few other assumptions, on
//! the same probabilities.

use super::explained::Explained;
use super::retrial::Retrial;
use crate::converter::Arrangement;
use crate::population::Population;
use crate::study::common::assumption::Assumption;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::what_if::{AssumptionOutcome, WhatIf};

/// Tries all other assumptions on the chain, with so many solutions at most. None where nothing
/// scatters, the solutions are too few, or there can be no verdict.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn what_if(
    explained: Explained,
    solves: u64,
    progress: &mut dyn Progress,
) -> Result<Option<WhatIf>, StudyError> {
    if !explained.run.joint[0].is_judged {
        return Ok(None);
    }
    let session = explained.session;
    let limits = &session.scenario().limits;
    let alternatives = Assumption::alternatives(&session.scenario().tolerances);
    let retrial = Retrial::new(explained, Arrangement::Chain, alternatives.len(), solves);
    let Some(retrial) = retrial else { return Ok(None) };
    let variants: Vec<Population> = alternatives
        .iter()
        .map(|(_, tolerances)| session.population(tolerances, explained.draws()))
        .collect();
    let changes = retrial.changes(&variants, progress)?;
    let outcomes = alternatives.into_iter().zip(changes).map(|((assumption, _), change)| {
        let verdict = change.joint.now.verdict(limits.yield_target);
        AssumptionOutcome { assumption, change: change.joint, verdict }
    });
    Ok(Some(WhatIf {
        verdict: explained.run.joint[0].verdict_of_samples(),
        failing_among: retrial.samples.failing_among,
        passing_among: retrial.samples.passing_among,
        outcomes: outcomes.collect(),
    }))
}
