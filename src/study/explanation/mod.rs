//! What a run rests on: what drives its figures and its failures, and what changes its verdict.
//!
//! [`explain`] takes a finished run and the first samples that [`KeptSamples`] kept of it. It solves at
//! most as many converters again as the run did. A wish to stop ends it early and takes nothing from
//! the run.

mod kept;
pub mod worst_case;

pub use self::kept::KeptSamples;
use self::worst_case::WorstCase;
use crate::engine::EngineError;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::run::Run;

/// What explains a run. Parts that are none could not be had; [`Explanation::interrupted`] tells
/// whether the user asked to stop before them.
#[derive(Debug, Default)]
pub struct Explanation {
    /// Whether the user asked to stop before all was done.
    pub interrupted: bool,
    /// The worst case of every limited figure, case by case.
    pub worst_cases: Option<Vec<WorstCase>>,
}

/// What a run is explained from.
#[derive(Debug, Clone, Copy)]
pub struct Explained<'a> {
    /// The session that the run was made in.
    pub session: &'a Session<'a>,
    /// The run.
    pub run: &'a Run,
    /// Its first samples.
    pub kept: &'a KeptSamples,
}

/// Explains a run.
///
/// # Errors
///
/// None that can happen with a run of this session.
pub fn explain(
    explained: Explained,
    progress: &mut dyn Progress,
) -> Result<Explanation, StudyError> {
    let Explained { session, .. } = explained;
    progress.stage("worst cases", 0);
    let worst_cases = unless_stopped(worst_case::worst_cases(explained))?;
    Ok(Explanation { interrupted: session.workers().is_stopped(), worst_cases })
}

/// A part of the explanation; none where the user asked to stop before it was done.
fn unless_stopped<T>(part: Result<T, EngineError>) -> Result<Option<T>, StudyError> {
    match part {
        Ok(part) => Ok(Some(part)),
        Err(EngineError::Stopped | EngineError::Interrupted(_)) => Ok(None),
        Err(other) => Err(other.into()),
    }
}
