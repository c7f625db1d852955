//! How far values lie from a distribution: Anderson-Darling and Kolmogorov-Smirnov.
//!
//! The probabilities here are those of a distribution that was known before the values were. Where
//! its parameters were fitted to the same values, both distances come out smaller, and their
//! probabilities must be simulated (`study::shapes`).

/// No value counts as less likely than this, on either side: one that lies at the end of a fitted
/// band would put the whole distance at infinity.
const LEAST: f64 = 1e-12;

/// Most values for which the probability of a Kolmogorov-Smirnov distance is exact.
const MOST_EXACT: usize = 500;

/// The distances of a number of values from a distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitDistances {
    /// Number of values.
    pub count: usize,
    /// Anderson-Darling: A², the squared distance of the distribution functions, which weighs the
    /// tails.
    pub anderson_darling: f64,
    /// Kolmogorov-Smirnov: D, the largest distance of the distribution functions.
    pub kolmogorov_smirnov: f64,
}

/// The probabilities of such distances, or of larger ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitProbabilities {
    /// Of the Anderson-Darling distance.
    pub anderson_darling: f64,
    /// Of the Kolmogorov-Smirnov distance.
    pub kolmogorov_smirnov: f64,
}

impl FitDistances {
    /// Of values whose probabilities in the distribution are given, rising; none without values.
    ///
    /// M. A. Stephens, "EDF statistics for goodness of fit and some comparisons", J. Am. Stat. Assoc.
    /// 69 (1974) 730–737: D = max(i/n − z, z − (i−1)/n), and
    /// A² = −n − Σ (2i−1) (ln z(i) + ln(1 − z(n+1−i)))/n.
    pub fn new(probabilities: &[f64]) -> Option<Self> {
        let n = probabilities.len() as f64;
        let (mut sum, mut largest) = (0.0, 0.0_f64);
        for (i, (low, high)) in probabilities.iter().zip(probabilities.iter().rev()).enumerate() {
            let below = i as f64;
            largest = largest.max((below + 1.0) / n - low).max(low - below / n);
            let tails = libm::log(low.max(LEAST)) + libm::log((1.0 - high).max(LEAST));
            sum += (2.0 * below + 1.0) * tails;
        }
        (!probabilities.is_empty()).then_some(Self {
            count: probabilities.len(),
            anderson_darling: -n - sum / n,
            kolmogorov_smirnov: largest,
        })
    }

    /// The Kolmogorov-Smirnov distance in a form whose distribution hardly depends on the number of
    /// values: D (√n + 0.12 + 0.11/√n) (Stephens 1974, table 1A).
    pub fn kolmogorov_scaled(&self) -> f64 {
        let root = (self.count as f64).sqrt();
        self.kolmogorov_smirnov * (root + 0.12 + 0.11 / root)
    }

    /// The probabilities of distances as large or larger, of values from a distribution that was
    /// known before.
    pub fn probabilities_when_known(&self) -> FitProbabilities {
        FitProbabilities {
            anderson_darling: anderson_darling_beyond(self.count, self.anderson_darling),
            kolmogorov_smirnov: kolmogorov_beyond(self),
        }
    }
}

/// A polynomial, lowest order first.
fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// P(A² ≥ `distance`) for n values: the limit for many values with its correction for n.
///
/// G. Marsaglia and J. Marsaglia, "Evaluating the Anderson-Darling distribution", J. Stat. Softw. 9
/// (2004) no. 2: functions `adinf`, off by 2e-6 at most, and `errfix`.
fn anderson_darling_beyond(n: usize, distance: f64) -> f64 {
    let below = anderson_darling_limit(distance);
    (1.0 - below - anderson_darling_correction(n as f64, below)).clamp(0.0, 1.0)
}

fn anderson_darling_limit(z: f64) -> f64 {
    const SMALL: [f64; 6] =
        [2.000_12, 0.247_105, -0.064_982_1, 0.034_796_2, -0.011_672, 0.001_686_91];
    const LARGE: [f64; 6] = [1.0776, -2.306_95, 0.434_24, -0.082_433, 0.008_056, -0.000_314_6];
    if z <= 0.0 {
        0.0
    } else if z < 2.0 {
        libm::exp(-1.233_714_1 / z) / z.sqrt() * polynomial(&SMALL, z)
    } else {
        libm::exp(-libm::exp(polynomial(&LARGE, z)))
    }
}

fn anderson_darling_correction(n: f64, x: f64) -> f64 {
    const UPPER: [f64; 6] = [-130.2137, 745.2337, -1705.091, 1950.646, -1116.360, 255.7844];
    const MIDDLE: [f64; 6] = [-0.000_226_33, 6.540_34, -14.6538, 14.458, -8.259, 1.918_64];
    if x > 0.8 {
        return polynomial(&UPPER, x) / n;
    }
    let turn = 0.012_65 + 0.1757 / n;
    if x < turn {
        let t = x / turn;
        let shape = t.sqrt() * (1.0 - t) * (49.0 * t - 102.0);
        return shape * (0.0037 / (n * n) + 0.000_78 / n + 0.000_06) / n;
    }
    polynomial(&MIDDLE, (x - turn) / (0.8 - turn)) * (0.042_13 + 0.013_65 / n) / n
}

/// P(D ≥ distance): exact for few values, else Kolmogorov's limit with Stephens' correction, off by
/// 0.001 where it matters and by 0.006 at most.
fn kolmogorov_beyond(distances: &FitDistances) -> f64 {
    let (n, d) = (distances.count as f64, distances.kolmogorov_smirnov);
    let size = n * d * d;
    if size > 7.24 || (size > 3.76 && n > 99.0) {
        // Seven digits in the upper tail, Marsaglia, Tsang and Wang 2003, section 4.
        return 2.0 * libm::exp(-(2.000_071 + 0.331 / n.sqrt() + 1.409 / n) * size);
    }
    let beyond = if distances.count <= MOST_EXACT {
        1.0 - kolmogorov_exact(distances.count, d)
    } else {
        kolmogorov_limit(distances.kolmogorov_scaled())
    };
    beyond.clamp(0.0, 1.0)
}

/// Kolmogorov 1933: 2 Σ (−1)^(k−1) exp(−2 k² x²).
fn kolmogorov_limit(x: f64) -> f64 {
    if x < 0.2 {
        return 1.0;
    }
    let term = |k: f64| libm::exp(-2.0 * k * k * x * x);
    2.0 * (1..=100)
        .map(f64::from)
        .map(|k| if k % 2.0 > 0.5 { term(k) } else { -term(k) })
        .sum::<f64>()
}

/// P(D < d) of n values, by the n-th power of a matrix.
///
/// G. Marsaglia, W. W. Tsang and J. Wang, "Evaluating Kolmogorov's distribution", J. Stat. Softw. 8
/// (2003) no. 18: with k = ⌈n d⌉ and h = k − n d, the middle element of Hⁿ times n!/nⁿ.
fn kolmogorov_exact(n: usize, d: f64) -> f64 {
    let reach = n as f64 * d;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below n + 1")]
    let k = reach as usize + 1;
    let step = Transitions::new(2 * k - 1, k as f64 - reach);
    let power = step.power(n);
    let middle = power.at(k - 1, k - 1);
    let scaled = (1..=n).fold(middle, |value, i| value * i as f64 / n as f64 * power.per_step);
    if scaled.is_finite() { scaled } else { 1.0 }
}

/// A square matrix, which stands for itself times a factor to the power of the steps that it spans.
#[derive(Debug, Clone)]
struct Transitions {
    size: usize,
    cells: Vec<f64>,
    /// The factor of one step, so that no cell leaves the range of numbers.
    per_step: f64,
}

impl Transitions {
    /// The matrix H of one step: 1/(i − j + 1)! below the upper side diagonal, with powers of h in the
    /// first column and the last row.
    fn new(size: usize, h: f64) -> Self {
        let mut matrix =
            Self { size, cells: vec![0.0; size * size], per_step: std::f64::consts::E };
        let power = |n: usize| (0..n).fold(1.0, |product, _| product * h);
        for i in 0..size {
            for j in 0..=(i + 1).min(size - 1) {
                let mut cell = 1.0;
                if j == 0 {
                    cell -= power(i + 1);
                }
                if i == size - 1 {
                    cell -= power(size - j);
                }
                if i == size - 1 && j == 0 && h > 0.5 {
                    cell += (0..size).fold(1.0, |product, _| product * (2.0 * h - 1.0));
                }
                let factorial: f64 = (1..=(i + 1 - j)).map(|n| n as f64).product();
                // Divided by e a step: Hⁿ grows like nⁿ/n!, which is about eⁿ.
                matrix.cells[i * size + j] = cell / factorial / std::f64::consts::E;
            }
        }
        matrix
    }

    fn at(&self, i: usize, j: usize) -> f64 {
        self.cells[i * self.size + j]
    }

    fn times(&self, other: &Self) -> Self {
        let mut cells = vec![0.0; self.size * self.size];
        for (row, left) in cells.chunks_mut(self.size).zip(self.cells.chunks(self.size)) {
            for (factor, right) in left.iter().zip(other.cells.chunks(self.size)) {
                row.iter_mut().zip(right).for_each(|(cell, value)| *cell += factor * value);
            }
        }
        Self { cells, ..*self }
    }

    fn power(&self, n: usize) -> Self {
        if n <= 1 {
            return self.clone();
        }
        let half = self.power(n / 2);
        let square = half.times(&half);
        if n.is_multiple_of(2) { square } else { square.times(self) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn distances(count: usize, kolmogorov_smirnov: f64) -> FitDistances {
        FitDistances { count, anderson_darling: 1.0, kolmogorov_smirnov }
    }

    /// Three values, by hand: D from the steps, A² from its sum.
    #[test]
    fn distances_by_hand() {
        let found = FitDistances::new(&[0.1, 0.4, 0.9]).unwrap();
        assert!((found.kolmogorov_smirnov - (2.0 / 3.0 - 0.4)).abs() < 1e-15);
        let sum: f64 = [(1.0, 0.1_f64, 0.9_f64), (3.0, 0.4, 0.4), (5.0, 0.9, 0.1)]
            .map(|(weight, low, high)| weight * (low.ln() + (1.0 - high).ln()))
            .iter()
            .sum();
        assert!((found.anderson_darling - (-3.0 - sum / 3.0)).abs() < 1e-14);
        assert_eq!(FitDistances::new(&[]), None);
        assert!(FitDistances::new(&[0.0, 1.0]).unwrap().anderson_darling.is_finite());
    }

    /// One value: D = max(z, 1 − z), so P(D < d) = 2 d − 1. Two values: 2 (2d − ½)² up to ½, then
    /// −2 (1 − d)² + 1 (both from the areas of a square).
    #[test]
    fn probabilities_of_one_and_two_values_have_closed_forms() {
        for d in [0.55, 0.7, 0.99] {
            assert!((kolmogorov_exact(1, d) - (2.0 * d - 1.0)).abs() < 1e-14, "{d}");
            let two = 1.0 - 2.0 * (1.0 - d) * (1.0 - d);
            assert!((kolmogorov_exact(2, d) - two).abs() < 1e-14, "{d}");
        }
        for d in [0.3, 0.4, 0.5_f64] {
            let two = 2.0 * (2.0 * d - 0.5) * (2.0 * d - 0.5);
            assert!((kolmogorov_exact(2, d) - two).abs() < 1e-14, "{d}");
        }
    }

    /// Where one way to compute it takes over from another, both agree.
    #[test]
    fn the_ways_to_a_probability_meet() {
        for d in [0.03, 0.04, 0.06, 0.08] {
            let exact = 1.0 - kolmogorov_exact(MOST_EXACT, d);
            let limit = kolmogorov_limit(distances(MOST_EXACT, d).kolmogorov_scaled());
            let slack = if exact < 0.2 { 1e-3 } else { 6e-3 };
            assert!((exact - limit).abs() < slack, "{d}: {exact} {limit}");
        }
        for (n, size) in [(20, 7.24_f64), (100, 3.76), (400, 3.76)] {
            let d = (size / f64::from(n)).sqrt();
            let exact = 1.0 - kolmogorov_exact(usize::try_from(n).unwrap(), d);
            let tail = kolmogorov_beyond(&distances(usize::try_from(n).unwrap(), d * 1.000_001));
            assert!((exact - tail).abs() < 2e-6, "{n}: {exact:e} {tail:e}");
        }
        assert!((kolmogorov_beyond(&distances(50, 0.01)) - 1.0).abs() < 1e-12);
        assert!(kolmogorov_beyond(&distances(50, 1.0)) < 1e-40);
        assert!(anderson_darling_beyond(10, 0.0) > 0.999_999);
        assert!(anderson_darling_beyond(10, 1e4) < 1e-4, "as far as the correction goes");
    }
}
