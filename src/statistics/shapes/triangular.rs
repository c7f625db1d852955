//! The symmetric triangular distribution.

use super::{NoFit, SortedValues};
use crate::statistics::Interval;

/// Steps of the search for the middle: each leaves 0.618 of the interval.
const STEPS: usize = 32;

/// A triangular distribution with its peak in the middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SymmetricTriangle {
    /// The middle, where the density is highest.
    pub middle: f64,
    /// Half of its width.
    pub half_width: f64,
}

impl SymmetricTriangle {
    /// The likeliest one for values that are not all equal, within limits where these are given.
    ///
    /// The likelihood Σ ln(h − |x − m|) − 2 n ln h is concave in 1/h and m/h. So the best half width
    /// for each middle is the only root of its slope, and the best of these rises and falls once over
    /// the middles: it is found by golden section. Limits are straight lines in 1/h and m/h, so that
    /// this holds within them too (own derivation).
    ///
    /// # Errors
    ///
    /// When a value lies outside the limits, or at one: the density is zero there.
    pub(super) fn fit(values: &SortedValues, limits: Option<Interval>) -> Result<Self, NoFit> {
        let (smallest, largest) = (values.smallest(), values.largest());
        let whole = Self::likeliest(values, None, [smallest, largest]);
        let Some(Interval { lower, upper }) = limits else { return Ok(whole) };
        if smallest < lower || largest > upper {
            return Err(NoFit::OutsideLimits);
        }
        if whole.middle - whole.half_width >= lower && whole.middle + whole.half_width <= upper {
            return Ok(whole);
        }
        // About these middles a triangle within the limits holds all values.
        let low = smallest.max(0.5 * (lower + largest));
        let high = largest.min(0.5 * (upper + smallest));
        if smallest <= lower || largest >= upper || low >= high {
            return Err(NoFit::AtLimit);
        }
        Ok(Self::likeliest(values, limits, [low, high]))
    }

    /// The likeliest one whose middle lies between two ends.
    fn likeliest(
        values: &SortedValues,
        limits: Option<Interval>,
        [mut low, mut high]: [f64; 2],
    ) -> Self {
        let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
        let middles =
            |low: f64, high: f64| [high - ratio * (high - low), low + ratio * (high - low)];
        let best = |middle: f64| Candidate::at(values, middle, limits);
        let mut tried = middles(low, high).map(best);
        for _ in 0..STEPS {
            if tried[0].likelihood > tried[1].likelihood {
                high = tried[1].shape.middle;
                tried = [best(middles(low, high)[0]), tried[0]];
            } else {
                low = tried[0].shape.middle;
                tried = [tried[1], best(middles(low, high)[1])];
            }
        }
        if tried[0].likelihood > tried[1].likelihood { tried[0].shape } else { tried[1].shape }
    }

    pub(super) fn probability(self, x: f64) -> f64 {
        let t = ((x - self.middle) / self.half_width).clamp(-1.0, 1.0);
        if t < 0.0 { 0.5 * (1.0 + t) * (1.0 + t) } else { 1.0 - 0.5 * (1.0 - t) * (1.0 - t) }
    }

    pub(super) fn density(self, x: f64) -> f64 {
        (1.0 - ((x - self.middle) / self.half_width).abs()).max(0.0) / self.half_width
    }

    pub(super) fn quantile(self, p: f64) -> f64 {
        let t = if p < 0.5 { (2.0 * p).sqrt() - 1.0 } else { 1.0 - (2.0 * (1.0 - p)).sqrt() };
        self.middle + t * self.half_width
    }
}

/// The best triangle about one middle.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    shape: SymmetricTriangle,
    likelihood: f64,
}

impl Candidate {
    fn at(values: &SortedValues, middle: f64, limits: Option<Interval>) -> Self {
        let widest = limits.map_or(f64::INFINITY, |l| (middle - l.lower).min(l.upper - middle));
        let half_width = half_width(values, middle).min(widest);
        let logarithm = |x: &f64| libm::log(half_width - (x - middle).abs());
        let sum: f64 = values.values().iter().map(logarithm).sum();
        let likelihood = sum - 2.0 * values.count() as f64 * libm::log(half_width);
        Self { shape: SymmetricTriangle { middle, half_width }, likelihood }
    }
}

/// The root h of Σ t/(h − t) = n with t = |x − m|. The sum falls and is convex in h, and exceeds n at
/// the starting value, so that Newton's steps rise to the root.
fn half_width(values: &SortedValues, middle: f64) -> f64 {
    let n = values.count() as f64;
    let farthest = (values.largest() - middle).max(middle - values.smallest());
    let mut h = farthest * (1.0 + 1.0 / n);
    for _ in 0..60 {
        let (mut sum, mut slope) = (0.0, 0.0);
        for x in values.values() {
            let t = (x - middle).abs();
            let share = t / (h - t);
            sum += share;
            slope += share / (h - t);
        }
        let step = (sum - n) / slope;
        h += step.max(0.0);
        if step <= 1e-9 * h {
            break;
        }
    }
    h
}
