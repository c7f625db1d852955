//! A shape in the words of a scenario: band, mean and σ as deviations from nominal, exponents.

use crate::statistics::shapes::{CutNormal, FittedShape, NoFit, ShapeFamily, SortedValues};
use crate::statistics::{Interval, normal};

/// Standard deviations from the mean to the ends of the band of a normal shape, where no inspection
/// gives them: 63 ppm of the process lie beyond.
const REACH: f64 = 4.0;

/// The widest band that lines of a scenario have, over nominal.
const WIDEST: Interval = Interval { lower: 0.01, upper: 10.0 };

/// Means from here on, over nominal, are none that a scenario takes.
const HIGHEST_MEAN: f64 = 2.0;

/// A shape that a scenario can tell.
#[derive(Debug, Clone, Copy)]
pub(super) struct StatedShape {
    pub(super) shape: FittedShape,
    /// The limits that it was fitted within.
    pub(super) limits: Option<Interval>,
    pub(super) scatter: FittedScatter,
}

impl StatedShape {
    /// The shape of a family that fits values over nominal best, of those that a scenario can tell.
    /// What figures say of it then holds for the lines as well. `limits` are those of an inspection.
    ///
    /// # Errors
    ///
    /// [`NoFit`], when there is none.
    pub(super) fn fit(
        family: ShapeFamily,
        values: &SortedValues,
        limits: Option<Interval>,
    ) -> Result<Self, NoFit> {
        let ends_at_band = matches!(family, ShapeFamily::Uniform | ShapeFamily::Triangular);
        let mut limits = limits.or_else(|| ends_at_band.then_some(WIDEST));
        let mut shape = FittedShape::fit(family, values, limits)?;
        if let Some(reach) = process_reach(&shape).filter(|_| limits.is_none())
            && (reach.lower < WIDEST.lower || reach.upper > WIDEST.upper)
        {
            limits = Some(holding(values, reach));
            shape = FittedShape::fit(family, values, limits)?;
        }
        let scatter = FittedScatter::new(&shape, values, limits);
        if scatter.mean.is_some_and(|mean| 1.0 + mean >= HIGHEST_MEAN) {
            return Err(NoFit::MeanTooHigh);
        }
        Ok(Self { shape, limits, scatter })
    }
}

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
    fn new(shape: &FittedShape, values: &SortedValues, limits: Option<Interval>) -> Self {
        let reach = process_reach(shape);
        let band = || limits.or_else(|| Some(holding(values, reach?))).unwrap_or(WIDEST);
        match shape {
            FittedShape::Uniform(ends) => Self::of_ends(*ends),
            FittedShape::Triangular(triangle) => {
                let [lower, upper] =
                    [-1.0, 1.0].map(|side| triangle.middle + side * triangle.half_width);
                Self::of_ends(Interval { lower, upper })
            }
            FittedShape::Normal(normal) => {
                let band = band();
                Self::of_process(band, normal.mean, normal.sigma, shape_share(normal, band))
            }
            FittedShape::Lognormal(log) => {
                let square = log.sigma * log.sigma;
                let mean = libm::exp(log.mean + 0.5 * square);
                let sigma = mean * libm::expm1(square).sqrt();
                let band = band();
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

/// Where a shape with a process ends, if no inspection cuts it.
fn process_reach(shape: &FittedShape) -> Option<Interval> {
    let ends =
        |normal: &CutNormal| [-REACH, REACH].map(|sigmas| normal.mean + sigmas * normal.sigma);
    let [lower, upper] = match shape {
        FittedShape::Normal(normal) => ends(normal),
        FittedShape::Lognormal(normal) => ends(normal).map(libm::exp),
        FittedShape::Uniform(_) | FittedShape::Triangular(_) | FittedShape::Beta(_) => return None,
    };
    Some(Interval { lower, upper })
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
