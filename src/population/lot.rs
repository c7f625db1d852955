//! Parts from one lot: correlation that keeps the shape and has the share of variance asked for.
//!
//! Each part's deviation is `g(z)`, with z standard normal, `g` the shape's quantile of Φ(z). The
//! phases of a converter share a part of z: `z(k) = √r z0 + √(1 − r) z'(k)`. The correlation of
//! two parts, which is the share of their variance in common, is then not r but
//!
//! ```text
//! ρ(r) = Σ c(n)² r^n / Σ c(n)²,   c(n) = E[g(z) He_n(z)] / √(n!)
//! ```
//!
//! with the Hermite polynomials He (F. G. Mehler, 1866; H. O. Lancaster, Biometrika 44 (1957)
//! 289). For the uniform shape this is the closed form ρ = (6/π) asin(r/2) (K. Pearson, 1907).
//! The r that gives the wanted share is found once.

use super::shape::Quantile;
use crate::statistics::normal;

/// Terms of the series: its remainder falls like r^n.
const TERMS: usize = 120;
/// Points of the integration over z in (−9, 9); the trapezoidal rule is accurate beyond need
/// for integrands that vanish at both ends.
const POINTS: i32 = 4000;

/// The share r of z that gives parts of this shape a `share` of their variance in common.
pub(super) fn common_share(shape: Quantile, share: f64) -> f64 {
    if share <= 0.0 || share >= 1.0 {
        return share;
    }
    let weights = series(shape);
    let total: f64 = weights.iter().sum();
    let correlation = |r: f64| weights.iter().rev().fold(0.0, |sum, w| (sum + w) * r) / total;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..52 {
        let middle = 0.5 * (low + high);
        if correlation(middle) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// c(1)², c(2)², …
fn series(shape: Quantile) -> Vec<f64> {
    let mut sums = vec![0.0; TERMS];
    for n in 1..POINTS {
        let z = 9.0 * (2.0 * f64::from(n) / f64::from(POINTS) - 1.0);
        let p = normal::probability(z);
        if p <= 0.0 || p >= 1.0 {
            continue;
        }
        let weight = shape.at(p) * normal::density(z) * 18.0 / f64::from(POINTS);
        // He_n/√(n!) by its recurrence.
        let (mut before, mut now) = (1.0, z);
        for (order, sum) in sums.iter_mut().enumerate() {
            *sum += weight * now;
            let n = (order + 1) as f64;
            (before, now) = (now, (z * now - n.sqrt() * before) / (n + 1.0).sqrt());
        }
    }
    sums.iter().map(|c| c * c).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Shape;

    /// Pearson (1907): for uniform parts ρ = (6/π) asin(r/2), so r = 2 sin(π ρ/6).
    #[test]
    fn uniform_parts_follow_the_closed_form() {
        for share in [0.05, 0.3, 0.5, 0.8, 0.95] {
            let r = common_share(Quantile::new(&Shape::Uniform), share);
            let exact = 2.0 * (std::f64::consts::PI * share / 6.0).sin();
            assert!((r - exact).abs() < 2e-5, "{share}: {r} against {exact}");
        }
    }

    /// A normal distribution cut off far out is a normal one, where both shares are equal.
    #[test]
    fn normal_parts_share_what_their_scores_share() {
        let shape = Quantile::new(&Shape::Normal { sigmas: 8.0 });
        for share in [0.1, 0.5, 0.9] {
            assert!((common_share(shape, share) - share).abs() < 1e-9);
        }
    }
}
