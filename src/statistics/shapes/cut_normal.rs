//! The normal distribution, whole or cut off at limits.

use super::{NoFit, SortedValues};
use crate::statistics::{Interval, normal};

/// Steps of a search; a dozen do.
const STEPS: usize = 80;

/// How exactly a parameter is found, in standard deviations of the values.
const EXACTNESS: f64 = 1e-10;

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
    /// The one that fits values: without limits their mean and standard deviation; with limits the one
    /// with its mean between them that has these after the cut.
    ///
    /// Normal distributions between fixed limits are an exponential family: in the likeliest one, mean
    /// and variance after the cut are those of the values (A. C. Cohen, Ann. Math. Stat. 21 (1950)
    /// 557). Here the variance of the values is that over n − 1. With the mean kept, the variance rises
    /// with σ.
    ///
    /// # Errors
    ///
    /// When a value lies outside the limits, or when none with its peak between them matches.
    pub fn fit(values: &SortedValues, limits: Option<Interval>) -> Result<Self, NoFit> {
        let (mean, sigma) = (values.mean(), values.sd());
        let Some(limits) = limits else { return Ok(Self { mean, sigma, limits: None }) };
        if values.smallest() < limits.lower || values.largest() > limits.upper {
            return Err(NoFit::OutsideLimits);
        }
        let wanted = CutMoments { mean, sd: sigma };
        let bracket = Bracket::around(wanted, limits).ok_or(NoFit::NoPeakInside)?;
        Ok(bracket.narrowed(wanted, limits))
    }

    /// The one of this σ whose mean after the cut is given; none where its own mean would lie outside
    /// the limits. Newton's method: the mean after the cut rises with the own mean by the ratio of the
    /// variances after and before it.
    fn with_sigma(sigma: f64, wanted: f64, limits: Interval) -> Option<Self> {
        let shape = |mean: f64| Self { mean, sigma, limits: Some(limits) };
        let (mut low, mut high) = (limits.lower, limits.upper);
        if shape(low).moments().mean > wanted || shape(high).moments().mean < wanted {
            return None;
        }
        let mut mean = wanted;
        for _ in 0..STEPS {
            let found = shape(mean).moments();
            *(if found.mean < wanted { &mut low } else { &mut high }) = mean;
            let ratio = found.sd / sigma;
            let newton = mean + (wanted - found.mean) / (ratio * ratio);
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            let step = next - mean;
            mean = next;
            if step.abs() <= EXACTNESS * sigma {
                break;
            }
        }
        Some(shape(mean))
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

/// A distribution of the right mean that was tried.
#[derive(Debug, Clone, Copy)]
struct Tried {
    shape: CutNormal,
    /// Its standard deviation after the cut, less the wanted one.
    excess: f64,
}

impl Tried {
    fn new(sigma: f64, wanted: CutMoments, limits: Interval) -> Option<Self> {
        let shape = CutNormal::with_sigma(sigma, wanted.mean, limits)?;
        Some(Self { shape, excess: shape.moments().sd - wanted.sd })
    }
}

/// Two distributions, one too narrow and one too wide.
#[derive(Debug, Clone, Copy)]
struct Bracket {
    narrow: Tried,
    wide: Tried,
}

impl Bracket {
    /// The cut makes a distribution narrower: σ lies above the wanted deviation.
    fn around(wanted: CutMoments, limits: Interval) -> Option<Self> {
        let mut narrow = Tried::new(wanted.sd, wanted, limits)?;
        let mut beyond = WIDEST * (limits.upper - limits.lower);
        for _ in 0..STEPS {
            let sigma = (1.3 * narrow.shape.sigma).min(0.5 * (narrow.shape.sigma + beyond));
            match Tried::new(sigma, wanted, limits) {
                Some(wide) if wide.excess >= 0.0 => return Some(Self { narrow, wide }),
                Some(still_narrow) => narrow = still_narrow,
                None => beyond = sigma,
            }
        }
        None
    }

    /// Regula falsi, with the kept end halved (the Illinois method: M. Dowell and P. Jarratt, BIT 11
    /// (1971) 168).
    fn narrowed(mut self, wanted: CutMoments, limits: Interval) -> CutNormal {
        let (mut low, mut high) = (self.narrow.excess, self.wide.excess);
        for _ in 0..STEPS {
            let [a, b] = [self.narrow.shape.sigma, self.wide.shape.sigma];
            let sigma = if high > low { (a * high - b * low) / (high - low) } else { a };
            let Some(tried) = Tried::new(sigma, wanted, limits) else { break };
            if tried.excess < 0.0 {
                (self.narrow, low, high) = (tried, tried.excess, 0.5 * high);
            } else {
                (self.wide, high, low) = (tried, tried.excess, 0.5 * low);
            }
            if tried.excess.abs() <= EXACTNESS * wanted.sd {
                return tried.shape;
            }
        }
        self.narrow.shape
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
