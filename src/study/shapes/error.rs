//! Why measured values have no answer.

use crate::engine::EngineError;
use crate::population::measurements::LEAST_VALUES;
use crate::statistics::StatisticsError;

/// Why measured values have no answer.
#[derive(Debug, thiserror::Error)]
pub enum ShapesError {
    /// The band leaves too few values of a column.
    #[error(
        "fewer than {LEAST_VALUES} different values of `{column}` lie inside the band: are --nominal \
         and --band right?"
    )]
    FewInside {
        /// The column.
        column: String,
    },
    /// The user asked to stop.
    #[error(transparent)]
    Engine(#[from] EngineError),
    /// Statistics cannot take a level.
    #[error(transparent)]
    Statistics(#[from] StatisticsError),
}
