//! A shape with the probabilities of its distances.

use super::scatter::FittedScatter;
use crate::statistics::shapes::FittedShape;
use crate::statistics::{FitDistances, FitProbabilities};

/// Files from the fitted shape itself of which so many lie farther from their own fit: with fewer, the
/// shape is said not to fit.
pub const LEVEL: f64 = 0.05;

/// A shape, and how far the values lie from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapeFit {
    /// The shape, of values over nominal.
    pub shape: FittedShape,
    /// Distances of the values.
    pub distances: FitDistances,
    /// The share of files of as many values from this shape that lie as far, or farther.
    pub probabilities: FitProbabilities,
    /// How a scenario tells it.
    pub scatter: FittedScatter,
}

impl ShapeFit {
    /// Whether the Anderson-Darling distance leaves the shape possible.
    pub fn is_possible(&self) -> bool {
        self.probabilities.anderson_darling > LEVEL
    }
}
