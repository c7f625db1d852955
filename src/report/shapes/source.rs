//! Where the measured values come from.

use crate::population::measurements::LeftOutColumn;

/// The file that holds the values.
#[derive(Debug, Clone)]
pub struct MeasurementsSource {
    /// Its name.
    pub name: String,
    /// Its path as typed: lines for a scenario in the same folder name it.
    pub path: String,
    /// How it was read, where that is not the plain form of a CSV file.
    pub read_as: Option<String>,
    /// Columns that are not studied.
    pub left_out: Vec<LeftOutColumn>,
    /// The options that the results depend on, as typed.
    pub options: Vec<String>,
}
