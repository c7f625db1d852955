//! The difference of two yields, or of two costs that follow from them, on the same samples.
//!
//! Two sets of parts that are tried on the same draws mostly pass and fail together. Only the
//! samples on which they disagree tell them apart. The interval of the difference is therefore much
//! narrower than that of either yield.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Confidence, Interval, StatisticsError, beta, normal};

/// How often two sets of parts pass and fail on the same samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub struct PairedCounts {
    /// Samples that pass with both.
    pub both: u64,
    /// Samples that pass with the first alone.
    pub first: u64,
    /// Samples that pass with the second alone.
    pub second: u64,
    /// Samples that pass with neither.
    pub neither: u64,
}

/// A difference, first less second, with its interval.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct Difference {
    /// The difference seen.
    pub estimate: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end of the interval.
    pub upper: f64,
    /// Confidence level of the interval.
    pub confidence: Confidence,
}

impl Difference {
    /// Whether the interval leaves the sign open.
    pub fn is_open(&self) -> bool {
        self.lower <= 0.0 && self.upper >= 0.0
    }
}

impl PairedCounts {
    /// Number of samples.
    pub fn trials(&self) -> u64 {
        self.both + self.first + self.second + self.neither
    }

    /// Correlation φ of passing, with Newcombe's correction for continuity, which draws a positive
    /// one towards 0; 0 where one of the two passes always or never.
    fn correlation(&self) -> f64 {
        let [both, first, second, neither] =
            [self.both, self.first, self.second, self.neither].map(|n| n as f64);
        let margins = (both + first) * (second + neither) * (both + second) * (first + neither);
        let product = both * neither - first * second;
        let half = 0.5 * self.trials() as f64;
        let corrected = if product > 0.0 { (product - half).max(0.0) } else { product };
        if margins > 0.0 { corrected / margins.sqrt() } else { 0.0 }
    }

    /// Difference of the two yields, first less second.
    ///
    /// R. G. Newcombe, "Improved confidence intervals for the difference between binomial
    /// proportions based on paired data", Statistics in Medicine 17 (1998) 2635–2650, method 10:
    /// with θ = p₁ − p₂ and the Wilson interval (l, u) of each yield,
    ///
    /// ```text
    /// lower = θ − √((p₁ − l₁)² − 2φ (p₁ − l₁)(u₂ − p₂) + (u₂ − p₂)²)
    /// upper = θ + √((u₁ − p₁)² − 2φ (u₁ − p₁)(p₂ − l₂) + (p₂ − l₂)²)
    /// ```
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`].
    pub fn difference(&self, confidence: Confidence) -> Result<Difference, StatisticsError> {
        self.difference_of(|y| y, |y| y, confidence)
    }

    /// The McNemar p-value of equal yields: the probability, were the yields equal, of a split as
    /// uneven as the one seen, or more so, among the samples that only one passes.
    ///
    /// By the exact binomial distribution, two-sided, 1 at most (Psychometrika 12 (1947) 153–157):
    /// each of these samples goes either way with a probability of a half.
    pub fn p_value(&self) -> f64 {
        // Q. McNemar, "Note on the sampling error of the difference between correlated proportions".
        let (most, all) = (self.first.max(self.second), self.first + self.second);
        (2.0 * beta::binomial_at_least(most, all, beta::Portion::new(0.5))).min(1.0)
    }

    /// Difference of two numbers that follow from the yields, both rising or both falling with
    /// them; `None` where one of them has no finite bound.
    ///
    /// The same square-and-add rule on the images of the Wilson intervals, as G. Y. Zou and
    /// A. Donner give it for any two estimates (Statistics in Medicine 27 (2008) 1693–1702, from
    /// memory): both numbers are correlated as the yields are.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`].
    pub fn cost_difference(
        &self,
        first: impl Fn(f64) -> f64,
        second: impl Fn(f64) -> f64,
        confidence: Confidence,
    ) -> Result<Option<Difference>, StatisticsError> {
        let difference = self.difference_of(first, second, confidence)?;
        let Difference { estimate, lower, upper, .. } = difference;
        Ok([estimate, lower, upper].iter().all(|x| x.is_finite()).then_some(difference))
    }

    fn difference_of(
        &self,
        first: impl Fn(f64) -> f64,
        second: impl Fn(f64) -> f64,
        confidence: Confidence,
    ) -> Result<Difference, StatisticsError> {
        let trials = self.trials();
        let one = Bounded::new(self.both + self.first, trials, confidence, first)?;
        let other = Bounded::new(self.both + self.second, trials, confidence, second)?;
        let correlation = self.correlation();
        let apart = |a: f64, b: f64| {
            let square = a * a - 2.0 * correlation * a * b + b * b;
            square.max(0.0).sqrt()
        };
        let estimate = one.estimate - other.estimate;
        Ok(Difference {
            estimate,
            lower: estimate
                - apart(one.estimate - one.ends.lower, other.ends.upper - other.estimate),
            upper: estimate
                + apart(one.ends.upper - one.estimate, other.estimate - other.ends.lower),
            confidence,
        })
    }
}

/// A number that follows from a yield, with the images of the yield's Wilson bounds.
#[derive(Debug)]
struct Bounded {
    estimate: f64,
    ends: Interval,
}

impl Bounded {
    fn new(
        successes: u64,
        trials: u64,
        confidence: Confidence,
        image: impl Fn(f64) -> f64,
    ) -> Result<Self, StatisticsError> {
        let Interval { lower, upper } = wilson(successes, trials, confidence)?;
        let (a, b) = (image(lower), image(upper));
        let ends = Interval { lower: a.min(b), upper: a.max(b) };
        Ok(Self { estimate: image(successes as f64 / trials as f64), ends })
    }
}

/// Wilson's score interval of a yield.
///
/// E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209–212:
/// (2np + z² ± z √(z² + 4np(1 − p))) / (2(n + z²)).
///
/// # Errors
///
/// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
pub fn wilson(
    successes: u64,
    trials: u64,
    confidence: Confidence,
) -> Result<Interval, StatisticsError> {
    if trials == 0 {
        return Err(StatisticsError::NoTrials);
    }
    if successes > trials {
        return Err(StatisticsError::Successes { successes, trials });
    }
    let z = -normal::quantile(confidence.two_sided_tail());
    let (k, n) = (successes as f64, trials as f64);
    let middle = 2.0 * k + z * z;
    let reach = z * (z * z + 4.0 * k * (1.0 - k / n)).sqrt();
    let end = |x: f64| (x / (2.0 * (n + z * z))).clamp(0.0, 1.0);
    Ok(Interval {
        lower: if successes == 0 { 0.0 } else { end(middle - reach) },
        upper: if successes == trials { 1.0 } else { end(middle + reach) },
    })
}

#[cfg(test)]
impl PairedCounts {
    /// A draw of `n` pairs with these probabilities of both, the first, the second alone, and
    /// neither.
    pub(crate) fn drawn(rng: &mut rand::rngs::ChaCha8Rng, n: u64, cells: [f64; 4]) -> Self {
        let mut all = [0; 4];
        for _ in 0..n {
            let mut left = (rand::Rng::next_u64(rng) >> 11) as f64 / 9_007_199_254_740_992.0;
            let cell = cells.iter().position(|p| {
                left -= p;
                left < 0.0
            });
            all[cell.unwrap_or(3)] += 1;
        }
        Self { both: all[0], first: all[1], second: all[2], neither: all[3] }
    }
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};

    use super::*;

    fn level(level: f64) -> Confidence {
        Confidence::new(level).unwrap()
    }

    fn counts([both, first, second, neither]: [u64; 4]) -> PairedCounts {
        PairedCounts { both, first, second, neither }
    }

    /// Table I of R. G. Newcombe, Statistics in Medicine 17 (1998) 857 (from memory, recomputed
    /// with a general-purpose numerical library).
    #[test]
    fn wilson_intervals_as_published() {
        for (k, n, lower, upper) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let interval = wilson(k, n, level(0.95)).unwrap();
            assert!((interval.lower - lower).abs() < 5e-5, "{k}/{n}: {interval:?}");
            assert!((interval.upper - upper).abs() < 5e-5, "{k}/{n}: {interval:?}");
        }
        assert_eq!(wilson(0, 0, level(0.95)), Err(StatisticsError::NoTrials));
        assert!(wilson(3, 2, level(0.95)).is_err());
    }

    /// Two worked examples, printed values from memory: D. G. Altman et al., Statistics with
    /// Confidence, 2nd edition, 2000, table 6.2; M. W. Fagerland, S. Lydersen and P. Laake,
    /// Statistics in Medicine 33 (2014) 2850, airway reactivity before and after.
    #[test]
    fn paired_differences_as_published() {
        for (cells, estimate, lower, upper, digit) in [
            ([14, 5, 0, 22], 0.12, 0.01, 0.23, 0.005),
            ([1, 1, 7, 12], -0.286, -0.507, -0.026, 5e-4),
        ] {
            let difference = counts(cells).difference(level(0.95)).unwrap();
            let near = |a: f64, b: f64| (a - b).abs() <= digit;
            assert!(near(difference.estimate, estimate), "{difference:?}");
            assert!(near(difference.lower, lower), "{difference:?}");
            assert!(near(difference.upper, upper), "{difference:?}");
        }
    }

    /// M. W. Fagerland, S. Lydersen and P. Laake, BMC Medical Research Methodology 13 (2013) 91:
    /// airway reactivity, 1 against 7, exact conditional P = 0.070 (from memory; by hand 18/256).
    /// Five against none is 2/2⁵, by hand.
    #[test]
    fn the_exact_test_of_two_yields_as_published() {
        for ([first, second], p) in [
            ([1, 7], 18.0 / 256.0),
            ([5, 0], 1.0 / 16.0),
            ([0, 6], 1.0 / 32.0),
            ([3, 3], 1.0),
            ([0, 0], 1.0),
        ] {
            let found = counts([900, first, second, 3]).p_value();
            assert!((found - p).abs() < 1e-12, "{first} {second}: {found}");
        }
    }

    #[test]
    fn swapping_both_turns_the_sign() {
        let (a, b) = (counts([900, 30, 12, 58]), counts([900, 12, 30, 58]));
        let (a, b) = (a.difference(level(0.9)).unwrap(), b.difference(level(0.9)).unwrap());
        assert!((a.estimate + b.estimate).abs() < 1e-15);
        assert!((a.lower + b.upper).abs() < 1e-15 && (a.upper + b.lower).abs() < 1e-15);
    }

    /// A cost that is so many times the failures has so many times the difference.
    #[test]
    fn a_straight_cost_scales_the_difference() {
        let counts = counts([900, 30, 12, 58]);
        let plain = counts.difference(level(0.95)).unwrap();
        let cost = |y: f64| 7.0 - 50.0 * y;
        let scaled = counts.cost_difference(cost, cost, level(0.95)).unwrap().unwrap();
        assert!((scaled.estimate + 50.0 * plain.estimate).abs() < 1e-10);
        assert!((scaled.lower + 50.0 * plain.upper).abs() < 1e-10, "{scaled:?} {plain:?}");
        assert!((scaled.upper + 50.0 * plain.lower).abs() < 1e-10);
        let nothing = PairedCounts { both: 0, first: 0, second: 3, neither: 2 };
        let open = nothing.cost_difference(|y| 1.0 / y, |y| 1.0 / y, level(0.95)).unwrap();
        assert_eq!(open, None, "no converter is good: no finite cost");
    }

    /// Truth known, many repetitions: the interval holds the true difference of yields and of
    /// costs about as often as it says. One that took the samples as unpaired would be far too wide,
    /// as the last lines show.
    #[test]
    fn covers_about_as_often_as_it_says() {
        let cells = [0.93, 0.03, 0.015, 0.025];
        let (p1, p2) = (cells[0] + cells[1], cells[0] + cells[2]);
        let cost = |price: f64| move |y: f64| (price + 20.0 * (1.0 - y)) / y;
        let (first, second) = (cost(10.0), cost(9.8));
        let (repetitions, samples) = (2000, 1500);
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let (mut yields, mut costs) = (0, 0);
        for _ in 0..repetitions {
            let counts = PairedCounts::drawn(&mut rng, samples, cells);
            let of_yields = counts.difference(level(0.9)).unwrap();
            let of_costs = counts.cost_difference(first, second, level(0.9)).unwrap().unwrap();
            let holds = |d: &Difference, truth: f64| (d.lower..=d.upper).contains(&truth);
            yields += u32::from(holds(&of_yields, p1 - p2));
            costs += u32::from(holds(&of_costs, first(p1) - second(p2)));
        }
        // Four standard errors of a count of 2000 at 90 %: 0.027.
        for held in [yields, costs] {
            let share = f64::from(held) / f64::from(repetitions);
            assert!((share - 0.9).abs() < 0.027, "{share}");
        }
        let counts = counts([1395, 45, 23, 37]);
        let paired = counts.difference(level(0.9)).unwrap();
        let alone = |k| wilson(k, 1500, level(0.9)).unwrap();
        let unpaired: f64 =
            [1440, 1418].map(|k| alone(k).upper - alone(k).lower).iter().map(|w| w * w).sum();
        assert!(paired.upper - paired.lower < 0.9 * unpaired.sqrt());
    }

    /// Brute force: resampled pairs spread as the interval says.
    #[test]
    fn agrees_with_resampling() {
        let seen = [4650_u64, 150, 75, 125];
        let n: u64 = seen.iter().sum();
        let difference = counts(seen).difference(level(0.95)).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let cells = seen.map(|k| k as f64 / n as f64);
        let mut all: Vec<f64> = (0..2000)
            .map(|_| {
                let c = PairedCounts::drawn(&mut rng, n, cells);
                (c.first as f64 - c.second as f64) / n as f64
            })
            .collect();
        all.sort_by(f64::total_cmp);
        // A 2.5 % quantile of 2000 has a standard error of 0.06 of the half width.
        let half = 0.5 * (difference.upper - difference.lower);
        assert!((all[49] - difference.lower).abs() < 0.25 * half, "{difference:?} {}", all[49]);
        assert!((all[1949] - difference.upper).abs() < 0.25 * half, "{difference:?}");
    }
}
