//! The value from which deviations count.

use crate::statistics::median;

/// Decimals in the exponent form of a median that serves as the nominal value: four digits.
const DECIMALS: usize = 3;

/// The value from which deviations count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nominal {
    /// In the unit of the column.
    pub value: f64,
    /// Whether the user gave it; else it is the median, rounded.
    pub is_given: bool,
}

impl Nominal {
    pub(super) fn new(given: Option<f64>, values: &[f64]) -> Self {
        let rounded = |value: f64| format!("{value:.DECIMALS$e}").parse().unwrap_or(value);
        let middle = || rounded(median(values).unwrap_or(1.0));
        Self { value: given.unwrap_or_else(middle), is_given: given.is_some() }
    }
}
