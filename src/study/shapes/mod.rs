//! Which shapes fit measured values, and how they are told in a scenario.
//!
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
mod scatter;
mod simulation;

use std::sync::atomic::AtomicBool;

pub use self::column::{ColumnShapes, Estimate, FamilyWithoutFit, Nominal};
pub use self::correlation::ColumnCorrelation;
pub use self::drawing::DeviationHistogram;
pub use self::error::ShapesError;
pub use self::fit::{LEVEL, ShapeFit};
pub use self::inspection::{Inspection, KnownFit};
pub use self::scatter::FittedScatter;
pub use self::simulation::{MOST_SIMULATED, REPLICATES};
use crate::population::measurements::MeasuredColumn;

/// A column with what its values are compared with.
#[derive(Debug, Clone, Copy)]
pub struct ColumnTask<'a> {
    /// The column.
    pub column: &'a MeasuredColumn,
    /// The nominal value, in the unit of the column; none where the median is to serve.
    pub nominal: Option<f64>,
    /// Half width of the band to which the parts were inspected, of the nominal value.
    pub band: Option<f64>,
}

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
pub fn shapes(tasks: &[ColumnTask<'_>], stop: &AtomicBool) -> Result<MeasuredShapes, ShapesError> {
    let columns: Vec<&MeasuredColumn> = tasks.iter().map(|task| task.column).collect();
    Ok(MeasuredShapes {
        correlations: correlation::correlations(&columns)?,
        columns: tasks.iter().map(|t| ColumnShapes::new(*t, stop)).collect::<Result<_, _>>()?,
    })
}
