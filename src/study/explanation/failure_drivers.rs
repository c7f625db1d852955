//! What drives the failures: the samples that would pass were one parameter exact.

use super::explained::Explained;
use super::retrial::{ArrangementChange, Retrial};
use super::retried::RetriedSamples;
use crate::converter::{Arrangement, Parameter};
use crate::population::Population;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;

/// What drives the failures of one arrangement.
#[derive(Debug, Clone)]
pub struct FailureDrivers {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The samples that were tried again.
    pub samples: RetriedSamples,
    /// One a parameter that scatters, in their order.
    pub parts: Vec<ExactPart>,
}

/// What a parameter does to the failures.
#[derive(Debug, Clone)]
pub struct ExactPart {
    /// The parameter.
    pub parameter: Parameter,
    /// What changes where all its parts are nominal, and all else is as before.
    pub change: ArrangementChange,
}

impl FailureDrivers {
    /// The parts, the one that saves most first.
    pub fn by_saved(&self) -> Vec<&ExactPart> {
        let mut parts: Vec<&ExactPart> = self.parts.iter().collect();
        let saved = |part: &ExactPart| part.change.joint.difference.estimate;
        parts.sort_by(|a, b| saved(b).total_cmp(&saved(a)));
        parts
    }

    /// Whether there are several operating points.
    pub fn has_several_points(&self) -> bool {
        self.parts.iter().any(|part| part.change.points.len() > 1)
    }
}

/// Makes one parameter after the other exact, with so many solutions at most. None where no sample
/// fails, nothing scatters, or the solutions are too few.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn failure_drivers(
    explained: Explained,
    arrangement: Arrangement,
    solves: u64,
    progress: &mut dyn Progress,
) -> Result<Option<FailureDrivers>, StudyError> {
    let session = explained.session;
    let tolerances = &session.scenario().tolerances;
    let parameters: Vec<Parameter> = tolerances
        .iter()
        .filter(|(parameter, tolerance)| {
            tolerance.band > 0.0 && parameter.parts(session.size(), arrangement) > 0
        })
        .map(|(parameter, _)| parameter)
        .collect();
    let retrial = Retrial::new(explained, arrangement, parameters.len(), solves);
    let Some(retrial) = retrial.filter(Retrial::has_failures) else { return Ok(None) };
    let population = session.population(tolerances, explained.draws());
    let variants: Vec<Population> = parameters.iter().map(|p| population.with_exact(*p)).collect();
    let changes = retrial.changes(&variants, progress)?;
    let parts = parameters.into_iter().zip(changes);
    Ok(Some(FailureDrivers {
        arrangement,
        samples: retrial.samples,
        parts: parts.map(|(parameter, change)| ExactPart { parameter, change }).collect(),
    }))
}
