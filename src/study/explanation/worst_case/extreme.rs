//! A converter at which a search of the tolerance box ends.

use crate::converter::{Converter, Parameter};

/// Maxima that are solved afresh, to take the largest.
pub(super) const SOLVED_AFRESH: usize = 3;

/// The converter with the largest value found in the tolerance box.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtremeConverter {
    /// The value, as `units` finds it.
    pub value: f64,
    /// Its parts.
    pub converter: Converter,
    /// Whether the search settled: no part moved alone makes the value larger.
    pub settled: bool,
    /// Parts at an end of their bands.
    pub at_ends: usize,
}

impl ExtremeConverter {
    /// How far a part is from its nominal value, a fraction of it.
    pub fn deviation(
        &self,
        nominal: &Converter,
        parameter: Parameter,
        index: usize,
    ) -> Option<f64> {
        let value = |converter: &Converter| converter.part(parameter, index);
        value(&self.converter).zip(value(nominal)).map(|(own, nominal)| own / nominal - 1.0)
    }
}
