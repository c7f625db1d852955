//! Yields of all parts that a file of measured parts was drawn from: repeated studies, each with a file
//! of its own, against yields in closed form.
//!
//! The stand-in of a converter holds some drawn values and passes by a rule on these. Parts are uniform
//! from 0 to 1. All N values below a have the probability aᴺ. A spread of at most r has
//! N rᴺ⁻¹ − (N − 1) rᴺ (distribution of the range: W. Feller, An Introduction to Probability Theory and
//! Its Applications, volume 2, 1971, section I.7; from memory).
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_possible_truncation, reason = "a test")]
#![allow(clippy::cast_sign_loss, clippy::cast_possible_wrap, reason = "small numbers")]

use fairphase::statistics::{
    Confidence, Estimator, FileEffect, HeldPart, InfluenceTally, IntervalMethod, SequentialTest,
    Verdict, Yield,
};
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

/// What a converter must meet.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Rule {
    /// All its values lie below a limit.
    Below,
    /// Its values lie no farther apart than a limit.
    Spread,
}

impl Rule {
    /// The probability that `drawn` values meet it with this limit.
    fn probability(self, limit: f64, drawn: i32) -> f64 {
        match self {
            Self::Below => limit.powi(drawn),
            Self::Spread => {
                let n = f64::from(drawn);
                n * limit.powi(drawn - 1) - (n - 1.0) * limit.powi(drawn)
            }
        }
    }

    /// The limit that so many meet, by bisection.
    fn limit(self, met: f64, drawn: i32) -> f64 {
        let [mut low, mut high] = [0.0, 1.0];
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.probability(middle, drawn) < met { low = middle } else { high = middle }
        }
        low
    }

    fn is_met(self, values: &[f64], limit: f64) -> bool {
        let most = values.iter().copied().fold(0.0, f64::max);
        let least = values.iter().copied().fold(1.0, f64::min);
        limit >= if self == Self::Below { most } else { most - least }
    }
}

/// Studies of converters with one or two kinds of measured parts.
#[derive(Debug, Clone, Copy)]
struct Studies {
    rule: Rule,
    /// Parts of each file; no second file where it has none.
    parts: [usize; 2],
    drawn: usize,
    /// The true yield.
    met: f64,
    /// Share of the failures that have nothing to do with the files.
    of_other: f64,
}

/// How many of 1000 studies err.
#[derive(Debug, Clone, Copy, Default)]
struct Errors {
    /// The true yield lies below the interval, or above it.
    below: u32,
    above: u32,
    /// The interval of the parts of the file does not hold it.
    of_file: u32,
}

const SAMPLES: u64 = 2000;
/// Samples between two looks.
const BATCH: u64 = 500;

fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}

impl Studies {
    fn files(&self) -> impl Iterator<Item = usize> + Clone + use<> {
        self.parts.into_iter().filter(|parts| *parts > 0)
    }

    /// One study: its yield for the parts of its files, and what the files do.
    fn study(&self, rng: &mut ChaCha8Rng) -> (Yield, Vec<FileEffect>) {
        let mut study = RunningStudy::new(self, rng);
        study.add(SAMPLES, rng);
        (Yield::new(study.good, SAMPLES, level()).unwrap(), study.effects())
    }

    /// What a run until decided says of the production, against the true yield as its target: it goes on as long
    /// as more samples may decide that, up to so many.
    fn decided(&self, most: u64, rng: &mut ChaCha8Rng) -> Verdict {
        let test = SequentialTest::new(self.met, level(), most);
        let mut study = RunningStudy::new(self, rng);
        while study.samples < most {
            study.add(BATCH, rng);
            if test.verdict(study.good, study.samples) == Verdict::NotDecided {
                continue;
            }
            let (sampled, files) =
                (test.estimate(study.good, study.samples).unwrap(), study.effects());
            let verdict = sampled.of_population(&files).verdict(self.met);
            if verdict != Verdict::NotDecided || !sampled.samples_may_decide(&files, self.met) {
                return verdict;
            }
        }
        Verdict::NotDecided
    }

    fn errors(&self, studies: u32) -> Errors {
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let mut errors = Errors::default();
        for _ in 0..studies {
            let (of_file, effects) = self.study(&mut rng);
            let wider = of_file.of_population(&effects);
            assert!(wider.lower <= of_file.lower && of_file.upper <= wider.upper, "{wider:?}");
            errors.below += u32::from(self.met < wider.lower);
            errors.above += u32::from(self.met > wider.upper);
            errors.of_file += u32::from(!(of_file.lower..=of_file.upper).contains(&self.met));
        }
        errors
    }
}

/// A study that goes on.
struct RunningStudy<'a> {
    studies: &'a Studies,
    limit: f64,
    /// Share of the converters that fail for another reason.
    other: f64,
    files: Vec<Vec<f64>>,
    tallies: Vec<InfluenceTally>,
    good: u64,
    samples: u64,
}

impl<'a> RunningStudy<'a> {
    /// No samples yet, with files of its own.
    fn new(studies: &'a Studies, rng: &mut ChaCha8Rng) -> Self {
        let other = studies.of_other * (1.0 - studies.met);
        let by_files = studies.met / (1.0 - other);
        let each = by_files.powf(1.0 / studies.files().count() as f64);
        let limit = studies.rule.limit(each, studies.drawn as i32);
        let files: Vec<Vec<f64>> =
            studies.files().map(|parts| (0..parts).map(|_| uniform(rng)).collect()).collect();
        let tallies = files.iter().map(|file| InfluenceTally::new(file.len(), 1)).collect();
        Self { studies, limit, other, files, tallies, good: 0, samples: 0 }
    }

    fn add(&mut self, samples: u64, rng: &mut ChaCha8Rng) {
        let Studies { rule, drawn, .. } = *self.studies;
        for sample in self.samples..self.samples + samples {
            let hold = |file: &Vec<f64>, rng: &mut ChaCha8Rng| -> Vec<HeldPart> {
                let held = (0..drawn).map(|_| uniform(rng)).map(|probability| HeldPart {
                    index: (probability * file.len() as f64) as usize,
                    probability,
                    slope: 0.0,
                });
                held.collect()
            };
            let held: Vec<Vec<HeldPart>> = self.files.iter().map(|file| hold(file, rng)).collect();
            let meets = self.files.iter().zip(&held).all(|(file, held)| {
                let values: Vec<f64> = held.iter().map(|part| file[part.index]).collect();
                rule.is_met(&values, self.limit)
            });
            let passes = meets && uniform(rng) >= self.other;
            self.good += u64::from(passes);
            let files = self.tallies.iter_mut().zip(&held);
            files.for_each(|(tally, held)| tally.add(sample, held, &[passes]));
        }
        self.samples += samples;
    }

    fn effects(&self) -> Vec<FileEffect> {
        let effects = self.tallies.iter().zip(&self.files).map(|(tally, file)| FileEffect {
            parts: file.len() as u64,
            drawn: self.studies.drawn as u32,
            variance: tally.variance(0),
        });
        effects.collect()
    }
}

fn level() -> Confidence {
    Confidence::new(0.95).unwrap()
}

/// Number of studies of each kind; more by the environment, for the table of `methods.md`.
fn studies() -> u32 {
    std::env::var("FAIRPHASE_STUDIES").ok().and_then(|n| n.parse().ok()).unwrap_or(300)
}

/// Either end errs in 2.5 % of the studies at most, plus three standard errors. The interval of the file
/// alone errs far more often.
#[test]
fn intervals_hold_the_yield_of_all_parts() {
    let (n, mut of_files) = (studies(), 0);
    let most = (0.025 * f64::from(n) + 3.0 * (0.025 * 0.975 * f64::from(n)).sqrt()) as u32;
    let mut kinds = Vec::new();
    for rule in [Rule::Spread, Rule::Below] {
        for parts in [[10, 0], [20, 0], [47, 0], [200, 0], [20, 47], [200, 200]] {
            for met in [0.5, 0.9, 0.99, 0.999] {
                kinds.push(Studies { rule, parts, drawn: 3, met, of_other: 0.0 });
            }
        }
        kinds.push(Studies { rule, parts: [200, 0], drawn: 12, met: 0.9, of_other: 0.0 });
        kinds.push(Studies { rule, parts: [200, 0], drawn: 3, met: 0.9, of_other: 0.5 });
        kinds.push(Studies { rule, parts: [47, 0], drawn: 3, met: 0.98, of_other: 0.5 });
    }
    for kind in &kinds {
        let Errors { below, above, of_file } = kind.errors(n);
        if n > 300 {
            println!("{kind:?}: {below} below, {above} above, {of_file} of {n} by the file alone");
        }
        assert!(below <= most && above <= most, "{kind:?}: {below}, {above} of {n}");
        of_files += of_file;
    }
    assert!(of_files > kinds.len() as u32 * n / 3, "the file alone: {of_files}");
}

/// Looked at after every batch, verdicts on the production err no more often: the file is the same at each look,
/// and the interval of the samples holds at all of them. At the target either verdict is an error.
#[test]
fn a_verdict_after_any_batch_keeps_its_level() {
    let n = studies();
    let most = (0.025 * f64::from(n) + 3.0 * (0.025 * 0.975 * f64::from(n)).sqrt()) as u32;
    let mut rng = ChaCha8Rng::seed_from_u64(23);
    for rule in [Rule::Spread, Rule::Below] {
        for (parts, met) in [(47, 0.9), (200, 0.9), (1000, 0.9), (1000, 0.99)] {
            let kind = Studies { rule, parts: [parts, 0], drawn: 3, met, of_other: 0.0 };
            let verdicts: Vec<Verdict> = (0..n).map(|_| kind.decided(10_000, &mut rng)).collect();
            let count = |verdict| verdicts.iter().filter(|own| **own == verdict).count() as u32;
            let [pass, fail] = [Verdict::Pass, Verdict::Fail].map(count);
            if n > 300 {
                println!("{kind:?}: {pass} pass, {fail} fail of {n}");
            }
            assert!(pass <= most && fail <= most, "{kind:?}: {pass}, {fail} of {n}");
        }
    }
}

/// With files that leave nothing open the number of samples is that which decides on the parts alone, told by
/// another way: within a twentieth. A file that leaves more open asks for more.
#[test]
fn the_number_of_samples_told_is_that_of_the_parts_alone_and_more() {
    let sampled = Yield::new(9_800, 10_000, level()).unwrap();
    let estimator = Estimator::Fixed(level());
    let told = |variance: f64| {
        let file = FileEffect { parts: 1_000_000_000, drawn: 1, variance };
        sampled.samples_to_decide_population(&[file], 0.978, &estimator).unwrap() as f64
    };
    let alone = sampled.samples_to_decide(0.978).unwrap() as f64;
    assert!((told(0.0) / alone - 1.0).abs() < 0.05, "{} {alone}", told(0.0));
    assert!(told(0.000_5_f64.powi(2)) > 1.1 * alone);
    let certain = FileEffect { parts: 1_000_000_000, drawn: 1, variance: 0.002_f64.powi(2) };
    assert!(!sampled.samples_may_decide(&[certain], 0.978), "two deviations reach the target");
}

/// N = 1, no failure among n parts: the lower end is near that of Clopper and Pearson, 0.025^(1/n), and
/// never above it. Three parts a converter take it to the third power, nearly.
#[test]
fn without_a_failure_the_end_is_that_of_the_parts() {
    let sampled = Yield::new(1_000_000_000, 1_000_000_000, level()).unwrap();
    for parts in [10, 47, 200, 10_000] {
        for drawn in [1, 3] {
            let file = FileEffect { parts, drawn, variance: 0.0 };
            let found = sampled.of_population(&[file]);
            let exact = 0.025_f64.powf(f64::from(drawn) / parts as f64);
            let ratio = (1.0 - found.lower) / (1.0 - exact);
            assert!((0.999..1.15).contains(&ratio), "{parts}, {drawn}: {found:?} {exact}");
            assert!(found.upper >= 1.0 && found.method == IntervalMethod::MeasuredFiles);
        }
    }
}

/// One failing part of 20, one part a converter: Clopper and Pearson for 19 of 20, within a tenth of the
/// width.
#[test]
fn a_failing_part_counts_as_a_failing_sample() {
    let of_parts = Yield::new(19, 20, level()).unwrap();
    let sampled = Yield::new(950_000_000, 1_000_000_000, level()).unwrap();
    // The variance of a mean of 20 values, one of which is 0: 0.05 · 0.95/19.
    let file = FileEffect { parts: 20, drawn: 1, variance: 0.05 * 0.95 / 19.0 };
    let found = sampled.of_population(&[file]);
    let width = of_parts.upper - of_parts.lower;
    assert!((found.lower - of_parts.lower).abs() < 0.1 * width, "{found:?} {of_parts:?}");
    assert!((found.upper - of_parts.upper).abs() < 0.1 * width, "{found:?} {of_parts:?}");
}

/// Without files, or with parts that no converter of the arrangement has, nothing changes.
#[test]
fn nothing_is_widened_without_files() {
    let sampled = Yield::new(950, 1000, level()).unwrap();
    assert_eq!(sampled.of_population(&[]), sampled);
    let unused = FileEffect { parts: 20, drawn: 0, variance: 0.1 };
    assert_eq!(sampled.of_population(&[unused]), sampled);
    assert_eq!(sampled.parts_to_decide(&[unused], 0.9, &Estimator::Fixed(level())), Some(1));
}

/// The number of parts told decides with bad luck, 1.2816 standard deviations nearer to the target; one less does
/// not. Where the samples leave it open none does.
#[test]
fn the_number_of_parts_told_is_the_fewest_that_decide() {
    let estimator = Estimator::Fixed(level());
    let sampled = Yield::new(19_900, 20_000, level()).unwrap();
    let files =
        [50, 400].map(|parts| FileEffect { parts, drawn: 3, variance: 0.01 / parts as f64 });
    let told = sampled.parts_to_decide(&files, 0.98, &estimator).unwrap();
    let verdict = |parts: u64| {
        let more = files.map(|file| {
            let parts = parts.max(file.parts);
            FileEffect { parts, variance: 0.01 / parts as f64, ..file }
        });
        let variance: f64 = more.iter().map(|file| file.variance).sum();
        let luck = 1.281_551_565_5 * (variance + 0.995 * 0.005 / 20_000.0).sqrt();
        let good = ((0.995 - luck) * 20_000.0).round() as u64;
        // Variances grow with the failures.
        let share = good as f64 / 20_000.0;
        let grown = share * (1.0 - share) / (0.995 * 0.005);
        let more = more.map(|file| FileEffect { variance: grown * file.variance, ..file });
        Yield::new(good, 20_000, level()).unwrap().of_population(&more).verdict(0.98)
    };
    assert!(told > 400, "{told}");
    assert_eq!([verdict(told), verdict(told - 1)], [Verdict::Pass, Verdict::NotDecided]);
    assert_eq!(sampled.parts_to_decide(&files, 0.995, &estimator), None);
}

/// So many parts decide in about nine of ten studies with files of their own. The share of the file below the limit
/// is binomial; three values a converter give p³ with the variance 9 p⁴ · p (1 − p)/n.
#[test]
fn the_number_of_parts_told_decides_in_nine_of_ten_cases() {
    let estimator = Estimator::Fixed(level());
    for (met, target) in [(0.967, 0.9), (0.8, 0.9), (0.945, 0.9)] {
        let p = f64::powf(met, 1.0 / 3.0);
        let file = FileEffect { parts: 20, drawn: 3, variance: 9.0 * p.powi(5) * (1.0 - p) / 20.0 };
        let seen = Yield::new((met * SAMPLES as f64) as u64, SAMPLES, level()).unwrap();
        let told = seen.parts_to_decide(&[file], target, &estimator).unwrap() as usize;
        let studies = Studies { rule: Rule::Below, parts: [told, 0], drawn: 3, met, of_other: 0.0 };
        let mut rng = ChaCha8Rng::seed_from_u64(17);
        let decides = |_: &u32| {
            let (sampled, files) = studies.study(&mut rng);
            sampled.of_population(&files).verdict(target) != Verdict::NotDecided
        };
        let decided = (0..400).filter(decides).count();
        // Within three standard errors, and the luck of files is skew.
        assert!((330..=395).contains(&decided), "{met}: {told} parts, {decided} of 400");
    }
}

/// The spread of one value drawn from a file of n: the variance of the mean, Σ (x − mean)²/(n (n − 1)),
/// within four standard errors of 400 files: without the noise of the few samples, half as much again.
#[test]
fn the_variance_of_a_mean_comes_out() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let studies = Studies { rule: Rule::Below, parts: [100, 0], drawn: 1, met: 0.7, of_other: 0.0 };
    let found: Vec<f64> = (0..400).map(|_| studies.study(&mut rng).1[0].variance).collect();
    let mean = found.iter().sum::<f64>() / 400.0;
    let sd = (found.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 399.0).sqrt();
    let exact = 0.7 * 0.3 / 100.0;
    assert!((mean - exact).abs() < 4.0 * sd / 20.0, "{mean} {exact} {sd}");
}
