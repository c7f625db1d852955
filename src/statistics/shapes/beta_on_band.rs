//! The beta distribution between limits.

use super::{NoFit, SortedValues};
use crate::statistics::beta::{self, Portion};
use crate::statistics::{Interval, normal};

/// Exponents above this make a distribution that nothing tells from a normal one.
const LARGEST_EXPONENT: f64 = 1000.0;

/// A beta distribution between limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaOnBand {
    /// Where it ends.
    pub limits: Interval,
    /// Exponent of the lower side, 1 or more; above 1 the density falls to nothing there.
    pub alpha: f64,
    /// Exponent of the upper side.
    pub beta: f64,
}

impl BetaOnBand {
    /// The one with the mean and the standard deviation of the values.
    ///
    /// NIST/SEMATECH e-Handbook, 1.3.6.6.17, method of moments: with mean x̄ and variance s² on (0, 1),
    /// α = x̄ (x̄ (1 − x̄)/s² − 1) and β = (1 − x̄) (x̄ (1 − x̄)/s² − 1). Likelihood would not do: a value
    /// at a limit makes it infinite.
    ///
    /// # Errors
    ///
    /// When a value lies outside the limits; when the values lie so close to them that the density would
    /// rise there, or so close together that it is a normal one.
    pub(super) fn fit(values: &SortedValues, limits: Interval) -> Result<Self, NoFit> {
        if values.smallest() < limits.lower || values.largest() > limits.upper {
            return Err(NoFit::OutsideLimits);
        }
        let width = limits.upper - limits.lower;
        let mean = (values.mean() - limits.lower) / width;
        let sd = values.sd() / width;
        let sum = mean * (1.0 - mean) / (sd * sd) - 1.0;
        let (alpha, beta) = (mean * sum, (1.0 - mean) * sum);
        if alpha < 1.0 || beta < 1.0 {
            Err(NoFit::Rising)
        } else if alpha.max(beta) > LARGEST_EXPONENT {
            Err(NoFit::Narrow)
        } else {
            Ok(Self { limits, alpha, beta })
        }
    }

    fn width(&self) -> f64 {
        self.limits.upper - self.limits.lower
    }

    fn portion(&self, x: f64) -> Portion {
        Portion::new(((x - self.limits.lower) / self.width()).clamp(0.0, 1.0))
    }

    pub(super) fn probability(&self, x: f64) -> f64 {
        beta::regularised(self.alpha, self.beta, self.portion(x))
    }

    pub(super) fn density(&self, x: f64) -> f64 {
        let is_inside = x > self.limits.lower && x < self.limits.upper;
        let density = || beta::density(self.alpha, self.beta, self.portion(x).value());
        if is_inside { density() / self.width() } else { 0.0 }
    }

    /// By halving, as far as doubles go.
    pub(super) fn quantile(&self, p: f64) -> f64 {
        let (mut low, mut high) = (self.limits.lower, self.limits.upper);
        for _ in 0..60 {
            let tried = 0.5 * (low + high);
            *(if self.probability(tried) < p { &mut low } else { &mut high }) = tried;
        }
        0.5 * (low + high)
    }

    /// A value from two gamma variables X and Y: X/(X + Y).
    pub(super) fn draw(&self, random: &mut impl FnMut() -> f64) -> f64 {
        let x = gamma(self.alpha, random);
        let y = gamma(self.beta, random);
        self.limits.lower + self.width() * x / (x + y)
    }
}

/// A gamma variable of this shape, 1 or more.
///
/// G. Marsaglia and W. W. Tsang, "A simple method for generating gamma variables", ACM Trans. Math.
/// Softw. 26 (2000) 363–372.
fn gamma(shape: f64, random: &mut impl FnMut() -> f64) -> f64 {
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let z = normal::quantile(random());
        let root = 1.0 + c * z;
        let v = root * root * root;
        if root > 0.0 && libm::log(random()) < 0.5 * z * z + d - d * v + d * libm::log(v) {
            return d * v;
        }
    }
}
