//! Why a study has no result.

use crate::engine::EngineError;
use crate::statistics::StatisticsError;
use crate::study::common::nominal::BaselineError;

/// Why a study has no result.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// The nominal converter does not work.
    #[error(transparent)]
    Baseline(#[from] BaselineError),
    /// Sampling stopped early.
    #[error(transparent)]
    Engine(#[from] EngineError),
    /// The user asked to stop after the last sample.
    #[error(
        "interrupted after all samples, while both solvers were compared; no result files were \
         written"
    )]
    Comparing,
    /// The user asked to stop while batches were drawn.
    #[error(
        "interrupted after all samples, while batches were drawn; no result files were written"
    )]
    DrawingBatches,
    /// Statistics cannot take a level or a count.
    #[error(transparent)]
    Statistics(#[from] StatisticsError),
}

impl StudyError {
    /// The same of a study that samples again and again: where it was stopped, one count tells nothing.
    #[must_use]
    pub fn without_count(self) -> Self {
        match self {
            Self::Engine(EngineError::Interrupted(_)) => EngineError::Stopped.into(),
            other => other,
        }
    }
}
