//! A shape with its parameters.

use super::{BetaOnBand, CutNormal, NoFit, ShapeFamily, SortedValues, SymmetricTriangle};
use crate::statistics::{FitDistances, Interval};

/// A shape with its parameters, fitted or known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FittedShape {
    /// Uniform between two ends.
    Uniform(Interval),
    /// Normal, maybe cut off.
    Normal(CutNormal),
    /// Triangular with its peak in the middle.
    Triangular(SymmetricTriangle),
    /// The logarithm is normal, maybe cut off.
    Lognormal(CutNormal),
    /// Beta between limits.
    Beta(BetaOnBand),
}

impl FittedShape {
    /// The shape of a family that fits values best. `limits` are those of an inspection that all
    /// values have passed: no shape reaches beyond them, and beta needs them.
    ///
    /// # Errors
    ///
    /// [`NoFit`], when the family has no shape for these values.
    pub fn fit(
        family: ShapeFamily,
        values: &SortedValues,
        limits: Option<Interval>,
    ) -> Result<Self, NoFit> {
        if values.smallest() >= values.largest() {
            return Err(NoFit::AllEqual);
        }
        Ok(match family {
            ShapeFamily::Uniform => Self::Uniform(ends(values, limits)?),
            ShapeFamily::Normal => Self::Normal(CutNormal::fit(values, limits)?),
            ShapeFamily::Triangular => Self::Triangular(SymmetricTriangle::fit(values, limits)?),
            ShapeFamily::Lognormal => {
                let logarithms = logarithms(values).ok_or(NoFit::NotPositive)?;
                Self::Lognormal(CutNormal::fit(&logarithms, limits.map(logarithms_of))?)
            }
            ShapeFamily::Beta => {
                Self::Beta(BetaOnBand::fit(values, limits.ok_or(NoFit::NoLimits)?)?)
            }
        })
    }

    /// Its family.
    pub fn family(&self) -> ShapeFamily {
        match self {
            Self::Uniform(_) => ShapeFamily::Uniform,
            Self::Normal(_) => ShapeFamily::Normal,
            Self::Triangular(_) => ShapeFamily::Triangular,
            Self::Lognormal(_) => ShapeFamily::Lognormal,
            Self::Beta(_) => ShapeFamily::Beta,
        }
    }

    /// The share of all values up to `x`.
    pub fn probability(&self, x: f64) -> f64 {
        match self {
            Self::Uniform(ends) => ((x - ends.lower) / (ends.upper - ends.lower)).clamp(0.0, 1.0),
            Self::Normal(normal) => normal.probability(x),
            Self::Triangular(triangle) => triangle.probability(x),
            Self::Lognormal(normal) if x > 0.0 => normal.probability(libm::log(x)),
            Self::Lognormal(_) => 0.0,
            Self::Beta(beta) => beta.probability(x),
        }
    }

    /// The density at `x`.
    pub fn density(&self, x: f64) -> f64 {
        match self {
            Self::Uniform(ends) if x < ends.lower || x > ends.upper => 0.0,
            Self::Uniform(ends) => 1.0 / (ends.upper - ends.lower),
            Self::Normal(normal) => normal.density(x),
            Self::Triangular(triangle) => triangle.density(x),
            Self::Lognormal(normal) if x > 0.0 => normal.density(libm::log(x)) / x,
            Self::Lognormal(_) => 0.0,
            Self::Beta(beta) => beta.density(x),
        }
    }

    /// The value below which a share `p` of all lies, 0 < p < 1.
    pub fn quantile(&self, p: f64) -> f64 {
        match self {
            Self::Uniform(ends) => ends.lower + p * (ends.upper - ends.lower),
            Self::Normal(normal) => normal.quantile(p),
            Self::Triangular(triangle) => triangle.quantile(p),
            Self::Lognormal(normal) => libm::exp(normal.quantile(p)),
            Self::Beta(beta) => beta.quantile(p),
        }
    }

    /// A value of the shape, from random numbers between 0 and 1.
    pub fn draw(&self, random: &mut impl FnMut() -> f64) -> f64 {
        match self {
            Self::Beta(beta) => beta.draw(random),
            other => other.quantile(random()),
        }
    }

    /// How far values lie from it.
    pub fn distances(&self, values: &SortedValues) -> Option<FitDistances> {
        let probabilities: Vec<f64> =
            values.values().iter().map(|value| self.probability(*value)).collect();
        FitDistances::new(&probabilities)
    }
}

/// The ends of a uniform distribution: beyond the outermost values by their distance over n − 1, so
/// that both are right on average (E. L. Lehmann and G. Casella, Theory of Point Estimation, 1998,
/// example 2.1.7; its number from memory); at the limits, where these are nearer.
fn ends(values: &SortedValues, limits: Option<Interval>) -> Result<Interval, NoFit> {
    let (low, high) = (values.smallest(), values.largest());
    let beyond = (high - low) / (values.count() as f64 - 1.0);
    let ends = Interval { lower: low - beyond, upper: high + beyond };
    let Some(limits) = limits else { return Ok(ends) };
    if low < limits.lower || high > limits.upper {
        return Err(NoFit::OutsideLimits);
    }
    Ok(Interval { lower: ends.lower.max(limits.lower), upper: ends.upper.min(limits.upper) })
}

fn logarithms(values: &SortedValues) -> Option<SortedValues> {
    let is_positive = values.smallest() > 0.0;
    is_positive
        .then(|| values.values().iter().map(|x| libm::log(*x)).collect())
        .and_then(SortedValues::new)
}

/// Limits at or below zero cut nothing off from values above it.
fn logarithms_of(limits: Interval) -> Interval {
    let logarithm = |x: f64| libm::log(x.max(f64::MIN_POSITIVE));
    Interval { lower: logarithm(limits.lower), upper: logarithm(limits.upper) }
}
