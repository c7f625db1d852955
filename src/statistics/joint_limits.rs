//! Upper limits of two figures that hold together.

use std::cmp::{Ordering, Reverse};
use std::collections::{BinaryHeap, HashSet};

use super::{Confidence, Ranks};

/// The largest values that are kept of each figure. Where more would be cut off, the limits are
/// higher than they need be.
const KEPT: usize = 1 << 17;

/// The samples with the largest values of two figures.
///
/// Memory is bounded: at most 2¹⁷ samples are kept of each figure. What is told depends on the samples
/// alone, not on their order.
#[derive(Debug, Clone, Default)]
pub struct LargestPairs {
    samples: u64,
    not_finite: u64,
    largest: [BinaryHeap<Reverse<RankedPair>>; 2],
}

/// A sample and the value that it is ranked by.
#[derive(Debug, Clone, Copy)]
struct RankedPair {
    value: f64,
    sample: u64,
}

impl LargestPairs {
    /// Adds the values of a sample, its number being new; NaN or infinite where it has none.
    pub fn push(&mut self, sample: u64, values: [f64; 2]) {
        self.samples += 1;
        if !values.iter().all(|value| value.is_finite()) {
            self.not_finite += 1;
            return;
        }
        for (largest, value) in self.largest.iter_mut().zip(values) {
            largest.push(Reverse(RankedPair { value, sample }));
            if largest.len() > KEPT {
                largest.pop();
            }
        }
    }

    /// Samples, with and without a value.
    pub const fn samples(&self) -> u64 {
        self.samples
    }

    /// Samples that have a value.
    pub fn with_value(&self) -> u64 {
        self.samples - self.not_finite
    }

    /// Whether [`Self::limits`] would exist if every sample had a value: each figure takes a cut.
    pub fn would_suffice(&self, content: f64, confidence: Confidence) -> bool {
        let ranks = Ranks::central(self.samples, content, confidence);
        ranks.upper.is_some_and(|upper| self.samples + 1 - upper >= 2)
    }

    /// Limits of both figures that, together, at least the fraction `content` of the population
    /// keeps to; `None` where the samples do not suffice.
    ///
    /// One statement for both, wrong with a probability of at most (1 − confidence) / 2, as the upper
    /// end of a single figure's interval ([`Ranks::central`]). With u for the rank of that end among n
    /// samples, n + 1 − u samples are cut off: by turns that with the largest first and that with
    /// the largest second figure of those left. Samples without a value go first. The limits are
    /// the values of the last sample cut off by each figure.
    ///
    /// J. W. Tukey, "Nonparametric estimation II: statistically equivalent blocks and tolerance
    /// regions", Ann. Math. Statist. 18 (1947) 529–539 (from memory): each cut takes one of n + 1
    /// blocks of equal distribution, in whatever order the figures are cut, if it is fixed in advance.
    /// What is left holds u blocks, as what lies below the u-th value of a single figure.
    pub fn limits(&self, content: f64, confidence: Confidence) -> Option<[f64; 2]> {
        let upper = Ranks::central(self.samples, content, confidence).upper?;
        let cuts = (self.samples + 1 - upper).checked_sub(self.not_finite)?;
        let kept = self.largest.each_ref().map(|heap| heap.clone().into_sorted_vec());
        let mut left = kept.each_ref().map(|pairs| pairs.iter().map(|Reverse(pair)| *pair));
        let mut limits = [None; 2];
        let mut cut_off = HashSet::new();
        for cut in (self.not_finite..).take(usize::try_from(cuts).ok()?.min(KEPT)) {
            let figure = usize::from(cut % 2 == 1);
            let largest = left[figure].find(|pair| !cut_off.contains(&pair.sample))?;
            cut_off.insert(largest.sample);
            limits[figure] = Some(largest.value);
        }
        Some([limits[0]?, limits[1]?])
    }
}

impl Ord for RankedPair {
    fn cmp(&self, other: &Self) -> Ordering {
        self.value.total_cmp(&other.value).then(other.sample.cmp(&self.sample))
    }
}

impl PartialOrd for RankedPair {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for RankedPair {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for RankedPair {}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

    use super::*;
    use crate::statistics::beta::{Portion, binomial_at_least};
    use crate::statistics::{Distribution, Yield};

    fn confidence() -> Confidence {
        Confidence::new(0.95).unwrap()
    }

    /// 1000 samples at 95 %: rank 964, so that 37 are cut off (`tests/statistics/published/`). Of
    /// figures that rise together 19 cuts are by the first and 18 by the second; the limits are the
    /// last two. Without a value for 36 there is but one cut left: no limits of both.
    #[test]
    fn limits_by_hand() {
        let with = |not_finite: u64| {
            let mut pairs = LargestPairs::default();
            for sample in 0..1000 {
                let value = if sample < not_finite { f64::NAN } else { (sample + 1) as f64 };
                pairs.push(sample, [value, 10.0 * value]);
            }
            pairs.limits(0.95, confidence())
        };
        let limits = |first: f64, second: f64| Some([first, second]);
        assert_eq!(with(0), limits(964.0, 9650.0));
        assert_eq!(with(1), limits(965.0, 9660.0), "the cut of 965 is by the first figure");
        assert_eq!(with(35), limits(999.0, 10_000.0));
        assert_eq!([with(36), with(37), with(1000)], [None; 3]);
    }

    #[test]
    fn the_order_of_the_samples_does_not_matter() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let all: Vec<[f64; 2]> = (0..400).map(|_| [rng.random(), rng.random()]).collect();
        let (mut forward, mut backward) = (LargestPairs::default(), LargestPairs::default());
        (0..).zip(&all).for_each(|(n, pair)| forward.push(n, *pair));
        (0..400).rev().zip(all.iter().rev()).for_each(|(n, pair)| backward.push(n, *pair));
        assert!(forward.limits(0.9, confidence()).is_some());
        assert_eq!(forward.limits(0.9, confidence()), backward.limits(0.9, confidence()));
    }

    /// A population with a closed form: 1 % fail; of the others 70 % have two equal uniform figures
    /// and 30 % two independent ones. The limits miss the content exactly as often as the binomial
    /// says. Two limits, each by itself at the same level, miss it several times as often.
    #[test]
    fn the_content_is_missed_as_seldom_as_promised() {
        const REPEATS: u32 = 4000;
        const SAMPLES: u64 = 600;
        let (failing, equal, content) = (0.01, 0.7, 0.95);
        let held = |[a, b]: [f64; 2]| {
            (1.0 - failing) * (equal * f64::min(a, b) + (1.0 - equal) * a * b) >= content
        };
        let mut rng = ChaCha8Rng::seed_from_u64(41);
        let (mut missed, mut missed_apart) = (0_u32, 0_u32);
        for _ in 0..REPEATS {
            let mut pairs = LargestPairs::default();
            let mut apart = [Distribution::exact_up_to(1000), Distribution::exact_up_to(1000)];
            let (mut drawn, mut good) = (Vec::new(), 0);
            for sample in 0..SAMPLES {
                let [first, second]: [f64; 2] = [rng.random(), rng.random()];
                let second = if rng.random::<f64>() < equal { first } else { second };
                let fails = rng.random::<f64>() < failing;
                let values = if fails { [f64::NAN; 2] } else { [first, second] };
                pairs.push(sample, values);
                drawn.push(values);
                apart.iter_mut().zip(values).for_each(|(figure, value)| figure.push(sample, value));
            }
            let limits = pairs.limits(content, confidence()).unwrap();
            good += drawn.iter().filter(|v| v[0] <= limits[0] && v[1] <= limits[1]).count() as u64;
            let found = Yield::new(good, SAMPLES, confidence()).unwrap();
            assert!(found.lower >= content, "the interval of the yield meets the target: {good}");
            missed += u32::from(!held(limits));
            let single = apart.each_ref().map(|figure| {
                let ordered = figure.ordered().unwrap();
                ordered.quantile_interval(content, confidence()).upper.value().unwrap()
            });
            missed_apart += u32::from(!held(single));
        }
        let upper = Ranks::central(SAMPLES, content, confidence()).upper.unwrap();
        let promised = binomial_at_least(upper, SAMPLES, Portion::new(content));
        assert!(promised <= 0.025);
        let error = (promised * (1.0 - promised) / f64::from(REPEATS)).sqrt();
        let [missed, apart] = [missed, missed_apart].map(|n| f64::from(n) / f64::from(REPEATS));
        assert!((missed - promised).abs() < 4.0 * error, "{missed}, not {promised}");
        assert!(apart > 0.05, "{apart}");
    }
}
