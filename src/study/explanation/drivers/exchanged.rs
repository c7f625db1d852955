//! The deviations of a converter that differ once a driver is exchanged.

use std::ops::Range;

/// Deviations of some parts of a converter, in place of those that it had.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Exchanged {
    /// Where they stand in a row of all deviations.
    places: Vec<Range<usize>>,
    /// Range by range.
    values: Vec<f64>,
}

impl Exchanged {
    /// Those of a row at some places.
    pub(super) fn of_row(row: &[f64], places: Vec<Range<usize>>) -> Self {
        let values = places.iter().flat_map(|range| &row[range.clone()]).copied().collect();
        Self { places, values }
    }

    /// Places in the row, with what stands there now.
    pub(super) fn iter(&self) -> impl Iterator<Item = (usize, f64)> {
        self.places.iter().flat_map(Range::clone).zip(self.values.iter().copied())
    }
}
