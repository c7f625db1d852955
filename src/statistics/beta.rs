//! The regularised incomplete beta function, its inverse, and what follows from it.
//!
//! This is own code because the general library statrs 0.19.1 was measured and does not suffice:
//!
//! | | statrs, against this code |
//! |---|---|
//! | tail probability, 10³ / 10⁶ / 10⁹ trials | off by 1e-12 / 2e-9 / 3e-6, relative |
//! | quantile, the smaller of yield and complement | off by 8e-12 / 9e-9 / 3e-9 |
//! | time of one quantile | 1.0 / 1.7 / 1.1 µs, here 3 / 9 / 37 µs |
//! | Student quantile, 10⁵ / 10⁶ / 10⁷ degrees | off by 4e-6 / 6e-5 / 7e-2; here a series |
//!
//! Published values and closed forms hold this code in `tests/statistics/published`.
//! Its logarithms of gamma functions cancel, so that digits go with the number of trials. Ranks of
//! order statistics compare tail probabilities to 1e-12, and [`Yield::samples_to_decide`] asks for
//! up to 10⁹ trials. A study asks for some hundred quantiles, so that their time does not count.
//! Also, its elementary functions are those of the platform (see [`normal`]). Here the leading
//! factor comes from deviances, which do not cancel.
//!
//! [`Yield::samples_to_decide`]: super::Yield::samples_to_decide
//! [`normal`]: super::normal

use std::f64::consts::PI;

use super::normal;

/// A number in [0, 1] with its complement: near 1 the complement cannot be had by subtraction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Portion {
    value: f64,
    complement: f64,
}

impl Portion {
    pub(super) fn new(value: f64) -> Self {
        Self { value, complement: 1.0 - value }
    }

    pub(super) fn value(self) -> f64 {
        self.value
    }

    pub(super) fn flipped(self) -> Self {
        Self { value: self.complement, complement: self.value }
    }
}

/// Iₓ(a, b) for a, b > 0: the beta distribution's cumulative probability.
///
/// Continued fraction of DLMF 8.17.22; the symmetry 8.17.4 keeps x below the mean, where the
/// fraction converges within some √max(a, b) terms.
pub(super) fn regularised(a: f64, b: f64, x: Portion) -> f64 {
    if x.value <= 0.0 {
        0.0
    } else if x.complement <= 0.0 {
        1.0
    } else if x.value * (a + b + 2.0) > a + 1.0 {
        1.0 - power_term(b, a, x.flipped()) / b * fraction(b, a, x.complement)
    } else {
        power_term(a, b, x) / a * fraction(a, b, x.value)
    }
}

/// xᵃ (1 − x)ᵇ / B(a, b), by deviances.
///
/// With Γ(z) = √(2π/z) (z/e)ᶻ exp δ(z) the powers join the gamma functions' leading parts; C. Loader,
/// "Fast and accurate computation of binomial probabilities" (2000), does so for the binomial.
fn power_term(a: f64, b: f64, x: Portion) -> f64 {
    let n = a + b;
    let remainder = stirling_remainder(n) - stirling_remainder(a) - stirling_remainder(b);
    let distance = deviance(a, n * x.value) + deviance(b, n * x.complement);
    (a / n * b / (2.0 * PI)).sqrt() * libm::exp(remainder - distance)
}

/// x ln(x/m) + m − x, without cancellation where x is near m (Loader 2000, section 3).
fn deviance(x: f64, m: f64) -> f64 {
    let v = (x - m) / (x + m);
    if v.abs() > 0.1 {
        return x * libm::log(x / m) + m - x;
    }
    let mut sum = (x - m) * v;
    let mut power = 2.0 * x * v;
    let mut divisor = 1.0;
    loop {
        power *= v * v;
        divisor += 2.0;
        let next = sum + power / divisor;
        if next.to_bits() == sum.to_bits() {
            return sum;
        }
        sum = next;
    }
}

/// δ(z) of ln Γ(z) = (z − ½) ln z − z + ½ ln 2π + δ(z), z > 0.
///
/// From 16 on the series of DLMF 5.11.1, cut where it falls below 10⁻¹⁵. Below 16, Γ(z + 1) = z
/// Γ(z) makes δ(z) = δ(z + 1) + (z + ½) ln(1 + 1/z) − 1.
fn stirling_remainder(z: f64) -> f64 {
    let (mut z, mut sum) = (z, 0.0);
    while z < 16.0 {
        sum += (z + 0.5) * libm::log1p(1.0 / z) - 1.0;
        z += 1.0;
    }
    let w = 1.0 / (z * z);
    let tail = 1.0 / 1680.0 - w / 1188.0;
    sum + (1.0 / 12.0 - w * (1.0 / 360.0 - w * (1.0 / 1260.0 - w * tail))) / z
}

/// The continued fraction of DLMF 8.17.22 by the modified method of Lentz.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-290;
    let away_from_zero = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut product = d;
    let mut m = 0.0;
    loop {
        m += 1.0;
        let a_2m = a + 2.0 * m;
        let even = m * (b - m) * x / ((a_2m - 1.0) * a_2m);
        let odd = -(a + m) * (a + b + m) * x / (a_2m * (a_2m + 1.0));
        let mut step = 1.0;
        for coefficient in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + coefficient * d);
            c = away_from_zero(1.0 + coefficient / c);
            step *= d * c;
        }
        product *= step;
        // The dozen roundings of a step may keep it a few ε from 1 for ever.
        if (step - 1.0).abs() <= 8.0 * f64::EPSILON || step.is_nan() {
            return product;
        }
    }
}

/// The x with Iₓ(a, b) = `tail`, for a, b ≥ 1 and 0 < `tail` < 1.
///
/// Newton's method on ln I, which rises and is concave. A step lands at the root or below it, and
/// from below the steps rise to the root. A step out of the bracket (I may underflow) halves it.
pub(super) fn quantile(a: f64, b: f64, tail: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    let mut x = a / (a + b);
    for _ in 0..200 {
        let portion = Portion::new(x);
        let below = regularised(a, b, portion);
        let step = libm::log(below / tail) * below / density(a, b, x);
        if step.abs() <= 2.0 * f64::EPSILON * x {
            break;
        }
        *(if below < tail { &mut low } else { &mut high }) = x;
        let newton = x - step;
        x = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
    }
    x
}

/// The density at x of the beta distribution, for 0 < x < 1.
pub(super) fn density(a: f64, b: f64, x: f64) -> f64 {
    let portion = Portion::new(x);
    power_term(a, b, portion) / (portion.value * portion.complement)
}

/// P(K ≥ k) of K successes in n trials of probability p: Iₚ(k, n − k + 1) (DLMF 8.17.5).
pub(super) fn binomial_at_least(k: u64, n: u64, p: Portion) -> f64 {
    if k == 0 {
        1.0
    } else if k > n {
        0.0
    } else {
        regularised(k as f64, (n - k) as f64 + 1.0, p)
    }
}

/// P(K ≤ k) of K successes in n trials of probability p.
pub(super) fn binomial_at_most(k: u64, n: u64, p: Portion) -> f64 {
    if k >= n { 1.0 } else { regularised((n - k) as f64, k as f64 + 1.0, p.flipped()) }
}

/// Degrees of freedom from which the series of Student's quantile is exact to rounding: the first
/// term left out is below z⁹/(1000 ν⁴).
const SERIES_FROM: f64 = 1e5;

/// The t that Student's variable of `freedom` degrees exceeds in magnitude with probability
/// `outside`.
///
/// The series of R. A. Fisher and E. A. Cornish in 1/ν serves many degrees (M. Abramowitz and
/// I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.7.5), where the incomplete beta
/// function loses digits (3e-12 at 10⁶ degrees). Below, I of ν/(ν + t²) at (ν/2, 1/2) equals
/// `outside` (DLMF 8.17, Student 1908).
pub(super) fn student_quantile(freedom: f64, outside: f64) -> f64 {
    if freedom >= SERIES_FROM {
        return student_series(freedom, -normal::quantile(0.5 * outside));
    }
    let beyond = |t: f64| student_outside(freedom, t);
    let mut high = 1.0;
    while beyond(high) > outside && high < 1e150 {
        high *= 2.0;
    }
    let mut low = if high > 1.0 { 0.5 * high } else { 0.0 };
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if beyond(middle) > outside {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Probability with which Student's variable of `freedom` degrees exceeds t in magnitude.
pub(super) fn student_outside(freedom: f64, t: f64) -> f64 {
    let total = freedom + t * t;
    let x = Portion { value: freedom / total, complement: t * t / total };
    regularised(0.5 * freedom, 0.5, x)
}

/// Student's quantile of many degrees of freedom at the normal quantile `z`.
fn student_series(freedom: f64, z: f64) -> f64 {
    let square = z * z;
    let first = (square + 1.0) / 4.0;
    let second = ((5.0 * square + 16.0) * square + 3.0) / 96.0;
    let third = (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0;
    z * (1.0 + (first + (second + third / freedom) / freedom) / freedom)
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{ContinuousCDF, StudentsT};
    use statrs::function::beta::beta_reg;

    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() < relative, "{value:e} against {expected:e}");
    }

    #[test]
    fn closed_forms() {
        for x in [1e-9, 0.2, 0.5, 0.9, 0.999] {
            near(regularised(7.0, 1.0, Portion::new(x)), x.powi(7), 1e-13);
            near(regularised(1.0, 7.0, Portion::new(x)), -(7.0 * (-x).ln_1p()).exp_m1(), 1e-13);
            let arcsine = 2.0 / PI * x.sqrt().asin(); // DLMF 8.17, the arcsine distribution
            near(regularised(0.5, 0.5, Portion::new(x)), arcsine, 1e-13);
        }
        assert!(regularised(3.0, 4.0, Portion::new(0.0)).abs() < f64::MIN_POSITIVE);
        near(regularised(3.0, 4.0, Portion::new(1.0)), 1.0, 1e-15);
    }

    /// Γ(½) = √π and Γ(n) = (n − 1)! give δ in closed form; the recurrence ties the series to itself.
    #[test]
    fn stirling_remainders() {
        let log_root = 0.5 * (2.0 * PI).ln();
        assert!((stirling_remainder(0.5) - 0.5 * (1.0 - 2.0_f64.ln())).abs() < 4e-15);
        assert!((stirling_remainder(1.0) - (1.0 - log_root)).abs() < 4e-15);
        let of_ten = 362_880.0_f64.ln() - 9.5 * 10.0_f64.ln() + 10.0 - log_root;
        assert!((stirling_remainder(10.0) - of_ten).abs() < 1e-14);
        for z in [9.5, 14.0, 15.5, 16.0, 17.0, 25.0, 60.0_f64] {
            let step = stirling_remainder(z) - stirling_remainder(z + 1.0);
            let expected = (z + 0.5) * (1.0 / z).ln_1p() - 1.0;
            assert!((step - expected).abs() < 1e-15, "{z}: {step:e} {expected:e}");
        }
    }

    #[test]
    fn binomial_tails_agree_with_the_sum_of_terms() {
        let (n, p) = (30_u64, 0.37_f64);
        let term = |k: u64| {
            let choose = (0..k).fold(1.0, |c, i| c * (n - i) as f64 / (i + 1) as f64);
            choose * p.powf(k as f64) * (1.0 - p).powf((n - k) as f64)
        };
        for k in 0..=n {
            let at_most: f64 = (0..=k).map(term).sum();
            let at_least: f64 = (k..=n).map(term).sum();
            near(binomial_at_most(k, n, Portion::new(p)), at_most, 1e-12);
            near(binomial_at_least(k, n, Portion::new(p)), at_least, 1e-12);
        }
        assert!(binomial_at_least(n + 1, n, Portion::new(p)).abs() < f64::MIN_POSITIVE);
    }

    /// A general-purpose library's function, where it is good: few trials.
    #[test]
    fn agrees_with_statrs() {
        for a in [0.5, 1.0, 3.0, 17.5, 80.0] {
            for b in [0.5, 1.0, 4.0, 15.9, 16.1, 60.0] {
                for x in [0.01, 0.3, 0.5, 0.77, 0.98] {
                    let expected = beta_reg(a, b, x);
                    let value = regularised(a, b, Portion::new(x));
                    assert!((value - expected).abs() < 1e-12, "{a} {b} {x}: {value} {expected}");
                }
            }
        }
    }

    /// The library's Student distribution, where it holds: up to some 10⁴ degrees of freedom.
    #[test]
    fn student_quantiles_agree_with_statrs() {
        for freedom in [2.0, 5.0, 30.0, 400.0, 1e4] {
            let library = StudentsT::new(0.0, 1.0, freedom).unwrap();
            for outside in [0.5, 0.1, 0.05, 0.01, 1e-4] {
                let expected = library.inverse_cdf(1.0 - 0.5 * outside);
                near(student_quantile(freedom, outside), expected, 1e-10);
            }
        }
    }

    /// Both ways to Student's quantile meet where one takes over from the other; the incomplete
    /// beta function has some twelve digits there. With more degrees it becomes the normal one,
    /// from above.
    #[test]
    fn the_series_of_student_continues_the_incomplete_beta_function() {
        for outside in [0.5, 0.05, 0.01, 1e-6] {
            let below = student_quantile(SERIES_FROM * (1.0 - 1e-12), outside);
            near(student_quantile(SERIES_FROM, outside), below, 1e-11);
            let normal = -normal::quantile(0.5 * outside);
            let excess = student_quantile(1e9, outside) - normal;
            near(excess, normal * (normal * normal + 1.0) / 4e9, 1e-5);
        }
    }

    #[test]
    fn the_inverse_inverts() {
        for a in [1.0, 2.0, 30.0, 990.0, 1e6] {
            for b in [1.0, 3.0, 11.0, 5e3, 2e6] {
                for tail in [1e-12, 0.005, 0.025, 0.5, 0.9] {
                    let x = quantile(a, b, tail);
                    // One rounding of x moves I by about ε times its slope on a log-log scale.
                    let slope = (a + b).sqrt() * 10.0 + (a * b).sqrt().min(a);
                    let slack = 1e-12 + 4.0 * f64::EPSILON * slope / (1.0 - x).max(1e-3);
                    near(regularised(a, b, Portion::new(x)), tail, slack);
                }
            }
        }
    }
}
