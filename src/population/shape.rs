//! Tolerance shapes: a probability in, a deviation in units of the band out.

use crate::scenario::Shape;
use crate::statistics::normal;

/// A shape with what its quantile needs, computed once.
#[derive(Debug, Clone, Copy)]
pub(super) enum Quantile {
    Uniform,
    Triangular,
    /// A normal distribution cut off at the band.
    Normal {
        sigmas: f64,
        /// Probability below the band, and inside it.
        below: f64,
        inside: f64,
    },
}

impl Quantile {
    pub(super) fn new(shape: &Shape) -> Self {
        match *shape {
            Shape::Uniform => Self::Uniform,
            Shape::Triangular => Self::Triangular,
            Shape::Normal { sigmas } => {
                let below = normal::probability(-sigmas);
                Self::Normal { sigmas, below, inside: 1.0 - 2.0 * below }
            }
        }
    }

    /// The deviation, in −1..=1, below which a share `p` in (0, 1) of the parts lies.
    pub(super) fn at(self, p: f64) -> f64 {
        match self {
            Self::Uniform => 2.0 * p - 1.0,
            Self::Triangular => {
                if p < 0.5 {
                    (2.0 * p).sqrt() - 1.0
                } else {
                    1.0 - (2.0 * (1.0 - p)).sqrt()
                }
            }
            Self::Normal { sigmas, below, inside } => {
                (normal::quantile(below + p * inside) / sigmas).clamp(-1.0, 1.0)
            }
        }
    }
}
