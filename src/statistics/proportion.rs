//! The yield of a population, from the successes among its samples.

use schemars::JsonSchema;
use serde::Serialize;

use super::beta::{self, Portion};
use super::confidence::within_tail;
use super::{Confidence, StatisticsError};

/// A yield with its two-sided interval.
///
/// C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits illustrated in the
/// case of the binomial", Biometrika 26 (1934) 404–413: the central interval from the exact
/// binomial tails. Each end errs with a probability of at most (1 − confidence) / 2, for any
/// true yield and any number of samples.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
#[non_exhaustive]
pub struct Yield {
    /// Samples that pass.
    pub successes: u64,
    /// All samples; one that could not be solved counts, as one that fails.
    pub trials: u64,
    /// `successes / trials`.
    pub estimate: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end of the interval.
    pub upper: f64,
    /// Confidence level of the interval.
    pub confidence: Confidence,
}

impl Yield {
    /// The largest number of samples worth telling: beyond it a target counts as met exactly.
    const MOST_SAMPLES: u64 = 1_000_000_000_000;

    /// Estimates the yield.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
    pub fn new(
        successes: u64,
        trials: u64,
        confidence: Confidence,
    ) -> Result<Self, StatisticsError> {
        check(successes, trials)?;
        let tail = confidence.two_sided_tail();
        Ok(Self {
            successes,
            trials,
            estimate: successes as f64 / trials as f64,
            lower: lower_end(successes, trials, tail),
            upper: 1.0 - lower_end(trials - successes, trials, tail),
            confidence,
        })
    }

    /// Whether the population meets a target, a fraction.
    pub fn verdict(&self, target: f64) -> Verdict {
        if self.lower >= target {
            Verdict::Pass
        } else if self.upper < target {
            Verdict::Fail
        } else {
            Verdict::NotDecided
        }
    }

    /// The smallest number of samples that would decide on `target` if their observed yield were
    /// this estimate; `None` if 10¹² would not.
    ///
    /// The proportion stays as it is, not rounded to whole successes. The bounds' beta
    /// distributions take any parameters, and so the answer does not jump with the rounding. It is
    /// above `trials` exactly when these do not decide.
    pub fn samples_to_decide(&self, target: f64) -> Option<u64> {
        let (good, trials) = (self.estimate, self.trials as f64);
        let bad = (self.trials - self.successes) as f64 / trials;
        let tail = self.confidence.two_sided_tail();
        let meets = Portion::new(target);
        let pass = |n: f64| beta::regularised(good * n, bad * n + 1.0, meets);
        let fail = |n: f64| beta::regularised(bad * n, good * n + 1.0, meets.flipped());
        // Without a success the lower end is 0, without a failure the upper end is 1.
        let passes = |n| if good > 0.0 { within_tail(pass(n), tail) } else { target <= 0.0 };
        let fails = |n| if bad > 0.0 { within_tail(fail(n), tail) } else { target > 1.0 };
        smallest(1, Self::MOST_SAMPLES, |n| passes(n as f64) || fails(n as f64))
    }
}

/// What a yield says about its target, the best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, JsonSchema, Serialize)]
pub enum Verdict {
    /// The lower end of the interval meets the target.
    #[serde(rename = "pass")]
    Pass,
    /// The target lies within the interval.
    #[serde(rename = "not decided")]
    NotDecided,
    /// The upper end of the interval misses the target.
    #[serde(rename = "fail")]
    Fail,
}

/// One-sided lower bound of the yield: at this confidence the yield is at least this.
///
/// # Errors
///
/// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
pub fn lower_bound(
    successes: u64,
    trials: u64,
    confidence: Confidence,
) -> Result<f64, StatisticsError> {
    check(successes, trials)?;
    Ok(lower_end(successes, trials, confidence.one_sided_tail()))
}

/// One-sided upper bound of the yield: at this confidence the yield is at most this.
///
/// # Errors
///
/// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
pub fn upper_bound(
    successes: u64,
    trials: u64,
    confidence: Confidence,
) -> Result<f64, StatisticsError> {
    check(successes, trials)?;
    Ok(1.0 - lower_end(trials - successes, trials, confidence.one_sided_tail()))
}

fn check(successes: u64, trials: u64) -> Result<(), StatisticsError> {
    if trials == 0 {
        Err(StatisticsError::NoTrials)
    } else if successes > trials {
        Err(StatisticsError::Successes { successes, trials })
    } else {
        Ok(())
    }
}

/// The yield at which `successes` or more come with probability `tail`.
fn lower_end(successes: u64, trials: u64, tail: f64) -> f64 {
    if successes == 0 {
        return 0.0;
    }
    beta::quantile(successes as f64, (trials - successes) as f64 + 1.0, tail)
}

/// The smallest number from `first` to `last` that is enough, if more is never worse.
pub(super) fn smallest(first: u64, last: u64, enough: impl Fn(u64) -> bool) -> Option<u64> {
    let mut high = first;
    while !enough(high) {
        if high >= last {
            return None;
        }
        high = high.saturating_mul(2).min(last);
    }
    let mut low = if high == first { first } else { high / 2 };
    while low < high {
        let middle = low + (high - low) / 2;
        if enough(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Binomial, Discrete};

    use super::*;

    fn confidence(level: f64) -> Confidence {
        Confidence::new(level).unwrap()
    }

    fn yield_of(successes: u64, trials: u64) -> Yield {
        Yield::new(successes, trials, confidence(0.95)).unwrap()
    }

    #[test]
    fn impossible_counts_are_refused() {
        let c = confidence(0.95);
        assert_eq!(Yield::new(0, 0, c), Err(StatisticsError::NoTrials));
        let too_many = Err(StatisticsError::Successes { successes: 4, trials: 3 });
        assert_eq!(Yield::new(4, 3, c).map(|y| y.lower), too_many);
        assert_eq!(lower_bound(4, 3, c), too_many);
        assert_eq!(upper_bound(4, 3, c), too_many);
    }

    /// Without failure the lower end is tail^(1/n), by definition.
    #[test]
    fn ends_without_failure_have_closed_forms() {
        for n in [1_u64, 2, 59, 1000, 1_000_000, 1_000_000_000] {
            let y = yield_of(n, n);
            assert!((y.lower - 0.025_f64.powf(1.0 / n as f64)).abs() < 1e-15, "{n}: {}", y.lower);
            assert!((y.upper - 1.0).abs() < 1e-15);
            let none = yield_of(0, n);
            assert!((none.upper - (1.0 - y.lower)).abs() < 1e-15 && none.lower == 0.0);
            let one_sided = lower_bound(n, n, confidence(0.95)).unwrap();
            assert!((one_sided - 0.05_f64.powf(1.0 / n as f64)).abs() < 1e-15);
        }
    }

    /// The interval covers the true yield at least as often as it says, whatever that yield is;
    /// binomial probabilities of a general-purpose library.
    #[test]
    fn covers_as_often_as_it_says() {
        let n = 40;
        let intervals: Vec<Yield> = (0..=n).map(|k| yield_of(k, n)).collect();
        for percent in 1..100 {
            let p = f64::from(percent) / 100.0;
            let binomial = Binomial::new(p, n).unwrap();
            let covers = |y: &&Yield| y.lower <= p && p <= y.upper;
            let coverage: f64 =
                intervals.iter().filter(covers).map(|y| binomial.pmf(y.successes)).sum();
            assert!(coverage >= 0.95, "{p}: {coverage}");
        }
    }

    #[test]
    fn verdicts() {
        let y = yield_of(990, 1000); // 0.98169 to 0.99519
        assert_eq!(y.verdict(0.98), Verdict::Pass);
        assert_eq!(y.verdict(y.lower), Verdict::Pass);
        assert_eq!(y.verdict(0.99), Verdict::NotDecided);
        assert_eq!(y.verdict(y.upper), Verdict::NotDecided);
        assert_eq!(y.verdict(0.996), Verdict::Fail);
        let words = [Verdict::Pass, Verdict::Fail, Verdict::NotDecided];
        let json = serde_json::to_string(&words).unwrap();
        assert_eq!(json, r#"["pass","fail","not decided"]"#);
    }

    #[test]
    fn serialises_flat() {
        let json = serde_json::to_value(yield_of(0, 20)).unwrap();
        let upper = json["upper"].as_f64().unwrap();
        assert!((upper - 0.1684).abs() < 5e-5, "{upper}");
        assert_eq!(json["confidence"], 0.95);
        assert_eq!(json["trials"], 20);
    }

    /// At the number told the interval decides, a whole repetition of the pattern earlier it does not.
    #[test]
    fn samples_to_decide_is_where_the_verdict_turns() {
        for (k, n, target) in [(995, 1000, 0.99), (98, 100, 0.99), (1, 2, 0.52), (3, 1000, 0.002)] {
            let needed = yield_of(k, n).samples_to_decide(target).unwrap();
            let times = needed.div_ceil(n);
            assert!(times > 1, "{k}/{n}");
            let decided = |times: u64| yield_of(k * times, n * times).verdict(target);
            assert_ne!(decided(times), Verdict::NotDecided, "{k}/{n}: {needed}");
            assert_eq!(decided(times - 1), Verdict::NotDecided, "{k}/{n}: {needed}");
        }
    }

    #[test]
    fn samples_to_decide_agrees_with_the_verdict_on_these_samples() {
        for k in [0, 1, 30, 58, 59, 60] {
            for percent in 0..=100 {
                let (y, target) = (yield_of(k, 60), f64::from(percent) / 100.0);
                let decided = y.verdict(target) != Verdict::NotDecided;
                let enough = y.samples_to_decide(target).is_some_and(|needed| needed <= 60);
                assert_eq!(enough, decided, "{k} of 60 against {target}");
            }
        }
    }

    /// More samples of the same proportion never undo a decision: the search may halve.
    #[test]
    fn decisions_stay_decided() {
        for k in 0..=10 {
            for percent in (5..100).step_by(5) {
                let target = f64::from(percent) / 100.0;
                let needed = yield_of(k, 10).samples_to_decide(target);
                for times in 1..60 {
                    let decided = yield_of(k * times, 10 * times).verdict(target);
                    let told = needed.is_some_and(|needed| needed <= 10 * times);
                    assert_eq!(decided != Verdict::NotDecided, told, "{k} {target} {times}");
                }
            }
        }
    }

    #[test]
    fn samples_to_decide_at_the_edges() {
        // Without failure: target^n within the tail (two-sided), as in Wilks (1941).
        let by_hand = (0.025_f64.ln() / 0.99_f64.ln()).ceil();
        let needed = yield_of(7, 7).samples_to_decide(0.99);
        assert_eq!(needed.map(|n| n as f64), Some(by_hand));
        assert_eq!(yield_of(99, 100).samples_to_decide(0.99), None);
        assert_eq!(yield_of(1, 2).samples_to_decide(0.5 + 1e-7), None);
        let wide = yield_of(1, 2).samples_to_decide(0.5 + 1e-5).unwrap() as f64;
        let normal = (1.959_963_985 * 0.5 / 1e-5_f64).powi(2); // the normal approximation
        assert!((wide / normal - 1.0).abs() < 1e-4, "{wide} {normal}");
    }
}
