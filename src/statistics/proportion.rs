//! The yield of a population, from the successes among its samples.

use schemars::JsonSchema;
use serde::Serialize;

use super::beta::{self, Portion};
use super::confidence::within_tail;
use super::{Confidence, StatisticsError};

/// What an interval of a yield was made by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum IntervalMethod {
    /// Clopper and Pearson (1934): exact for a number of samples fixed in advance.
    ClopperPearson,
    /// A sequential test: holds at all numbers of samples at once.
    Sequential,
    /// One of these, widened by what files of measured parts leave open ([`Yield::of_population`]).
    MeasuredFiles,
}

/// A yield with its two-sided interval.
///
/// [`Yield::new`] is for a number of samples fixed in advance. C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits illustrated in the
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
    /// What the interval was made by.
    pub method: IntervalMethod,
}

impl Yield {
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
            method: IntervalMethod::ClopperPearson,
        })
    }

    /// The share that fails with the ends of its interval. It is counted: one less the yield is rounded twice.
    pub fn failing(&self) -> [f64; 3] {
        let failed = self.trials - self.successes;
        [failed as f64 / self.trials as f64, 1.0 - self.upper, 1.0 - self.lower]
    }

    /// Whether the population meets a target, a fraction.
    pub fn verdict(&self, target: f64) -> Verdict {
        Verdict::of_interval([self.lower, self.upper], target)
    }

    /// The number of samples of a new study, fixed in advance, that decides on `target` with a
    /// probability of at least 90 %, if the true yield is this estimate. `None` if 10⁹ would not do.
    /// They are no fewer than these, which did not decide.
    ///
    /// The new study must draw other samples: from another seed, or from fresh streams. Going on with
    /// these would test the same samples again, which an interval for a fixed number does not allow
    /// ([`SequentialTest`] does).
    ///
    /// [`SequentialTest`]: super::SequentialTest
    pub fn samples_to_decide(&self, target: f64) -> Option<u64> {
        let target = Portion::new(target);
        let failures = (self.trials - self.successes) as f64 / self.trials as f64;
        let tail = self.confidence.two_sided_tail();
        let (limit, rate) = if self.estimate >= target.value() {
            (target.flipped(), Portion::new(failures))
        } else {
            (target, Portion::new(self.estimate))
        };
        DecidingStudy { limit, rate, tail, least: self.trials }.samples()
    }
}

/// A study to come that shows a rate to lie below a limit: of failures for a pass, of successes for a
/// fail.
#[derive(Debug, Clone, Copy)]
struct DecidingStudy {
    limit: Portion,
    /// The true rate, not above the limit.
    rate: Portion,
    tail: f64,
    /// Samples at least.
    least: u64,
}

impl DecidingStudy {
    /// The probability with which it is to decide.
    const POWER: f64 = 0.9;
    /// The largest number of samples worth telling.
    const MOST: u64 = 1_000_000_000;

    /// The smallest number of samples found that decides as often as it should.
    fn samples(&self) -> Option<u64> {
        let decides = |events: u64| {
            self.showing(events).is_none_or(|samples| {
                samples >= self.least
                    && beta::binomial_at_most(events, samples, self.rate) >= Self::POWER
            })
        };
        // `smallest` begins at one event too many.
        let events = smallest(1, Self::MOST, |events| decides(events - 1))? - 1;
        self.showing(events)
    }

    /// The fewest samples that show it with so many events.
    fn showing(&self, events: u64) -> Option<u64> {
        let shows = |n: u64| within_tail(beta::binomial_at_most(events, n, self.limit), self.tail);
        smallest(events + 1, Self::MOST, shows)
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

impl Verdict {
    /// What an interval, by its lower and upper end, says about a target.
    pub(super) fn of_interval([lower, upper]: [f64; 2], target: f64) -> Self {
        if lower >= target {
            Self::Pass
        } else if upper < target {
            Self::Fail
        } else {
            Self::NotDecided
        }
    }
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

pub(super) fn check(successes: u64, trials: u64) -> Result<(), StatisticsError> {
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

    /// 97 of 4000 are 0.02425, which is shown as 24 300 ppm; one less 0.97575 lies a rounding below it.
    #[test]
    fn failures_are_counted() {
        let [share, lower, upper] = yield_of(3903, 4000).failing();
        assert_eq!(share.to_bits(), 0.024_25_f64.to_bits());
        assert!(lower < share && share < upper);
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

    /// The interval covers the true yield at least as often as it says, whatever that yield is, and
    /// each end errs half as often: a verdict against that yield is wrong so often at most.
    /// Binomial probabilities of a general-purpose library.
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
            for wrong in [Verdict::Pass, Verdict::Fail] {
                // The target is met by a hair, or missed by one.
                let target = if wrong == Verdict::Pass { p.next_up() } else { p };
                let errs = intervals.iter().filter(|y| y.verdict(target) == wrong);
                let errs: f64 = errs.map(|y| binomial.pmf(y.successes)).sum();
                assert!(errs <= 0.025, "{p}: {wrong:?} in {errs}");
            }
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

    /// Exact power by another library's binomial distribution: at the number told a new study of that
    /// size decides in 90 % of the cases or somewhat more, and one of nine tenths of the size in fewer.
    #[test]
    fn a_study_of_the_number_told_decides_in_nine_of_ten_cases() {
        for (k, n, target) in
            [(995, 1000, 0.99), (980, 1000, 0.99), (96, 100, 0.95), (1, 2, 0.52), (3, 1000, 0.002)]
        {
            let seen = yield_of(k, n);
            let wanted = if seen.estimate >= target { Verdict::Pass } else { Verdict::Fail };
            let needed = seen.samples_to_decide(target).unwrap();
            let power = |size: u64| {
                let binomial = Binomial::new(seen.estimate, size).unwrap();
                let decides = |k: &u64| yield_of(*k, size).verdict(target) == wanted;
                (0..=size).filter(decides).map(|k| binomial.pmf(k)).sum::<f64>()
            };
            let found = power(needed);
            assert!((0.9..0.925).contains(&found), "{k} of {n} against {target}: {found}");
            assert!(power(needed * 9 / 10) < 0.9, "{k} of {n} against {target}");
        }
    }

    #[test]
    fn samples_to_decide_at_the_edges() {
        // Without failure: target^n within the tail (two-sided), as in Wilks (1941).
        let by_hand = (0.025_f64.ln() / 0.99_f64.ln()).ceil();
        // None of five is good, of which a run until decided has no verdict yet.
        assert_eq!(yield_of(0, 5).samples_to_decide(0.885), Some(5), "no fewer than drawn");
        let needed = yield_of(7, 7).samples_to_decide(0.99);
        assert_eq!(needed.map(|n| n as f64), Some(by_hand));
        assert_eq!(yield_of(99, 100).samples_to_decide(0.99), None);
        assert_eq!(yield_of(1, 2).samples_to_decide(0.5 + 1e-7), None);
        // The normal approximation: (z of 97.5 % + z of 90 %)² p (1 − p) / distance².
        let wide = yield_of(1, 2).samples_to_decide(0.5 + 1e-4).unwrap() as f64;
        let normal = ((1.959_963_985 + 1.281_551_566) * 0.5 / 1e-4_f64).powi(2);
        assert!((wide / normal - 1.0).abs() < 1e-3, "{wide} {normal}");
    }
}
