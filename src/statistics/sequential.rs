//! A verdict on a yield that may be asked for after any number of samples.

use super::order_statistics::first_rank;
use super::proportion::{check, smallest};
use super::{Confidence, IntervalMethod, Ranks, StatisticsError, Verdict, Yield};

/// A test of a yield against its target whose verdict keeps its level however often it is asked for,
/// and whatever the reason to stop.
///
/// The rarer of success and failure counts as event; m stands for a candidate of its rate, F for the
/// events among n samples. Fixed alternatives lie at the relative distances d = 2⁻ʲ on either side:
///
/// ```text
/// below(m) = Σ w (1 − d)^F (1 + d m/(1 − m))^(n − F)     evidence that the rate is below m
/// above(m) = Σ w (1 + d)^F (1 − d m/(1 − m))^(n − F)     evidence that the rate is above m
/// ```
///
/// Each term of `below` is the likelihood ratio of the rate m (1 − d) to m. If the true rate is m or
/// more, a sample multiplies it by 1 or less in the mean. So is the weighted sum a non-negative
/// supermartingale that starts at 1, and exceeds 1/a ever with a probability of a at most
/// (J. Ville, Étude critique de la notion de collectif, 1939; A. Wald, Ann. Math. Statist. 16 (1945)
/// 117–186; both from memory). `above` is its mirror image. With a = (1 − confidence) / 2 the verdict is
/// *pass* or *fail* once the evidence against the other side of the target reaches 1/a. `below` rises
/// and `above` falls with m, so the candidates that neither refutes are an interval. It covers the true
/// rate at all numbers of samples at once: a confidence sequence (H. Robbins, Ann. Math. Statist. 41
/// (1970) 1397–1409; S. R. Howard et al., Ann. Statist. 49 (2021) 1055–1080; content from memory).
///
/// The alternatives and their weights were chosen for this project, by the mean number of samples over
/// distances from 1 to 50 % of the failure rate. The level does not depend on them.
///
/// Samples must be independent draws, counted by whole batches in the order of their numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SequentialTest {
    target: f64,
    confidence: Confidence,
    /// Alternatives on either side.
    alternatives: u32,
    most_samples: u64,
}

/// On which side of a candidate the rate is said to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Below,
    Above,
}

/// Events among samples.
#[derive(Debug, Clone, Copy)]
struct Events {
    events: f64,
    others: f64,
}

impl SequentialTest {
    /// The alternatives reach as close as so many samples can decide, and more if more are allowed.
    const REACH: u64 = 10_000_000;
    /// The largest number of samples worth telling.
    const MOST_TOLD: u64 = 1_000_000_000_000;
    /// Standard normal quantile of 90 %.
    const Z_90: f64 = 1.281_551_565_544_6;

    /// A test against a target, a fraction between 0 and 1, for at most so many samples. The
    /// alternatives follow from that number, which must be fixed before the first sample. Up to ten
    /// million they are the same.
    pub fn new(target: f64, confidence: Confidence, most_samples: u64) -> Self {
        let rate = target.min(1.0 - target);
        let odds = rate / (1.0 - rate);
        // Closer alternatives than this are not decided within the most samples.
        let reach = most_samples.max(Self::REACH) as f64;
        let closest = libm::log2((reach * odds).sqrt() / 4.5);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 60")]
        let alternatives = (1.0 + (0.5 + closest).floor()).clamp(1.0, 60.0) as u32;
        Self { target, confidence, alternatives, most_samples }
    }

    /// The same test against another target.
    #[must_use]
    pub fn against(&self, target: f64) -> Self {
        Self::new(target, self.confidence, self.most_samples)
    }

    /// The target.
    pub const fn target(&self) -> f64 {
        self.target
    }

    /// The same test at another confidence level.
    #[must_use]
    pub const fn with_confidence(self, confidence: Confidence) -> Self {
        Self { confidence, ..self }
    }

    /// Confidence level of verdict and interval.
    pub const fn confidence(&self) -> Confidence {
        self.confidence
    }

    /// The most samples that the alternatives were made for.
    pub const fn most_samples(&self) -> u64 {
        self.most_samples
    }

    /// Whether the alternatives are the same where at most so many samples are allowed: then a run that
    /// ended without a verdict may go on to that number, and is still one test.
    pub fn may_go_on_to(&self, most_samples: u64) -> bool {
        Self::new(self.target, self.confidence, most_samples).alternatives == self.alternatives
    }

    /// What so many successes say about the target.
    pub fn verdict(&self, successes: u64, trials: u64) -> Verdict {
        let counts = self.events(successes, trials);
        let odds = self.target_odds();
        let [pass, fail] = if self.counts_failures() {
            [Side::Below, Side::Above]
        } else {
            [Side::Above, Side::Below]
        };
        let threshold = self.threshold();
        if self.log_evidence(pass, odds, counts) >= threshold {
            Verdict::Pass
        } else if self.log_evidence(fail, odds, counts) >= threshold {
            Verdict::Fail
        } else {
            Verdict::NotDecided
        }
    }

    /// The yield with the interval that holds at all numbers of samples at once.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] and [`StatisticsError::Successes`].
    pub fn estimate(&self, successes: u64, trials: u64) -> Result<Yield, StatisticsError> {
        check(successes, trials)?;
        let counts = self.events(successes, trials);
        // Odds of the event; a rate is odds / (1 + odds), its complement 1 / (1 + odds).
        let [lowest, highest] = self.interval_odds(counts);
        let rate = |odds: f64| if odds.is_finite() { odds / (1.0 + odds) } else { 1.0 };
        let complement = |odds: f64| 1.0 / (1.0 + odds);
        let [lower, upper] = if self.counts_failures() {
            [complement(highest), complement(lowest)]
        } else {
            [rate(lowest), rate(highest)]
        };
        // One failure excludes a yield of 1, which the end only approaches.
        let upper = if successes < trials { upper.min(1.0_f64.next_down()) } else { upper };
        Ok(Yield {
            successes,
            trials,
            estimate: successes as f64 / trials as f64,
            lower,
            upper,
            confidence: self.confidence,
            method: IntervalMethod::Sequential,
        })
    }

    /// The number of samples, these included, by which a verdict comes with a probability of about
    /// 90 % or somewhat more, if the true yield is that seen so far; `None` if 10¹² would not do.
    ///
    /// At this number alone the evidence suffices in 90 % of the cases, by the normal approximation
    /// of the events still to come. Earlier verdicts make it up to 15 % larger than need be.
    pub fn samples_to_decide(&self, successes: u64, trials: u64) -> Option<u64> {
        let counts = self.events(successes, trials);
        let (odds, n) = (self.target_odds(), trials as f64);
        let rate = counts.events / n;
        let side = if rate < odds / (1.0 + odds) { Side::Below } else { Side::Above };
        let unlucky = if side == Side::Below { Self::Z_90 } else { -Self::Z_90 };
        let decides = |total: u64| {
            let more = (total - trials) as f64;
            let events = more * rate + unlucky * (more * rate * (1.0 - rate)).sqrt();
            let events = counts.events + events.clamp(0.0, more);
            let counts = Events { events, others: n + more - events };
            self.log_evidence(side, odds, counts) >= self.threshold()
        };
        smallest(trials.max(1), Self::MOST_TOLD, decides)
    }

    /// Ranks of the ordered values that enclose the quantile at the target, at all numbers of samples
    /// at once.
    ///
    /// At least the target share of the population keeps to that quantile: the lower rank is the least
    /// number of values up to it that is not refuted. At most that share lies below it: the upper rank
    /// follows the largest number of values below it that is not refuted.
    pub fn quantile_ranks(&self, count: u64) -> Ranks {
        let verdict = |k: u64| self.verdict(k, count);
        // Without a value up to the quantile it would be refuted, or nothing bounds it from below.
        let is_bounded = count > 0 && verdict(0) == Verdict::Fail;
        let lower = if is_bounded { first_rank(count, |k| verdict(k) != Verdict::Fail) } else { 0 };
        let upper = first_rank(count, |k| verdict(k) == Verdict::Pass);
        Ranks::among(count, lower, upper)
    }

    /// ln(1/a): the evidence that decides.
    fn threshold(&self) -> f64 {
        -libm::log(self.confidence.two_sided_tail())
    }

    /// Whether failures are the events: they are the rarer where the target is met.
    fn counts_failures(&self) -> bool {
        self.target >= 0.5
    }

    fn target_odds(&self) -> f64 {
        let met = self.target / (1.0 - self.target);
        if self.counts_failures() { met.recip() } else { met }
    }

    fn events(&self, successes: u64, trials: u64) -> Events {
        let [successes, failures] = [successes, trials - successes].map(|n| n as f64);
        if self.counts_failures() {
            Events { events: failures, others: successes }
        } else {
            Events { events: successes, others: failures }
        }
    }

    /// Logarithm of the evidence that the rate is on one side of a candidate, given by its odds.
    fn log_evidence(&self, side: Side, odds: f64, counts: Events) -> f64 {
        let terms = |j: u32| {
            let distance = 0.5_f64.powi(j.cast_signed());
            let weight = f64::from(1 + u8::from(j == 0)) / f64::from(self.alternatives + 1);
            libm::log(weight) + counts.log_likelihood_ratio(side, distance, odds)
        };
        let all = || (0..self.alternatives).map(terms);
        let largest = all().fold(f64::NEG_INFINITY, f64::max);
        if largest.is_finite() {
            largest + libm::log(all().map(|term| libm::exp(term - largest)).sum())
        } else {
            largest
        }
    }

    /// Odds of the lowest and the highest rate that are not refuted.
    fn interval_odds(&self, counts: Events) -> [f64; 2] {
        let (seen, threshold) = (libm::log(counts.events / counts.others), self.threshold());
        let refuted = |side: Side, log_odds: f64| {
            self.log_evidence(side, libm::exp(log_odds), counts) >= threshold
        };
        let lowest = if counts.events > 0.0 {
            let kept = |x: f64| !refuted(Side::Above, x);
            libm::exp(border(-FARTHEST, seen.min(FARTHEST), kept)[0])
        } else {
            0.0
        };
        let highest = if counts.others > 0.0 {
            let gone = |x: f64| refuted(Side::Below, x);
            libm::exp(border(seen.max(-FARTHEST), FARTHEST, gone)[1])
        } else {
            f64::INFINITY
        };
        [lowest, highest]
    }
}

/// Logarithms of odds farther from 0 are not told apart from a rate of 0 or 1.
const FARTHEST: f64 = 700.0;

/// Neighbouring numbers between which a condition turns true, from `low` to `high`.
fn border(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> [f64; 2] {
    let (mut low, mut high) = (low, high);
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return [low, high];
        }
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
}

impl Events {
    /// Logarithm of the likelihood ratio of an alternative to a candidate with these odds; −∞ where the
    /// alternative excludes what was seen.
    fn log_likelihood_ratio(self, side: Side, distance: f64, odds: f64) -> f64 {
        let Self { events, others } = self;
        let times = |count: f64, log: f64| if count > 0.0 { count * log } else { 0.0 };
        match side {
            Side::Below => {
                times(events, libm::log1p(-distance)) + others * libm::log1p(distance * odds)
            }
            // An alternative rate of 1, which a sample without the event excludes.
            Side::Above if distance * odds >= 1.0 => {
                if others > 0.0 {
                    f64::NEG_INFINITY
                } else {
                    events * libm::log1p(odds.recip())
                }
            }
            Side::Above => events * libm::log1p(distance) + others * libm::log1p(-distance * odds),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn test(target: f64, most_samples: u64) -> SequentialTest {
        SequentialTest::new(target, Confidence::new(0.95).unwrap(), most_samples)
    }

    /// A line of a table computed for this project in 60-digit arithmetic from the formulas above.
    struct Reference {
        trials: u64,
        failures: u64,
        target: f64,
        most_samples: u64,
        alternatives: u32,
        evidence: [f64; 2],
        interval: [f64; 2],
        verdict: Verdict,
    }

    const TEN_MILLION: u64 = 10_000_000;

    #[rustfmt::skip]
    const TABLE: [Reference; 10] = [
        Reference { trials: 1000, failures: 0, target: 0.99, most_samples: TEN_MILLION, alternatives: 7, evidence: [8.667_801_92, -1.169_605_15], interval: [0.995_006_072_86, 1.0], verdict: Verdict::Pass },
        Reference { trials: 1000, failures: 25, target: 0.99, most_samples: TEN_MILLION, alternatives: 7, evidence: [-1.437_224_71, 6.105_522_85], interval: [0.954_870_937_05, 0.987_420_065_44], verdict: Verdict::Fail },
        Reference { trials: 10_000, failures: 60, target: 0.99, most_samples: TEN_MILLION, alternatives: 7, evidence: [6.832_624_55, -2.209_249_63], interval: [0.990_927_943_16, 0.996_183_065_14], verdict: Verdict::Pass },
        Reference { trials: 2000, failures: 70, target: 0.95, most_samples: TEN_MILLION, alternatives: 8, evidence: [3.133_719_75, -1.568_127_98], interval: [0.948_878_473_04, 0.976_977_112_39], verdict: Verdict::NotDecided },
        Reference { trials: 50_000, failures: 2350, target: 0.95, most_samples: TEN_MILLION, alternatives: 8, evidence: [2.976_286_40, -3.290_419_36], interval: [0.949_748_882_06, 0.956_132_495_39], verdict: Verdict::NotDecided },
        Reference { trials: 100_000, failures: 1500, target: 0.985, most_samples: TEN_MILLION, alternatives: 7, evidence: [-1.785_468_41, -1.763_248_03], interval: [0.983_658_984_73, 0.986_249_728_41], verdict: Verdict::NotDecided },
        Reference { trials: 46_000, failures: 0, target: 0.9999, most_samples: TEN_MILLION, alternatives: 4, evidence: [3.756_192_45, -1.609_851_88], interval: [0.999_901_528_18, 1.0], verdict: Verdict::Pass },
        Reference { trials: TEN_MILLION, failures: 1150, target: 0.9999, most_samples: TEN_MILLION, alternatives: 4, evidence: [-30.173_195_9, 8.863_499_78], interval: [0.999_872_912_99, 0.999_895_877_71], verdict: Verdict::Fail },
        Reference { trials: 1_000_000_000, failures: 49_950_000, target: 0.95, most_samples: 1_000_000_000, alternatives: 12, evidence: [23.745_712_2, -34.530_259_5], interval: [0.950_025_636_91, 0.950_074_355_48], verdict: Verdict::Pass },
        Reference { trials: 5000, failures: 5000, target: 0.95, most_samples: TEN_MILLION, alternatives: 8, evidence: [-41.413_111_9, 3_464.231_83], interval: [0.0, 0.000_737_503_80], verdict: Verdict::Fail },
    ];

    /// To the digits of the table: nine of the evidence, eleven decimals of the ends.
    #[test]
    fn agrees_with_arithmetic_of_60_digits() {
        for line in TABLE {
            let (test, trials) = (test(line.target, line.most_samples), line.trials);
            assert_eq!(test.alternatives, line.alternatives, "{trials}");
            let counts = test.events(trials - line.failures, trials);
            for (side, expected) in [Side::Below, Side::Above].into_iter().zip(line.evidence) {
                let found = test.log_evidence(side, test.target_odds(), counts);
                let digit = 10.0_f64.powf(expected.abs().log10().floor() - 8.0);
                assert!((found - expected).abs() < 0.6 * digit, "{trials}: {found} {expected}");
            }
            let found = test.estimate(trials - line.failures, trials).unwrap();
            for (end, expected) in [found.lower, found.upper].into_iter().zip(line.interval) {
                assert!((end - expected).abs() < 0.6e-11, "{trials}: {end} {expected}");
            }
            assert_eq!(test.verdict(trials - line.failures, trials), line.verdict, "{trials}");
            assert_eq!(found.verdict(line.target), line.verdict, "the interval says the same");
        }
    }

    /// The same table of integers: the first pass without a failure; at 10⁵ and 10⁷ samples the most
    /// failures that pass and the fewest that fail.
    #[test]
    fn limits_in_whole_samples() {
        for (target, first_pass, few, many) in [
            (0.95, 100, [4767, 5235], [497_331, 502_670]),
            (0.985, 332, [1371, 1631], [148_464, 151_536]),
            (0.99, 499, [897, 1106], [98_854, 101_148]),
            (0.999, 4712, [68, 134], [9599, 10_400]),
            (0.9999, 45_298, [0, 21], [896, 1107]),
        ] {
            let test = test(target, TEN_MILLION);
            let verdict = |failures: u64, n: u64| test.verdict(n - failures, n);
            assert_eq!(verdict(0, first_pass), Verdict::Pass, "{target}");
            assert_eq!(verdict(0, first_pass - 1), Verdict::NotDecided, "{target}");
            for (n, [passes, fails]) in [(100_000, few), (TEN_MILLION, many)] {
                let found = [passes, passes + 1, fails - 1, fails].map(|f| verdict(f, n));
                let open = Verdict::NotDecided;
                assert_eq!(found, [Verdict::Pass, open, open, Verdict::Fail], "{target} {n}");
            }
        }
    }

    /// Summed over the binomial distribution of the events, evidence at the candidate is 1 in the
    /// mean: the base of the level.
    #[test]
    fn evidence_is_1_in_the_mean() {
        use statrs::distribution::{Binomial, Discrete};
        for target in [0.95, 0.3] {
            let (n, test) = (3000_u64, test(target, TEN_MILLION));
            let binomial = Binomial::new(target, n).unwrap();
            for side in [Side::Below, Side::Above] {
                let evidence = |k: u64| {
                    let counts = test.events(k, n);
                    (test.log_evidence(side, test.target_odds(), counts) + binomial.ln_pmf(k)).exp()
                };
                let mean: f64 = (0..=n).map(evidence).sum();
                // The other library's probabilities are good to 1e-9 or so.
                assert!((mean - 1.0).abs() < 1e-8, "{target} {side:?}: {mean}");
            }
        }
    }

    /// The evidence of a few failures is too weak against any rate: the end comes as close as it can.
    #[test]
    fn no_failure_seen_is_taken_for_impossible() {
        for (target, failures) in [(0.9, 1), (0.9, 0), (0.1, 1)] {
            let found = test(target, TEN_MILLION).estimate(5 - failures, 5).unwrap();
            assert_eq!(found.upper < 1.0, failures > 0, "{target}: {found:?}");
        }
    }

    /// Going on is one test as long as the alternatives stay.
    #[test]
    fn more_samples_may_be_allowed_up_to_ten_million() {
        let small = test(0.99, 30_000);
        assert!(small.may_go_on_to(208_896) && small.may_go_on_to(TEN_MILLION));
        assert!(!small.may_go_on_to(1_000_000_000));
        for (k, n) in [(1986, 2000), (29_600, 30_000), (29_800, 30_000)] {
            let raised = test(0.99, TEN_MILLION);
            assert_eq!(small.estimate(k, n).unwrap(), raised.estimate(k, n).unwrap());
        }
    }

    /// A target below a half counts successes: success and failure change their roles.
    #[test]
    fn a_low_target_is_the_mirror_image_of_a_high_one() {
        let (low, high) = (test(0.05, TEN_MILLION), test(0.95, TEN_MILLION));
        for (k, n) in [(0, 200), (10, 100), (70, 2000), (100, 1000), (1000, 1000)] {
            let swapped = match high.verdict(n - k, n) {
                Verdict::Pass => Verdict::Fail,
                Verdict::Fail => Verdict::Pass,
                Verdict::NotDecided => Verdict::NotDecided,
            };
            assert_eq!(low.verdict(k, n), swapped, "{k} of {n}");
            let [a, b] = [low.estimate(k, n).unwrap(), high.estimate(n - k, n).unwrap()];
            assert!((a.lower - (1.0 - b.upper)).abs() < 1e-12, "{a:?} {b:?}");
            assert!((a.upper - (1.0 - b.lower)).abs() < 1e-12, "{a:?} {b:?}");
        }
    }

    #[test]
    fn ranks_enclose_the_quantile_farther_out_than_those_of_a_fixed_number() {
        let c = Confidence::new(0.95).unwrap();
        for (count, p) in [(1000, 0.5), (20_000, 0.99), (20_000, 0.05)] {
            let test = test(p, TEN_MILLION);
            let ends = |ranks: Ranks| [ranks.lower.unwrap(), ranks.upper.unwrap()];
            let [lower, upper] = ends(test.quantile_ranks(count));
            let fixed = ends(Ranks::central(count, p, c));
            assert!(lower < fixed[0] && upper > fixed[1], "{count} {p}: {lower} {upper}");
            assert_eq!(test.verdict(lower - 1, count), Verdict::Fail);
            assert_eq!(test.verdict(upper, count), Verdict::Pass);
        }
        // So few samples give one end alone: the first pass without a failure is at 499.
        let few = test(0.99, TEN_MILLION).quantile_ranks(300);
        assert!(matches!(few, Ranks { lower: Some(1..=290), upper: None }), "{few:?}");
        let low = test(0.01, TEN_MILLION).quantile_ranks(300);
        assert!(matches!(low, Ranks { lower: None, upper: Some(10..=300) }), "{low:?}");
        assert_eq!(test(0.5, TEN_MILLION).quantile_ranks(0), Ranks::NONE);
    }
}
