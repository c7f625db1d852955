//! Parts that have something in common: a correlation that keeps the shapes and has the size asked
//! for (a Gaussian copula).
//!
//! Each part's deviation is `g(z)`, with z standard normal, `g` the quantile of Φ(z). Two parts
//! whose scores z correlate by r then correlate by
//!
//! ```text
//! ρ(r) = Σ c(n) d(n) r^n / √(Σ c(n)² Σ d(n)²),   c(n) = E[g(z) He_n(z)] / √(n!),   d(n) of the other
//! ```
//!
//! with the Hermite polynomials He (F. G. Mehler, 1866; H. O. Lancaster, Biometrika 44 (1957)
//! 289). For two uniform parts this is the closed form ρ = (6/π) asin(r/2) (K. Pearson, 1907).
//! Quantiles rise, so that ρ rises with r. The r that gives the wanted correlation is found once.
//!
//! The phases of a converter share a part of their scores: `z(k) = √s z0 + √(1 − s) z'(k)`. There r
//! is s, and ρ is the share of the variance that they have in common.

use std::sync::Arc;

use super::memo::{Memo, recalled};
use super::{Marginal, normal};

thread_local! {
    static COMMON_SHARES: Memo<(Marginal, f64), f64> = const { Memo::new(Vec::new()) };
    static SERIES: Memo<Marginal, Arc<HermiteSeries>> = const { Memo::new(Vec::new()) };
}

/// Terms of the series: its remainder falls like r^n.
const TERMS: usize = 120;
/// The same for measured values, whose quantile has steps: c(n)² falls like n^(−3/2) only.
const TERMS_OF_STEPS: usize = 4000;
/// Terms times steps, at most: with many steps the quantile is all but smooth.
const STEP_WORK: usize = 40_000_000;
/// Points of the integration over z in (−9, 9); the trapezoidal rule is accurate beyond need
/// for integrands that vanish at both ends.
const POINTS: i32 = 4000;

/// The share of the scores that gives parts of this distribution a `share` of their variance in
/// common.
pub fn common_share(marginal: &Marginal, share: f64) -> f64 {
    if share <= 0.0 || share >= 1.0 {
        return share;
    }
    // Each population asks again, of the same distributions.
    recalled(&COMMON_SHARES, (marginal.clone(), share), || {
        PairSeries::of_equals(&HermiteSeries::recalled(marginal)).score(share, [0.0, 1.0])
    })
}

/// The coefficients c(1), c(2), … of a distribution, and its variance.
#[derive(Debug, Clone, PartialEq)]
pub struct HermiteSeries {
    coefficients: Vec<f64>,
    variance: f64,
}

impl HermiteSeries {
    /// Those of a distribution. Each population asks again, of the same ones.
    pub fn recalled(marginal: &Marginal) -> Arc<Self> {
        recalled(&SERIES, marginal.clone(), || Arc::new(Self::new(marginal)))
    }

    fn new(marginal: &Marginal) -> Self {
        marginal.values().map_or_else(|| Self::of_shape(marginal), Self::of_values)
    }

    /// By integration. The variance is that of the same terms.
    fn of_shape(marginal: &Marginal) -> Self {
        let mut sums = vec![0.0; TERMS];
        let roots: Vec<f64> = (0..=TERMS + 1).map(|n| (n as f64).sqrt()).collect();
        for n in 1..POINTS {
            let z = 9.0 * (2.0 * f64::from(n) / f64::from(POINTS) - 1.0);
            let p = normal::probability(z);
            if p <= 0.0 || p >= 1.0 {
                continue;
            }
            let weight = marginal.quantile(p) * normal::density(z) * 18.0 / f64::from(POINTS);
            // He_n/√(n!) by its recurrence.
            let (mut before, mut now) = (1.0, z);
            for (order, sum) in sums.iter_mut().enumerate() {
                *sum += weight * now;
                let [root, next] = [roots[order + 1], roots[order + 2]];
                (before, now) = (now, (z * now - root * before) / next);
            }
        }
        let variance = sums.iter().map(|c| c * c).sum();
        Self { coefficients: sums, variance }
    }

    /// In closed form: a step of the height h at the score z adds h φ(z) He(n−1)(z) / √(n!) to c(n).
    fn of_values(values: &[f64]) -> Self {
        let count = values.len() as f64;
        let steps: Vec<(f64, f64)> = (1..values.len())
            .filter(|n| values[*n] > values[n - 1])
            .map(|n| (normal::quantile(n as f64 / count), values[n] - values[n - 1]))
            .collect();
        let terms = (STEP_WORK / steps.len().max(1)).clamp(TERMS, TERMS_OF_STEPS);
        let mut coefficients = vec![0.0; terms];
        let roots: Vec<f64> = (0..=terms + 1).map(|n| (n as f64).sqrt()).collect();
        for (z, height) in steps {
            let weight = height * normal::density(z);
            let (mut before, mut now) = (0.0, 1.0);
            for (order, sum) in coefficients.iter_mut().enumerate() {
                let [root, next] = [roots[order], roots[order + 1]];
                *sum += weight * now / next;
                (before, now) = (now, (z * now - root * before) / next);
            }
        }
        let mean = values.iter().sum::<f64>() / count;
        let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / count;
        Self { coefficients, variance }
    }
}

fn products(first: &HermiteSeries, second: &HermiteSeries) -> Vec<f64> {
    first.coefficients.iter().zip(&second.coefficients).map(|(c, d)| c * d).collect()
}

/// How the correlation of two parts follows from that of their scores.
#[derive(Debug, Clone, PartialEq)]
pub struct PairSeries {
    products: Vec<f64>,
    scale: f64,
}

impl PairSeries {
    /// Of parts of two distributions, neither of which is a single value.
    pub fn new(first: &HermiteSeries, second: &HermiteSeries) -> Self {
        Self { products: products(first, second), scale: (first.variance * second.variance).sqrt() }
    }

    fn of_equals(series: &HermiteSeries) -> Self {
        Self { products: products(series, series), scale: series.variance }
    }

    /// Pearson's correlation of the parts whose scores correlate by `r`, from −1 to 1.
    pub fn correlation(&self, r: f64) -> f64 {
        self.products.iter().rev().fold(0.0, |sum, w| (sum + w) * r) / self.scale
    }

    /// The correlation of the scores, within these ends, that gives the parts this one; the nearer
    /// end where none does.
    pub fn score(&self, correlation: f64, [mut low, mut high]: [f64; 2]) -> f64 {
        for _ in 0..52 {
            let middle = 0.5 * (low + high);
            if self.correlation(middle) < correlation { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pearson (1907): for uniform parts ρ = (6/π) asin(r/2), so r = 2 sin(π ρ/6).
    #[test]
    fn uniform_parts_follow_the_closed_form() {
        for share in [0.05, 0.3, 0.5, 0.8, 0.95] {
            let r = common_share(&Marginal::uniform(), share);
            let exact = 2.0 * (std::f64::consts::PI * share / 6.0).sin();
            assert!((r - exact).abs() < 2e-5, "{share}: {r} against {exact}");
        }
    }

    /// A normal distribution cut off far out is a normal one, where both shares are equal.
    #[test]
    fn normal_parts_share_what_their_scores_share() {
        for share in [0.1, 0.5, 0.9] {
            assert!((common_share(&Marginal::normal(0.0, 8.0), share) - share).abs() < 1e-9);
        }
    }

    /// Two values, the upper one of a fifth of the parts: ρ(r) = (Φ2(z, z; r) − 0.2²)/(0.2 · 0.8), by
    /// ∂Φ2/∂r = the bivariate normal density (Plackett, Biometrika 41 (1954) 351), here summed by
    /// Simpson's rule. With a uniform part the most is √(3 · 0.2 · 0.8), as for any order of values.
    #[test]
    fn measured_values_follow_the_bivariate_normal() {
        let values = |low: usize, high: usize| {
            let all = [vec![-1.0; low], vec![1.0; high]].concat();
            Marginal::measured(all.into())
        };
        let two = values(20, 5);
        let z = normal::quantile(0.8);
        for r in [0.2, 0.5, 0.9, 0.99] {
            let slope = |t: f64| {
                let rest = 1.0 - t * t;
                (-z * z / (1.0 + t)).exp() / (2.0 * std::f64::consts::PI * rest.sqrt())
            };
            let steps = 20_000;
            let simpson: f64 = (0..=steps)
                .map(|n| {
                    let weight = [2.0, 4.0][n % 2] - f64::from(u8::from(n == 0 || n == steps));
                    weight * slope(r * n as f64 / steps as f64)
                })
                .sum();
            let exact = simpson * r / (3.0 * steps as f64) / 0.16;
            let found = pair(&two, &two).correlation(r);
            assert!((found - exact).abs() < 1e-6, "{r}: {found} against {exact}");
        }
        let most = pair(&two, &Marginal::uniform()).correlation(1.0);
        assert!((most - 0.48_f64.sqrt()).abs() < 2e-4, "{most}");
        assert!(common_share(&values(3, 0), 0.5) < 1e-9, "a single value shares nothing");
    }

    fn pair(first: &Marginal, second: &Marginal) -> PairSeries {
        PairSeries::new(&HermiteSeries::new(first), &HermiteSeries::new(second))
    }

    /// Pearson (1907) for two uniform parts; r for two normal ones; for a normal one and a uniform
    /// one r √(3/π), as E[z Φ(z)] = 1/(2√π) and a uniform variable has the variance 1/12.
    #[test]
    fn pairs_follow_their_closed_forms() {
        let (uniform, normal) = (Marginal::uniform(), Marginal::normal(0.0, 8.0));
        for r in [-0.95, -0.5, -0.1, 0.3, 0.7, 0.95] {
            let closed = 6.0 / std::f64::consts::PI * f64::asin(0.5 * r);
            let found = pair(&uniform, &uniform).correlation(r);
            assert!((found - closed).abs() < 2e-5, "{r}: {found} against {closed}");
            assert!((pair(&normal, &normal).correlation(r) - r).abs() < 1e-9);
            let closed = r * (3.0 / std::f64::consts::PI).sqrt();
            let found = pair(&uniform, &normal).correlation(r);
            assert!((found - closed).abs() < 1e-4, "{r}: {found} against {closed}");
        }
    }

    /// e^(s z) and e^(t z) correlate by (e^(r s t) − 1)/√((e^(s²) − 1)(e^(t²) − 1)) (Johnson, Kotz,
    /// Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 14; from memory). The
    /// band ends eight standard deviations out.
    #[test]
    fn lognormal_pairs_follow_the_closed_form() {
        // In half widths: from −1 to 1 lie e^(−8 s) to e^(8 s).
        let marginal = |s: f64| {
            let half = 0.5 * ((8.0 * s).exp() - (-8.0 * s).exp());
            Marginal::lognormal(-1.0 - (-8.0 * s).exp() / half, -half.ln(), s)
        };
        for (s, t) in [(0.1, 0.1), (0.3, 0.1), (0.5, 0.4)] {
            for r in [-0.9_f64, -0.3, 0.4, 0.9] {
                let closed = ((r * s * t).exp() - 1.0)
                    / (((s * s).exp() - 1.0) * ((t * t).exp() - 1.0)).sqrt();
                let found = pair(&marginal(s), &marginal(t)).correlation(r);
                assert!((found - closed).abs() < 1e-6, "{s} {t} {r}: {found} against {closed}");
            }
        }
    }

    #[test]
    fn what_is_asked_for_is_found() {
        let series = pair(&Marginal::uniform(), &Marginal::beta(2.0, 6.0));
        for wanted in [-0.9, -0.2, 0.0, 0.6, 0.9] {
            let found = series.correlation(series.score(wanted, [-1.0, 1.0]));
            assert!((found - wanted).abs() < 1e-9, "{wanted}: {found}");
        }
    }
}
