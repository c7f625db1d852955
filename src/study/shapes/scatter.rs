//! A shape in the words of a scenario: band, mean and σ as deviations from nominal, exponents.

use crate::statistics::shapes::{CutNormal, FittedShape, SortedValues};
use crate::statistics::{Interval, normal};

/// Standard deviations from the mean to the ends of the band of a normal shape, where no inspection
/// gives them: 63 ppm of the process lie beyond.
const REACH: f64 = 4.0;

/// The widest band that a scenario takes, over nominal.
const WIDEST: Interval = Interval { lower: 0.01, upper: 1.99 };

/// How a scenario tells a shape: fractions of the nominal value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedScatter {
    /// Both ends of the band.
    pub band: Interval,
    /// Mean of the process, where the shape has one of its own.
    pub mean: Option<f64>,
    /// Standard deviation of the process, where the shape has one of its own.
    pub sigma: Option<f64>,
    /// Exponents of a beta shape at the lower and the upper end.
    pub exponents: Option<[f64; 2]>,
    /// The share of the process that lies outside the band, and is screened out.
    pub screened: f64,
}

impl FittedScatter {
    /// Of a shape of values over nominal. `limits` are those of the inspection, also over nominal.
    pub(super) fn new(
        shape: &FittedShape,
        values: &SortedValues,
        limits: Option<Interval>,
    ) -> Self {
        let most = limits.unwrap_or(WIDEST);
        let inside = |ends: Interval, most: Interval| Interval {
            lower: ends.lower.max(most.lower),
            upper: ends.upper.min(most.upper),
        };
        match shape {
            FittedShape::Uniform(ends) => Self::of_ends(inside(*ends, most)),
            FittedShape::Triangular(triangle) => {
                let [lower, upper] =
                    [-1.0, 1.0].map(|side| triangle.middle + side * triangle.half_width);
                Self::of_ends(inside(Interval { lower, upper }, WIDEST))
            }
            FittedShape::Normal(normal) => {
                let band = limits.unwrap_or_else(|| holding(values, reach(normal)));
                Self::of_process(band, normal.mean, normal.sigma, shape_share(normal, band))
            }
            FittedShape::Lognormal(log) => {
                let square = log.sigma * log.sigma;
                let mean = libm::exp(log.mean + 0.5 * square);
                let sigma = mean * libm::expm1(square).sqrt();
                let logarithmic = reach(log);
                let [lower, upper] = [logarithmic.lower, logarithmic.upper].map(libm::exp);
                let band = limits.unwrap_or_else(|| holding(values, Interval { lower, upper }));
                let ends = Interval { lower: libm::log(band.lower), upper: libm::log(band.upper) };
                Self::of_process(band, mean, sigma, shape_share(log, ends))
            }
            FittedShape::Beta(beta) => {
                let exponents = Some([beta.alpha, beta.beta]);
                Self { exponents, ..Self::of_ends(beta.limits) }
            }
        }
    }

    fn of_ends(ends: Interval) -> Self {
        Self { band: deviations(ends), mean: None, sigma: None, exponents: None, screened: 0.0 }
    }

    fn of_process(band: Interval, mean: f64, sigma: f64, screened: f64) -> Self {
        let (mean, sigma) = (Some(mean - 1.0), Some(sigma));
        Self { mean, sigma, screened, ..Self::of_ends(band) }
    }
}

/// Ends of ratios to nominal as deviations.
fn deviations(ends: Interval) -> Interval {
    Interval { lower: ends.lower - 1.0, upper: ends.upper - 1.0 }
}

fn reach(normal: &CutNormal) -> Interval {
    Interval {
        lower: normal.mean - REACH * normal.sigma,
        upper: normal.mean + REACH * normal.sigma,
    }
}

/// Ends that hold all values, as far as a scenario takes them.
fn holding(values: &SortedValues, ends: Interval) -> Interval {
    Interval {
        lower: ends.lower.min(values.smallest()).max(WIDEST.lower),
        upper: ends.upper.max(values.largest()).min(WIDEST.upper),
    }
}

/// The share of a whole normal distribution outside two ends.
fn shape_share(whole: &CutNormal, ends: Interval) -> f64 {
    let below = normal::probability((ends.lower - whole.mean) / whole.sigma);
    let above = normal::probability((whole.mean - ends.upper) / whole.sigma);
    below + above
}
