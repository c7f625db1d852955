//! The families of shapes.

/// A family of shapes, with two parameters each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShapeFamily {
    /// Every value between two ends is as likely as any other.
    Uniform,
    /// Normal, cut off at limits of inspection where these are given.
    Normal,
    /// Likeliest in the middle between two ends, falling in straight lines to nothing.
    Triangular,
    /// The logarithm is normal, cut off at limits of inspection where these are given.
    Lognormal,
    /// Beta between limits of inspection, which must be given.
    Beta,
}

impl ShapeFamily {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Uniform, Self::Normal, Self::Triangular, Self::Lognormal, Self::Beta];

    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Uniform => "uniform",
            Self::Normal => "normal",
            Self::Triangular => "triangular",
            Self::Lognormal => "lognormal",
            Self::Beta => "beta",
        }
    }
}

/// Why a family has no shape for some values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    /// They do not scatter.
    #[error("all values are equal")]
    AllEqual,
    /// A lognormal value is above zero.
    #[error("a value is not above zero")]
    NotPositive,
    /// A value lies beyond the limits at which the shape ends.
    #[error("a value lies outside the limits")]
    OutsideLimits,
    /// A beta distribution ends at limits that must be known.
    #[error("needs limits of inspection")]
    NoLimits,
    /// A beta density that rises to its ends is no spread of parts.
    #[error("its density would rise towards a limit")]
    Rising,
    /// A beta distribution that narrow is a normal one.
    #[error("so narrow inside the band that it is normal")]
    Narrow,
    /// A triangular density is zero at its ends.
    #[error("a value lies at a limit, where no triangular one can be")]
    AtLimit,
    /// Its mean lies too far from the nominal value.
    #[error("its mean is twice the nominal value or more")]
    MeanTooHigh,
    /// No normal distribution whose peak lies between the limits matches.
    #[error("none with its peak inside the band matches")]
    NoPeakInside,
}
