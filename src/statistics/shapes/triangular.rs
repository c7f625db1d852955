//! The symmetric triangular distribution.

use super::SortedValues;

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
    /// The likeliest one for values that are not all equal.
    ///
    /// The likelihood Σ ln(h − |x − m|) − 2 n ln h is concave in 1/h and m/h. So the best half width
    /// for each middle is the only root of its slope, and the best of these rises and falls once over
    /// the middles: it is found by golden section (own derivation).
    pub(super) fn fit(values: &SortedValues) -> Self {
        let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
        let (mut low, mut high) = (values.smallest(), values.largest());
        let middles =
            |low: f64, high: f64| [high - ratio * (high - low), low + ratio * (high - low)];
        let mut tried = middles(low, high).map(|middle| Candidate::at(values, middle));
        for _ in 0..STEPS {
            if tried[0].likelihood > tried[1].likelihood {
                high = tried[1].shape.middle;
                tried = [Candidate::at(values, middles(low, high)[0]), tried[0]];
            } else {
                low = tried[0].shape.middle;
                tried = [tried[1], Candidate::at(values, middles(low, high)[1])];
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
    fn at(values: &SortedValues, middle: f64) -> Self {
        let half_width = half_width(values, middle);
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
