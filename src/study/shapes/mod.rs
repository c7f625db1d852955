//! Which shapes fit measured values, and how they are told in a scenario.
//!
//! - `task`, `nominal`: what is asked, and from which value deviations count;
//! - `column`: everything about one column;
//! - `fit`: a shape with the probabilities of its distances;
//! - `simulation`: these probabilities, where the parameters were fitted to the same values;
//! - `correlation`: how columns depend on each other;
//! - `drawing`: what the figures show;
//! - `inspection`: what a band of inspection tells;
//! - `scatter`: a shape in the words of a scenario: band, mean, σ.
//!
//! No converter is solved here, and no scenario is read.

mod column;
mod correlation;
mod drawing;
mod error;
mod fit;
mod inspection;
mod nominal;
mod scatter;
mod simulation;
mod task;

use std::sync::atomic::AtomicBool;

pub use self::column::{ColumnShapes, Estimate, FamilyWithoutFit};
pub use self::correlation::ColumnCorrelation;
pub use self::drawing::DeviationHistogram;
pub use self::error::ShapesError;
pub use self::fit::{LEVEL, ShapeFit};
pub use self::inspection::{Inspection, KnownFit};
pub use self::nominal::Nominal;
pub use self::scatter::FittedScatter;
pub use self::simulation::{MOST_SIMULATED, REPLICATES};
pub use self::task::ColumnTask;
use crate::population::measurements::ValueColumn;
use crate::study::common::progress::Progress;

/// What was found about a file of measured values.
#[derive(Debug, Clone)]
pub struct MeasuredShapes {
    /// Column by column.
    pub columns: Vec<ColumnShapes>,
    /// Correlations of all pairs of columns.
    pub correlations: Vec<ColumnCorrelation>,
}

/// Studies columns, each by itself and in pairs.
///
/// # Errors
///
/// [`ShapesError`], when a band leaves too few values, or once the wish to stop was seen.
pub fn shapes(
    tasks: &[ColumnTask<'_>],
    progress: &mut dyn Progress,
    stop: &AtomicBool,
) -> Result<MeasuredShapes, ShapesError> {
    let columns: Vec<&ValueColumn> = tasks.iter().map(|task| task.column).collect();
    let correlations = correlation::correlations(&columns)?;
    progress.stage("fitting shapes to columns", tasks.len() as u64);
    let mut columns = Vec::new();
    for task in tasks {
        columns.push(ColumnShapes::new(*task, stop)?);
        progress.advance(1);
    }
    Ok(MeasuredShapes { columns, correlations })
}
