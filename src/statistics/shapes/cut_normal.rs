//! The normal distribution, whole or cut off at limits.

use super::{NoFit, SortedValues};
use crate::statistics::{Interval, normal};

/// Halvings of the interval in which a parameter is sought.
const HALVINGS: usize = 45;

/// The widest normal distribution that is sought, in distances of the limits: a wider one can hardly be
/// told from a uniform distribution.
const WIDEST: f64 = 2.0;

/// A normal distribution, cut off at limits where there are some.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutNormal {
    /// Mean before it is cut.
    pub mean: f64,
    /// Standard deviation before it is cut.
    pub sigma: f64,
    /// Where it ends.
    pub limits: Option<Interval>,
}

impl CutNormal {
    /// The one that fits values: without limits their mean and standard deviation; with limits the
    /// likeliest one whose mean lies between them.
    ///
    /// Normal distributions between fixed limits are an exponential family: in the likeliest one, mean
    /// and variance after the cut are those of the values (A. C. Cohen, Ann. Math. Stat. 21 (1950)
    /// 557). With the mean kept, the variance rises with σ, so that both are found by halving.
    ///
    /// # Errors
    ///
    /// When a value lies outside the limits, or when none scatters so widely between them.
    pub(super) fn fit(values: &SortedValues, limits: Option<Interval>) -> Result<Self, NoFit> {
        let (mean, sigma) = (values.mean(), values.sd());
        let Some(limits) = limits else { return Ok(Self { mean, sigma, limits: None }) };
        if values.smallest() < limits.lower || values.largest() > limits.upper {
            return Err(NoFit::OutsideLimits);
        }
        let (mut low, mut high) = (0.0, WIDEST * (limits.upper - limits.lower));
        let mut found = None;
        for _ in 0..HALVINGS {
            let tried = 0.5 * (low + high);
            match Self::with_sigma(tried, mean, limits) {
                Some(shape) if shape.moments().sd < sigma => {
                    found = Some(shape);
                    low = tried;
                }
                _ => high = tried,
            }
        }
        let is_reached = |shape: &Self| (shape.moments().sd / sigma - 1.0).abs() < 1e-6;
        found.filter(is_reached).ok_or(NoFit::TooWide)
    }

    /// The one of this σ whose mean after the cut is given; none where its own mean would lie outside
    /// the limits.
    fn with_sigma(sigma: f64, wanted: f64, limits: Interval) -> Option<Self> {
        let shape = |mean: f64| Self { mean, sigma, limits: Some(limits) };
        let (mut low, mut high) = (limits.lower, limits.upper);
        if shape(low).moments().mean > wanted || shape(high).moments().mean < wanted {
            return None;
        }
        for _ in 0..HALVINGS {
            let tried = 0.5 * (low + high);
            *(if shape(tried).moments().mean < wanted { &mut low } else { &mut high }) = tried;
        }
        Some(shape(0.5 * (low + high)))
    }

    /// Probabilities below the limits and between them, before the cut.
    fn shares(&self) -> Shares {
        let standard = |x: f64| normal::probability((x - self.mean) / self.sigma);
        match self.limits {
            None => Shares { below: 0.0, inside: 1.0 },
            Some(Interval { lower, upper }) => {
                let below = standard(lower);
                Shares { below, inside: standard(upper) - below }
            }
        }
    }

    /// The share of the values before the cut that lie outside the limits.
    pub fn cut_share(&self) -> f64 {
        1.0 - self.shares().inside
    }

    /// Mean and standard deviation after the cut.
    fn moments(&self) -> CutMoments {
        let Some(Interval { lower, upper }) = self.limits else {
            return CutMoments { mean: self.mean, sd: self.sigma };
        };
        let [a, b] = [lower, upper].map(|x| (x - self.mean) / self.sigma);
        let inside = self.shares().inside;
        let [at_a, at_b] = [a, b].map(normal::density);
        let shift = (at_a - at_b) / inside;
        let weighted = (a * at_a - b * at_b) / inside;
        let variance = (1.0 + weighted - shift * shift).max(0.0);
        CutMoments { mean: self.mean + self.sigma * shift, sd: self.sigma * variance.sqrt() }
    }

    pub(super) fn probability(&self, x: f64) -> f64 {
        let Shares { below, inside } = self.shares();
        let standard = normal::probability((x - self.mean) / self.sigma);
        ((standard - below) / inside).clamp(0.0, 1.0)
    }

    pub(super) fn density(&self, x: f64) -> f64 {
        let is_inside = self.limits.is_none_or(|l| (l.lower..=l.upper).contains(&x));
        let standard = normal::density((x - self.mean) / self.sigma) / self.sigma;
        if is_inside { standard / self.shares().inside } else { 0.0 }
    }

    pub(super) fn quantile(&self, p: f64) -> f64 {
        let Shares { below, inside } = self.shares();
        let x = self.mean + self.sigma * normal::quantile(below + p * inside);
        self.limits.map_or(x, |limits| x.clamp(limits.lower, limits.upper))
    }
}

#[derive(Debug, Clone, Copy)]
struct Shares {
    below: f64,
    inside: f64,
}

#[derive(Debug, Clone, Copy)]
struct CutMoments {
    mean: f64,
    sd: f64,
}
