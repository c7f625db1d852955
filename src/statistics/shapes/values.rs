//! Values in order, with their mean and spread.

use crate::statistics::Moments;

/// Two or more finite values, rising.
#[derive(Debug, Clone, PartialEq)]
pub struct SortedValues {
    sorted: Vec<f64>,
    mean: f64,
    sd: f64,
}

impl SortedValues {
    /// Sorts values; none below two, or where one is not finite.
    pub fn new(mut values: Vec<f64>) -> Option<Self> {
        if !values.iter().all(|value| value.is_finite()) {
            return None;
        }
        values.sort_by(f64::total_cmp);
        let moments: Moments = values.iter().collect();
        Some(Self { mean: moments.mean()?, sd: moments.sd()?, sorted: values })
    }

    /// The values, rising.
    pub fn values(&self) -> &[f64] {
        &self.sorted
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.sorted.len()
    }

    /// Their mean.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Their standard deviation, with n − 1.
    pub fn sd(&self) -> f64 {
        self.sd
    }

    /// The smallest.
    pub fn smallest(&self) -> f64 {
        self.sorted.first().copied().unwrap_or(self.mean)
    }

    /// The largest.
    pub fn largest(&self) -> f64 {
        self.sorted.last().copied().unwrap_or(self.mean)
    }

    /// How many differ from all others.
    pub fn distinct(&self) -> usize {
        1 + self.sorted.windows(2).filter(|pair| pair[0] < pair[1]).count()
    }
}
