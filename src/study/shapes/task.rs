//! What is asked of a column.

use crate::population::measurements::ValueColumn;
use crate::statistics::Interval;

/// A column with what its values are compared with.
#[derive(Debug, Clone, Copy)]
pub struct ColumnTask<'a> {
    /// The column.
    pub column: &'a ValueColumn,
    /// The nominal value, in the unit of the column; none where the median is to serve.
    pub nominal: Option<f64>,
    /// Ends of the band to which the parts were inspected: deviations, fractions of the nominal value.
    pub band: Option<Interval>,
}
