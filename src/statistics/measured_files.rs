//! The yield of all parts that files of measured parts were drawn from.
//!
//! A study that draws the parts of a file tells the yield of these parts. The file itself is a sample,
//! and often a small one. How much the yield would vary from file to file follows from the samples of
//! the study: each tells which parts it holds and whether it passes. [`InfluenceTally`] counts that, and
//! [`Yield::of_population`] widens the interval by it.

use super::beta;
use super::normal;
use super::proportion::smallest;
use super::{Estimator, IntervalMethod, StateError, TallyState, Verdict, Yield};

/// A part of a file that a sample holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldPart {
    /// Its index among the parts of the file, by rising value.
    pub index: usize,
    /// The probability that it was drawn with, which lies in the cell of that part.
    pub probability: f64,
    /// Slope over this probability of the logarithm of the density that all probabilities of the
    /// sample have together; zero where parts are drawn independently.
    pub slope: f64,
}

/// What the parts of one file do to the yields of a study: the samples' scores, summed.
///
/// With weights w on the parts instead of 1/n each, the study would have another yield. Its slope over
/// the weight of part i is the mean of S(i) over the samples that pass (B. Efron, The Jackknife, the
/// Bootstrap and Other Resampling Plans, SIAM 1982, chapter 6: infinitesimal jackknife; content from
/// memory). For held parts k with index j(k), probability u(k) and slope s(k)
///
/// ```text
/// S(i) = Σ n [j(k) = i] − 1 + s(k) (H(i, u(k)) − u(k))
/// ```
///
/// with H(i, u) the distribution function of the cell of part i: 0 below it, 1 above. The second part
/// is there because more weight on one part moves the cells of all others.
///
/// Even and odd samples are kept apart. The product of both sums is free of the noise that the square
/// of one would have.
#[derive(Debug, Clone)]
pub struct InfluenceTally {
    parts: usize,
    halves: [HalfTally; 2],
}

/// The sums of every other sample.
#[derive(Debug, Clone)]
struct HalfTally {
    all: ScoreSums,
    /// Of the failing samples, one a yield.
    failing: Vec<ScoreSums>,
}

/// The scores of some samples, summed.
#[derive(Debug, Clone)]
struct ScoreSums {
    samples: u64,
    /// What counts for every part.
    common: f64,
    /// What counts for one part.
    alone: Vec<f64>,
    /// What counts for every part below one.
    below: Vec<f64>,
}

/// Scores are rounded to its inverse, 2⁻¹²: their sums are then exact below 2⁴¹, in whatever order and parts
/// they are taken. A score is some whole numbers, so the rounding is far below the noise of the samples.
const GRID: f64 = 4096.0;

fn rounded(score: f64) -> f64 {
    (score * GRID).round() / GRID
}

impl ScoreSums {
    fn new(parts: usize) -> Self {
        Self { samples: 0, common: 0.0, alone: vec![0.0; parts], below: vec![0.0; parts] }
    }

    fn add(&mut self, held: &[HeldPart]) {
        self.samples += 1;
        let parts = self.alone.len() as f64;
        for HeldPart { index, probability, slope } in held {
            self.common -= 1.0 + rounded(slope * probability);
            self.alone[*index] += parts + rounded(slope * (probability * parts - *index as f64));
            self.below[*index] += rounded(*slope);
        }
    }

    fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        state.count(&mut self.samples)?;
        state.sums(std::slice::from_mut(&mut self.common))?;
        state.sums(&mut self.alone)?;
        state.sums(&mut self.below)
    }

    /// The sum of each part.
    fn of_parts(&self) -> Vec<f64> {
        let mut above = 0.0;
        let mut sums: Vec<f64> = Vec::with_capacity(self.alone.len());
        for (alone, below) in self.alone.iter().zip(&self.below).rev() {
            sums.push(self.common + alone + above);
            above += below;
        }
        sums.reverse();
        sums
    }
}

impl HalfTally {
    /// The slopes of a failure rate over the weights of the parts, less their mean. Scores have the
    /// mean zero, so the rate times their sum takes nothing but noise away.
    fn slopes(&self, outcome: usize) -> Vec<f64> {
        let failing = &self.failing[outcome];
        let samples = self.all.samples.max(1) as f64;
        let rate = failing.samples as f64 / samples;
        let sums = failing.of_parts().into_iter().zip(self.all.of_parts());
        let slopes: Vec<f64> = sums.map(|(fails, all)| (fails - rate * all) / samples).collect();
        let mean = slopes.iter().sum::<f64>() / slopes.len().max(1) as f64;
        slopes.into_iter().map(|slope| slope - mean).collect()
    }
}

impl InfluenceTally {
    /// No samples yet of a file with so many parts, for so many yields.
    pub fn new(parts: usize, yields: usize) -> Self {
        let half =
            HalfTally { all: ScoreSums::new(parts), failing: vec![ScoreSums::new(parts); yields] };
        Self { parts, halves: [half.clone(), half] }
    }

    /// Takes a sample: the parts of the file that it holds, and of each yield whether it passes.
    pub fn add(&mut self, sample: u64, held: &[HeldPart], passes: &[bool]) {
        let half = &mut self.halves[usize::from(!sample.is_multiple_of(2))];
        half.all.add(held);
        let failing = half.failing.iter_mut().zip(passes).filter(|(_, passes)| !**passes);
        failing.for_each(|(sums, _)| sums.add(held));
    }

    /// Writes the sums, or adds those of other samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        for half in &mut self.halves {
            half.all.exchange(state)?;
            half.failing.iter_mut().try_for_each(|own| own.exchange(state))?;
        }
        Ok(())
    }

    /// The variance of a yield from file to file, to first order in the parts: zero or more.
    pub fn variance(&self, outcome: usize) -> f64 {
        let [first, second] = self.halves.each_ref().map(|half| half.slopes(outcome));
        let products: f64 = first.iter().zip(second).map(|(a, b)| a * b).sum();
        let parts = self.parts as f64;
        (products / (parts * (parts - 1.0).max(1.0))).max(0.0)
    }
}

/// What one file of measured parts does to a yield.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FileEffect {
    /// Parts in the file.
    pub parts: u64,
    /// Parts of it that are drawn for one converter.
    pub drawn: u32,
    /// Variance of the yield from file to file.
    pub variance: f64,
}

impl FileEffect {
    /// Several columns of one file. Their parts may depend on each other, so standard deviations add:
    /// the most that they can.
    #[must_use]
    pub fn of_columns(self, other: Self) -> Self {
        let deviation = self.variance.sqrt() + other.variance.sqrt();
        Self {
            parts: self.parts.min(other.parts),
            drawn: self.drawn.max(other.drawn),
            variance: deviation * deviation,
        }
    }

    /// The share of converters that hold one more part of the file, were there one.
    fn share_with_one_more(&self) -> f64 {
        let parts = self.parts as f64;
        -libm::expm1(f64::from(self.drawn) * libm::log(parts / (parts + 1.0)))
    }

    /// The same with as many parts at least.
    fn with_parts(self, parts: u64) -> Self {
        let parts = parts.max(self.parts);
        Self { parts, variance: self.variance * self.parts as f64 / parts as f64, ..self }
    }
}

/// The most parts and samples worth telling.
const MOST_PARTS: u64 = 1_000_000;
const MOST_SAMPLES: u64 = 1_000_000_000;

impl Yield {
    /// The same yield with an interval for all parts that some files were drawn from, where this one is
    /// for the parts of the files. It holds this interval. `self` where there are no files.
    ///
    /// For the lower end one file gets one more part that always fails. The failure rate is then a beta
    /// quantile with its variance (E. L. Korn, B. I. Graubard, Survey Methodology 24 (1998) 193–201:
    /// Clopper and Pearson's interval for the effective number of samples; content from memory). The
    /// part stands for those that a file does not show, as M. P. Fay and E. J. Feuer do for weighted
    /// sums (Statistics in Medicine 16 (1997) 791–801; from memory). With one part a converter and a
    /// file without a failure that is nearly Clopper and Pearson's end for its n parts. The upper end is
    /// the mirror image. The distances of both intervals from the estimate add as root of the sum of
    /// squares (Newcombe 1998; G. Y. Zou, A. Donner, Statistics in Medicine 27 (2008) 1693–1702).
    #[must_use]
    pub fn of_population(&self, files: &[FileEffect]) -> Self {
        let files: Vec<&FileEffect> = files.iter().filter(|file| file.drawn > 0).collect();
        if files.is_empty() {
            return *self;
        }
        let variance: f64 = files.iter().map(|file| file.variance).sum();
        let one_more = files.iter().map(|file| file.share_with_one_more()).fold(0.0, f64::max);
        let failing = 1.0 - self.estimate;
        let tail = self.confidence.two_sided_tail();
        let end = |rate| WithOneMore { rate, variance, share: one_more }.upper_end(tail);
        let distance = |file: f64, samples: f64| libm::hypot(file, samples.max(0.0));
        let lower = distance(end(failing) - failing, self.estimate - self.lower);
        let upper = distance(end(self.estimate) - self.estimate, self.upper - self.estimate);
        // Where none fails, no failure is known of: the upper end is 1.
        let is_known = self.successes < self.trials;
        Self {
            lower: if self.successes == 0 { 0.0 } else { (self.estimate - lower).max(0.0) },
            upper: if is_known { (self.estimate + upper).min(1.0) } else { 1.0 },
            method: IntervalMethod::MeasuredFiles,
            ..*self
        }
    }

    /// Whether ever more samples, all else as seen, lead to a verdict on all such parts. Else the files hold too
    /// few. `self` is for the parts of the files.
    pub fn samples_may_decide(&self, files: &[FileEffect], target: f64) -> bool {
        let certain = Self { lower: self.estimate, upper: self.estimate, ..*self };
        certain.of_population(files).verdict(target) != Verdict::NotDecided
    }

    /// Passes of a further study that comes nearer to the target than nine in ten do, where its yield has this
    /// standard deviation about the one seen.
    fn unlucky(&self, deviation: f64, target: f64, samples: u64) -> u64 {
        let towards_target = if self.estimate < target { 1.0 } else { -1.0 };
        let luck = normal::quantile(0.9) * deviation;
        let share = (self.estimate + towards_target * luck).clamp(0.0, 1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 10⁹")]
        let good = (share * samples as f64).round() as u64;
        good
    }

    /// Samples in all, of a study whose intervals are made like this, that lead to a verdict on all such parts
    /// with a probability of some 90 %, if all else stays as seen; `None` if 10⁹ would not do. `self` is for the
    /// parts of the files. The luck of that study is taken as normal.
    pub fn samples_to_decide_population(
        &self,
        files: &[FileEffect],
        target: f64,
        estimator: &Estimator,
    ) -> Option<u64> {
        let decides = |samples: u64| {
            let deviation = (self.estimate * (1.0 - self.estimate) / samples as f64).sqrt();
            let found = estimator.estimate(self.unlucky(deviation, target, samples), samples);
            found.is_ok_and(|own| own.of_population(files).verdict(target) != Verdict::NotDecided)
        };
        smallest(self.trials, MOST_SAMPLES, decides)
    }

    /// Parts that every one of the files must hold at least for a verdict on all such parts with a probability of
    /// some 90 %, if all else stays as seen; `None` if a million would not do. `self` is for the parts of the
    /// files. The luck of the new files and of their samples is taken as normal, and variances as in proportion to
    /// yield times failure rate. The yield and the variance that were seen are luck too: near a yield of 1 so many
    /// parts decided in 50 to 70 % of repeated studies.
    pub fn parts_to_decide(
        &self,
        files: &[FileEffect],
        target: f64,
        estimator: &Estimator,
    ) -> Option<u64> {
        let of_samples = self.estimate * (1.0 - self.estimate) / self.trials as f64;
        let decides = |parts: u64| {
            let mut files: Vec<FileEffect> =
                files.iter().map(|file| file.with_parts(parts)).collect();
            let of_files: f64 = files.iter().map(|file| file.variance).sum();
            let good = self.unlucky((of_files + of_samples).sqrt(), target, self.trials);
            let Ok(found) = estimator.estimate(good, self.trials) else { return false };
            let share = found.estimate;
            let grown = share * (1.0 - share) / (self.estimate * (1.0 - self.estimate));
            if grown.is_finite() {
                for file in &mut files {
                    file.variance *= grown;
                }
            }
            found.of_population(&files).verdict(target) != Verdict::NotDecided
        };
        smallest(1, MOST_PARTS, decides)
    }
}

/// A rate, and one more part that always counts for it.
struct WithOneMore {
    rate: f64,
    variance: f64,
    /// Share of the converters that hold this part.
    share: f64,
}

impl WithOneMore {
    /// The upper end of the rate's interval: never below the rate.
    fn upper_end(&self, tail: f64) -> f64 {
        let Self { rate, variance, share } = *self;
        let rest = 1.0 - share;
        let mean = 1.0 - (1.0 - rate) * rest;
        let variance = variance * rest * rest + (share * (1.0 - rate)).powi(2);
        let size = mean * (1.0 - mean) / variance;
        // A rate of 1, or one that nothing limits.
        if mean >= 1.0 || !size.is_finite() {
            return 1.0;
        }
        let others = beta::quantile((1.0 - mean) * size, mean * size, tail);
        (1.0 - others).max(rate)
    }
}
