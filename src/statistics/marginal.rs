//! The distributions that parts are drawn from: a probability in, a deviation out.
//!
//! A deviation is counted in half widths of the band from its middle, so that it lies in −1..=1.
//! Multiplying a band, and how far its middle lies off, then leaves the distribution as it is.

use std::sync::Arc;

use super::{beta, normal};

/// Points of a quantile that is kept as a table, over the normal scores of all probabilities drawn.
const POINTS: usize = 513;
/// The normal score of the smallest probability that is drawn, 2⁻⁵⁴, with some room.
const FARTHEST_SCORE: f64 = 8.5;

/// A distribution over a band, with what its quantile needs computed once.
#[derive(Debug, Clone, PartialEq)]
pub struct Marginal(Kind);

#[derive(Debug, Clone, PartialEq)]
enum Kind {
    Uniform,
    Triangular {
        mode: f64,
    },
    /// A normal distribution cut off at the band.
    Normal(CutNormal),
    /// `scale · e^score + origin` of such a distribution of scores.
    Lognormal {
        score: CutNormal,
        origin: f64,
    },
    Table(Arc<[Knot]>),
    Measured(Arc<[f64]>),
}

/// A normal distribution of which only a part is left.
#[derive(Debug, Clone, Copy, PartialEq)]
struct CutNormal {
    mean: f64,
    /// Standard deviations in one unit of the values.
    sigmas: f64,
    /// Probability below what is left, and inside it.
    below: f64,
    inside: f64,
}

impl CutNormal {
    /// `mean` and `sigmas` before the cut; what is left lies from `low` to `high`.
    fn new(mean: f64, sigmas: f64, [low, high]: [f64; 2]) -> Self {
        let below = normal::probability((low - mean) * sigmas);
        let above = normal::probability((mean - high) * sigmas);
        Self { mean, sigmas, below, inside: 1.0 - (below + above) }
    }

    fn quantile(self, p: f64) -> f64 {
        normal::quantile(self.below + p * self.inside) / self.sigmas + self.mean
    }
}

/// A point of a table: value and slope over the normal score.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Knot {
    value: f64,
    slope: f64,
}

impl Marginal {
    /// Every value within the band is equally likely.
    pub const fn uniform() -> Self {
        Self(Kind::Uniform)
    }

    /// Likeliest at `mode`, from −1 to 1, falling in straight lines to nothing at both ends.
    pub const fn triangular(mode: f64) -> Self {
        Self(Kind::Triangular { mode })
    }

    /// Normal about `mean`, in half widths from the middle, with `sigmas` standard deviations in a
    /// half width; what lies outside the band is left out.
    pub fn normal(mean: f64, sigmas: f64) -> Self {
        Self(Kind::Normal(CutNormal::new(mean, sigmas, [-1.0, 1.0])))
    }

    /// `e^score + origin`, the scores normal with this mean and standard deviation; what lies
    /// outside the band is left out. `origin` is below −1.
    pub fn lognormal(origin: f64, mean: f64, deviation: f64) -> Self {
        let ends = [libm::log(-1.0 - origin), libm::log(1.0 - origin)];
        Self(Kind::Lognormal { score: CutNormal::new(mean, 1.0 / deviation, ends), origin })
    }

    /// The beta distribution with these exponents, both of 1 or more, stretched over the band.
    pub fn beta(alpha: f64, beta: f64) -> Self {
        let step = 2.0 * FARTHEST_SCORE / (POINTS - 1) as f64;
        let knots = (0..POINTS).map(|n| beta_knot(alpha, beta, step * n as f64 - FARTHEST_SCORE));
        Self(Kind::Table(knots.collect()))
    }

    /// One of these values, each equally likely; they rise, and there is one at least.
    pub fn measured(values: Arc<[f64]>) -> Self {
        Self(Kind::Measured(values))
    }

    /// The share of the distribution that the band leaves out; none where nothing lies outside.
    pub fn left_out(&self) -> Option<f64> {
        match &self.0 {
            Kind::Normal(cut) | Kind::Lognormal { score: cut, .. } => Some(1.0 - cut.inside),
            Kind::Uniform | Kind::Triangular { .. } | Kind::Table(_) | Kind::Measured(_) => None,
        }
    }

    /// Values that are equally likely, rising, where there are no others.
    pub(super) fn values(&self) -> Option<&[f64]> {
        match &self.0 {
            Kind::Measured(values) => Some(values),
            _ => None,
        }
    }

    /// The deviation, in −1..=1, below which a share `p` in (0, 1) of the parts lies.
    pub fn quantile(&self, p: f64) -> f64 {
        match &self.0 {
            Kind::Uniform => 2.0 * p - 1.0,
            Kind::Triangular { mode } => triangular(*mode, p),
            Kind::Normal(cut) => cut.quantile(p).clamp(-1.0, 1.0),
            Kind::Lognormal { score, origin } => {
                (libm::exp(score.quantile(p)) + origin).clamp(-1.0, 1.0)
            }
            Kind::Table(knots) => interpolated(knots, normal::quantile(p)),
            Kind::Measured(values) => values[measured_index(values, p)],
        }
    }

    /// How many values there are, where they are measured ones.
    pub fn measured_values(&self) -> Option<usize> {
        self.values().map(<[f64]>::len)
    }

    /// The index of the value drawn with a probability in (0, 1), among measured ones by rising value.
    pub fn measured_index(&self, p: f64) -> Option<usize> {
        self.values().map(|values| measured_index(values, p))
    }
}

/// The index of the value below which a share `p` of all lies.
fn measured_index(values: &[f64], p: f64) -> usize {
    whole(p * values.len() as f64, values.len() - 1)
}

/// The whole part of a place of zero or more, at most `last`.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in 0..=last")]
fn whole(place: f64, last: usize) -> usize {
    place.clamp(0.0, last as f64) as usize
}

/// With a share (mode + 1)/2 below the mode.
fn triangular(mode: f64, p: f64) -> f64 {
    let below = 0.5 * (mode + 1.0);
    if p < below {
        (2.0 * p * (mode + 1.0)).sqrt() - 1.0
    } else {
        1.0 - (2.0 * (1.0 - p) * (1.0 - mode)).sqrt()
    }
}

/// The beta quantile at a normal score z and its slope φ(z)/f(x), with f the density; from the
/// nearer end, so that neither tail loses digits.
fn beta_knot(alpha: f64, beta: f64, z: f64) -> Knot {
    let tail = normal::probability(-z.abs());
    let (first, second) = if z < 0.0 { (alpha, beta) } else { (beta, alpha) };
    let x = beta::quantile(first, second, tail);
    let slope = normal::density(z) / beta::density(first, second, x);
    let value = (1.0 - 2.0 * x) * z.signum();
    Knot { value, slope: 2.0 * slope }
}

/// Cubic Hermite interpolation: F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238,
/// equation (1), with the true slopes.
fn interpolated(knots: &[Knot], z: f64) -> f64 {
    let last = knots.len() - 2;
    let step = 2.0 * FARTHEST_SCORE / (knots.len() - 1) as f64;
    let place = ((z + FARTHEST_SCORE) / step).clamp(0.0, (last + 1) as f64);
    let left = whole(place, last);
    let t = place - left as f64;
    let (a, b) = (knots[left], knots[left + 1]);
    let (rest, rise) = (1.0 - t, t * t * (3.0 - 2.0 * t));
    let value = a.value + (b.value - a.value) * rise;
    value + step * t * rest * (rest * a.slope - t * b.slope)
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Beta, ContinuousCDF, LogNormal, Normal, Triangular};

    use super::*;

    /// The worst error of a quantile against that of the general library statrs.
    fn error(marginal: &Marginal, library: impl Fn(f64) -> f64) -> f64 {
        let tails = (1..14).flat_map(|n| [10_f64.powi(-n), 1.0 - 10_f64.powi(-n)]);
        let all = tails.chain((1..500).map(|n| f64::from(n) / 500.0));
        all.map(|p| (marginal.quantile(p) - library(p)).abs()).fold(0.0, f64::max)
    }

    #[test]
    fn beta_agrees_with_statrs() {
        for (alpha, beta) in [(1.0, 1.0), (2.0, 5.0), (1.0, 3.0), (30.0, 4.0), (2.5, 2.5)] {
            let library = Beta::new(alpha, beta).unwrap();
            let marginal = Marginal::beta(alpha, beta);
            let found = error(&marginal, |p| 2.0 * library.inverse_cdf(p) - 1.0);
            assert!(found < 1e-7, "{alpha} {beta}: {found}");
        }
        let other = Beta::new(2.0, 5.1).unwrap();
        assert!(error(&Marginal::beta(2.0, 5.0), |p| 2.0 * other.inverse_cdf(p) - 1.0) > 1e-3);
    }

    #[test]
    fn triangular_agrees_with_statrs() {
        for mode in [-1.0, -0.3, 0.0, 0.8, 1.0] {
            let library = Triangular::new(-1.0, 1.0, mode).unwrap();
            let found = error(&Marginal::triangular(mode), |p| library.inverse_cdf(p));
            assert!(found < 1e-7, "{mode}: {found}");
        }
    }

    /// The part of a distribution within the band: quantile at F(−1) + p (F(1) − F(−1)).
    #[test]
    fn what_is_cut_agrees_with_statrs() {
        for (mean, sigmas) in [(0.0, 3.0), (0.4, 2.0), (-1.5, 1.0)] {
            let library = Normal::new(mean, 1.0 / sigmas).unwrap();
            let (below, up_to) = (library.cdf(-1.0), library.cdf(1.0));
            let marginal = Marginal::normal(mean, sigmas);
            let found = error(&marginal, |p| library.inverse_cdf(below + p * (up_to - below)));
            assert!(found < 1e-8, "{mean} {sigmas}: {found}");
            assert!((marginal.left_out().unwrap() - 1.0 + up_to - below).abs() < 1e-10);
        }
        // Values of e^score − 3, scores about 1.05: from 2 to 4 is left.
        let library = LogNormal::new(1.05, 0.2).unwrap();
        let (below, up_to) = (library.cdf(2.0), library.cdf(4.0));
        let marginal = Marginal::lognormal(-3.0, 1.05, 0.2);
        let found = error(&marginal, |p| library.inverse_cdf(below + p * (up_to - below)) - 3.0);
        assert!(found < 1e-7, "{found}");
        assert!((marginal.left_out().unwrap() - 1.0 + up_to - below).abs() < 1e-10);
    }

    #[test]
    fn measured_values_are_drawn_as_they_are() {
        let marginal = Marginal::measured([-1.0, 0.2, 0.2, 1.0].into());
        for (p, value) in [(0.01, -1.0), (0.24, -1.0), (0.26, 0.2), (0.74, 0.2), (0.76, 1.0)] {
            assert!((marginal.quantile(p) - value).abs() < 1e-15, "{p}");
        }
    }
}
