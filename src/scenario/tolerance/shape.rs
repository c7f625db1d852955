//! How a part's values are spread over its tolerance band.

use std::sync::Arc;

use crate::statistics::Marginal;
use crate::statistics::shapes::ShapeFamily;

/// How a part's values are spread over its tolerance band. All lengths are counted in half widths
/// of the band, from its middle: a band that is multiplied keeps its shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Every value within the band is as likely as any other.
    Uniform,
    /// Normal; what lies outside the band is left out.
    Normal {
        /// Mean before that.
        mean: f64,
        /// Standard deviations in a half width.
        sigmas: f64,
    },
    /// Likeliest at one value, falling in a straight line to nothing at both ends of the band.
    Triangular {
        /// The likeliest value.
        mode: f64,
    },
    /// Lognormal; what lies outside the band is left out.
    Lognormal {
        /// Where the part's value is zero.
        origin: f64,
        /// Mean of the logarithm of what lies above that.
        mean: f64,
        /// Standard deviation of that logarithm.
        deviation: f64,
    },
    /// A beta distribution from one end of the band to the other.
    Beta {
        /// Exponent at the lower end: 1 or more.
        alpha: f64,
        /// Exponent at the upper end: 1 or more.
        beta: f64,
    },
    /// Parts that were measured, drawn as they are.
    Measured(Arc<MeasuredParts>),
}

/// Parts that were measured.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredParts {
    /// The file, as the scenario names it.
    pub file: String,
    /// Its column.
    pub column: String,
    /// How the file was read, as "read …" goes on; none for the plain form.
    pub read_as: Option<String>,
    /// The values inside the band, rising: in half widths from its middle.
    pub values: Arc<[f64]>,
}

impl Shape {
    /// A normal shape about the middle of the band.
    pub const fn normal(sigmas: f64) -> Self {
        Self::Normal { mean: 0.0, sigmas }
    }

    /// A triangular shape that is likeliest at the middle of the band.
    pub const fn triangular() -> Self {
        Self::Triangular { mode: 0.0 }
    }

    /// The word used in scenario files and tables.
    pub fn name(&self) -> &'static str {
        let name = match self {
            Self::Uniform => ShapeName::Uniform,
            Self::Normal { .. } => ShapeName::Normal,
            Self::Triangular { .. } => ShapeName::Triangular,
            Self::Lognormal { .. } => ShapeName::Lognormal,
            Self::Beta { .. } => ShapeName::Beta,
            Self::Measured(_) => ShapeName::Measured,
        };
        name.word()
    }

    /// The distribution.
    pub fn marginal(&self) -> Marginal {
        match self {
            Self::Uniform => Marginal::uniform(),
            Self::Normal { mean, sigmas } => Marginal::normal(*mean, *sigmas),
            Self::Triangular { mode } => Marginal::triangular(*mode),
            Self::Lognormal { origin, mean, deviation } => {
                Marginal::lognormal(*origin, *mean, *deviation)
            }
            Self::Beta { alpha, beta } => Marginal::beta(*alpha, *beta),
            Self::Measured(parts) => Marginal::measured(Arc::clone(&parts.values)),
        }
    }
}

/// The word for a shape in scenario files and tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ShapeName {
    Uniform,
    Normal,
    Triangular,
    Lognormal,
    Beta,
    Measured,
}

impl ShapeName {
    pub(super) const ALL: [Self; 6] = [
        Self::Uniform,
        Self::Normal,
        Self::Triangular,
        Self::Lognormal,
        Self::Beta,
        Self::Measured,
    ];
    /// Those of the errors of sensors.
    pub(super) const OF_SENSORS: [Self; 3] = [Self::Uniform, Self::Normal, Self::Triangular];

    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Uniform => ShapeFamily::Uniform.name(),
            Self::Normal => ShapeFamily::Normal.name(),
            Self::Triangular => ShapeFamily::Triangular.name(),
            Self::Lognormal => ShapeFamily::Lognormal.name(),
            Self::Beta => ShapeFamily::Beta.name(),
            Self::Measured => "measured",
        }
    }
}
