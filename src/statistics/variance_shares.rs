//! Shares of variance: how much of the scatter of a figure each group of inputs explains.
//!
//! A and B are two independent draws of all inputs. A third one is A with one group of inputs taken
//! from B ("pick and freeze", I. M. Sobol' 1993). Let u = f(A), w = f(B) and x = f(mixed). Then w
//! and x have the group in common and nothing else, u and x have all but the group in common:
//!
//! ```text
//! first-order share  S = Cov(w, x) / V          total share  T = ½ E[(u − x)²] / V
//! ```
//!
//! - T: M. J. W. Jansen, Computer Physics Communications 117 (1999) 35–43.
//! - S, with mean and variance from w and x together: A. Janon, T. Klein, A. Lagnoux, M. Nodet and
//!   C. Prieur, ESAIM: Probability and Statistics 18 (2014) 342–364.
//! - Cov(w, u) is zero but for chance. Taken from Cov(w, x), it removes most of the chance in small
//!   shares: A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto and S. Tarantola, Computer
//!   Physics Communications 181 (2010) 259–270, table 2 (b). Here 1 − T of it is taken. For the same
//!   reason S of it is added to ½ E[(u − x)²].
//!
//! So a group that explains all has exactly 1, and one that explains nothing exactly 0. Both
//! estimates are smooth functions of nine means. Their intervals follow from the covariance of these
//! means (delta method) and are approximate.
//!
//! A stand-in of the figure that costs nothing makes the intervals narrower: the costly figure then
//! has to tell only the difference of each mean (control variate).

use schemars::JsonSchema;
use serde::Serialize;

use super::{Confidence, normal};

/// Means that the estimates follow from.
const MEANS: usize = 9;
/// Place of the mean of u, and so on.
const U: usize = 0;
const W: usize = 1;
const X: usize = 2;
const UU: usize = 3;
const WW: usize = 4;
const XX: usize = 5;
const UX: usize = 6;
const WX: usize = 7;
const WU: usize = 8;

/// The figure for two independent draws, and for the first one with a group of inputs from the second.
#[derive(Debug, Clone, Copy)]
pub struct MixedDraw {
    /// The first draw, u.
    pub first: f64,
    /// The second draw, w.
    pub second: f64,
    /// The first draw with the group from the second, x.
    pub mixed: f64,
}

/// A share of variance with its interval, all between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct VarianceShare {
    /// The share seen.
    pub estimate: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end of the interval.
    pub upper: f64,
}

/// What a group of inputs explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VarianceShares {
    /// By itself.
    pub first_order: VarianceShare,
    /// By itself and together with other inputs.
    pub total: VarianceShare,
}

/// Running sums for one figure and one group of inputs. Their size does not depend on the draws.
#[derive(Debug, Clone)]
pub struct PickFreeze {
    centre: f64,
    plain: Sums,
    /// The figure less its stand-in.
    difference: Sums,
    stand_in: Sums,
}

impl PickFreeze {
    /// Nothing yet. `centre` is any typical value of the figure: it keeps the sums free of
    /// cancellation.
    pub fn about(centre: f64) -> Self {
        let [plain, difference, stand_in] = [Sums::default(), Sums::default(), Sums::default()];
        Self { centre, plain, difference, stand_in }
    }

    /// Adds a draw of the figure.
    pub fn push(&mut self, draw: MixedDraw) {
        self.plain.push(&self.products(draw));
    }

    /// Adds a draw of the figure, and what its stand-in says for the same inputs.
    pub fn push_with_stand_in(&mut self, draw: MixedDraw, stand_in: MixedDraw) {
        let (of_figure, of_stand_in) = (self.products(draw), self.products(stand_in));
        self.plain.push(&of_figure);
        self.difference.push(&std::array::from_fn(|n| of_figure[n] - of_stand_in[n]));
    }

    /// Adds a further draw of the stand-in alone, independent of the others.
    pub fn push_stand_in(&mut self, draw: MixedDraw) {
        self.stand_in.push(&self.products(draw));
    }

    /// Draws of the figure.
    pub fn draws(&self) -> u64 {
        self.plain.count
    }

    /// The shares with their intervals; none below two draws, or where the figure does not vary. The
    /// stand-in is used where it makes the interval of the total share narrower.
    pub fn shares(&self, confidence: Confidence) -> Option<VarianceShares> {
        let reach = -normal::quantile(confidence.two_sided_tail());
        let plain = Means::of(&self.plain)?.shares(reach)?;
        let helped = Means::of(&self.difference)
            .zip(Means::of(&self.stand_in))
            .and_then(|(difference, stand_in)| difference.plus(&stand_in).shares(reach));
        let width = |shares: &VarianceShares| shares.total.upper - shares.total.lower;
        Some(helped.filter(|helped| width(helped) < width(&plain)).unwrap_or(plain))
    }

    fn products(&self, draw: MixedDraw) -> [f64; MEANS] {
        let [u, w, x] = [draw.first, draw.second, draw.mixed].map(|value| value - self.centre);
        [u, w, x, u * u, w * w, x * x, u * x, w * x, w * u]
    }
}

/// Running means and sums of products of deviations (Welford's update for vectors).
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    count: u64,
    mean: [f64; MEANS],
    products: [[f64; MEANS]; MEANS],
}

impl Sums {
    fn push(&mut self, values: &[f64; MEANS]) {
        self.count += 1;
        let before: [f64; MEANS] = std::array::from_fn(|n| values[n] - self.mean[n]);
        for (mean, before) in self.mean.iter_mut().zip(&before) {
            *mean += before / self.count as f64;
        }
        for (row, before) in self.products.iter_mut().zip(&before) {
            for (product, (value, mean)) in row.iter_mut().zip(values.iter().zip(&self.mean)) {
                *product += before * (value - mean);
            }
        }
    }
}

/// Estimated means, and the covariance of these estimates.
#[derive(Debug, Clone, Copy)]
struct Means {
    mean: [f64; MEANS],
    covariance: [[f64; MEANS]; MEANS],
}

impl Means {
    /// None below two draws.
    fn of(sums: &Sums) -> Option<Self> {
        let divisor = sums.count as f64 * (sums.count.checked_sub(1).filter(|n| *n > 0)? as f64);
        Some(Self {
            mean: sums.mean,
            covariance: sums.products.map(|row| row.map(|p| p / divisor)),
        })
    }

    /// The sum of two independent estimates.
    fn plus(&self, other: &Self) -> Self {
        let row = |a: &[f64; MEANS], b: &[f64; MEANS]| std::array::from_fn(|n| a[n] + b[n]);
        Self {
            mean: row(&self.mean, &other.mean),
            covariance: std::array::from_fn(|n| row(&self.covariance[n], &other.covariance[n])),
        }
    }

    /// None where the figure does not vary.
    fn shares(&self, reach: f64) -> Option<VarianceShares> {
        let total = self.total(0.0)?;
        let first_order = self.first_order(within(1.0 - total.value))?;
        let total = self.total(within(first_order.value))?;
        let [first_order, total] = [first_order, total].map(|share| self.interval(&share, reach));
        Some(VarianceShares { first_order, total })
    }

    /// Variance from two of the three values: their mean square less the square of their mean.
    fn variance(&self, squares: [usize; 2], values: [usize; 2]) -> Option<f64> {
        let [square, value] =
            [squares, values].map(|[a, b]| f64::midpoint(self.mean[a], self.mean[b]));
        let variance = square - value * value;
        (variance > f64::EPSILON * square).then_some(variance)
    }

    /// T, with the variance from u and x, and `part` of Cov(w, u) added.
    fn total(&self, part: f64) -> Option<SmoothShare> {
        let variance = self.variance([UU, XX], [U, X])?;
        let [ux, wu] = [X, W].map(|other| f64::midpoint(self.mean[U], self.mean[other]));
        let apart = f64::midpoint(self.mean[UU], self.mean[XX]) - self.mean[UX];
        let value = (apart + part * (self.mean[WU] - wu * wu)) / variance;
        let mut gradient = [0.0; MEANS];
        for (place, slope) in [
            (UU, 0.5 * (1.0 - value)),
            (XX, 0.5 * (1.0 - value)),
            (UX, -1.0),
            (WU, part),
            (U, value * ux - part * wu),
            (X, value * ux),
            (W, -part * wu),
        ] {
            gradient[place] = slope / variance;
        }
        Some(SmoothShare { value, gradient })
    }

    /// S, with mean and variance from w and x, and `part` of Cov(w, u) taken from Cov(w, x).
    fn first_order(&self, part: f64) -> Option<SmoothShare> {
        let variance = self.variance([WW, XX], [W, X])?;
        let [wx, wu] = [X, U].map(|other| f64::midpoint(self.mean[W], self.mean[other]));
        let covariance = self.mean[WX] - wx * wx - part * (self.mean[WU] - wu * wu);
        let value = covariance / variance;
        let mut gradient = [0.0; MEANS];
        for (place, slope) in [
            (WX, 1.0),
            (WU, -part),
            (WW, -0.5 * value),
            (XX, -0.5 * value),
            (W, (value - 1.0) * wx + part * wu),
            (X, (value - 1.0) * wx),
            (U, part * wu),
        ] {
            gradient[place] = slope / variance;
        }
        Some(SmoothShare { value, gradient })
    }

    /// The interval by the delta method, within 0 and 1.
    fn interval(&self, share: &SmoothShare, reach: f64) -> VarianceShare {
        let SmoothShare { value, gradient } = share;
        let terms = self.covariance.iter().zip(gradient);
        let along = |row: &[f64; MEANS]| row.iter().zip(gradient).map(|(c, g)| c * g).sum::<f64>();
        let variance: f64 = terms.map(|(row, slope)| slope * along(row)).sum();
        let error = reach * variance.max(0.0).sqrt();
        VarianceShare {
            estimate: within(*value),
            lower: within(value - error),
            upper: within(value + error),
        }
    }
}

/// A share lies between 0 and 1.
fn within(share: f64) -> f64 {
    share.clamp(0.0, 1.0)
}

/// A share as a function of the means.
struct SmoothShare {
    value: f64,
    /// Its derivatives with respect to the means.
    gradient: [f64; MEANS],
}
