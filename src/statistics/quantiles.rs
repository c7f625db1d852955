//! Quantiles of many values in bounded memory.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::counters::{Bin, Counters};
use super::kept_values::KeptValues;
use super::{Confidence, Estimator};

/// A multiset of the samples' values: exact up to a cap, then counted in bins.
///
/// Up to `cap` values are kept as they are. More are counted in bins of relative width 2⁻¹², whose
/// middles stand within 2⁻¹³ (0.012 %) of the values; what is smaller than 2⁻¹⁶ (0.0015 %) of the
/// largest magnitude counts as zero. The smallest and largest stay exact. At most 2 × 17 octaves of
/// 4096 counters are held, of those that the values span only whole sixteenths. A counter takes a byte
/// while no count of its sixteenth passes 255 (139 kB in all), and sixteenths with few values less.
/// What is told depends on the values alone: not on their order, nor on merging. At one marked value, as a limit,
/// also bins are exact: those above it are counted apart from the others.
///
/// A sample without a value is pushed as NaN. It counts in every quantile, above all values;
/// [`Self::not_finite`] tells their number.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Quantiles {
    cap: usize,
    /// Values kept as they are: all of them, until the cap is passed; then none.
    kept: KeptValues,
    /// Counters of all values, once the cap is passed.
    counters: Option<Counters>,
    count: u64,
    not_finite: u64,
    min: f64,
    max: f64,
    mark: Option<Mark>,
}

/// A value up to which all values are counted exactly.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Mark {
    at: f64,
    /// The number of values at most there.
    at_most: u64,
}

impl Quantiles {
    /// An empty multiset that keeps up to `cap` values exactly, at 8 bytes each.
    pub const fn exact_up_to(cap: usize) -> Self {
        Self {
            cap,
            kept: KeptValues::new(),
            counters: None,
            count: 0,
            not_finite: 0,
            min: f64::INFINITY,
            max: f64::NEG_INFINITY,
            mark: None,
        }
    }

    /// The same, still empty, with this value marked: how many values are at most so large is told exactly.
    #[must_use]
    pub fn marked_at(self, value: Option<f64>) -> Self {
        Self { mark: value.map(|at| Mark { at, at_most: 0 }), ..self }
    }

    /// Adds the value of one sample; NaN or infinite where it has none.
    pub fn push(&mut self, value: f64) {
        if !value.is_finite() {
            self.not_finite += 1;
            return;
        }
        let value = value + 0.0; // −0 becomes 0: they are one value
        self.count += 1;
        self.min = self.min.min(value);
        self.max = self.max.max(value);
        if let Some(mark) = &mut self.mark {
            mark.at_most += u64::from(value <= mark.at);
        }
        match &mut self.counters {
            Some(counters) => counters.push(value),
            None if self.kept.len() < self.cap => self.kept.extend(&[value]),
            None => self.counted().push(value),
        }
    }

    /// The same for samples that all have a value.
    pub(super) fn push_finite(&mut self, values: &[f64]) {
        let Some(counters) = &mut self.counters else {
            return values.iter().for_each(|value| self.push(*value));
        };
        self.count += values.len() as u64;
        let (mut min, mut max) = (self.min, self.max);
        for value in values {
            let value = value + 0.0;
            min = if value < min { value } else { min };
            max = if value > max { value } else { max };
            counters.push(value);
        }
        (self.min, self.max) = (min, max);
        if let Some(mark) = &mut self.mark {
            mark.at_most += values.iter().map(|value| u64::from(*value <= mark.at)).sum::<u64>();
        }
    }

    /// Adds all values of another, of the same cap and mark.
    pub fn merge(&mut self, other: &Self) {
        for value in other.kept.iter() {
            self.push(value);
        }
        if let Some(counters) = &other.counters {
            self.counted().merge(counters);
            self.count += other.count;
            self.min = self.min.min(other.min);
            self.max = self.max.max(other.max);
            if let (Some(mark), Some(other)) = (&mut self.mark, other.mark) {
                mark.at_most += other.at_most;
            }
        }
        self.not_finite += other.not_finite;
    }

    /// Whether it keeps as many values as another one, and marks the same.
    pub(super) fn is_kept_as(&self, other: &Self) -> bool {
        let marked = |own: &Self| own.mark.map(|mark| mark.at.to_bits());
        self.cap == other.cap && marked(self) == marked(other)
    }

    /// Whether its parts belong together, where it was read from somewhere.
    pub(super) fn is_sound(&self) -> bool {
        let held = match &self.counters {
            Some(counters) => counters.total().filter(|_| self.kept.len() == 0),
            None => (self.kept.len() <= self.cap).then_some(self.kept.len() as u64),
        };
        let is_inside = |value: f64| (self.min..=self.max).contains(&value);
        let has_ends =
            self.count == 0 || self.min.is_finite() && self.max.is_finite() && self.min <= self.max;
        let is_marked = self.mark.is_none_or(|mark| mark.at_most <= self.count);
        held == Some(self.count) && has_ends && is_marked && self.kept.iter().all(is_inside)
    }

    /// The counters, into which the values kept so far go first.
    fn counted(&mut self) -> &mut Counters {
        let counters = self.counters.get_or_insert_default();
        for value in std::mem::take(&mut self.kept).iter() {
            counters.push(value);
        }
        counters
    }

    /// The number of finite values.
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// The number of samples without a value: pushed as NaN or infinite.
    pub const fn not_finite(&self) -> u64 {
        self.not_finite
    }

    /// The smallest value, exact; `None` without values.
    pub fn min(&self) -> Option<f64> {
        (self.count > 0).then_some(self.min)
    }

    /// The largest value, exact; `None` without values.
    pub fn max(&self) -> Option<f64> {
        (self.count > 0).then_some(self.max)
    }

    /// Whether quantiles are exact: no more values than the cap.
    pub const fn is_exact(&self) -> bool {
        self.counters.is_none()
    }

    /// The values in order, to be asked for quantiles and the like; `None` without values.
    ///
    /// Sorts a copy: ask it once, then put the questions to the result.
    pub fn ordered(&self) -> Option<Ordered> {
        let exact = || exact_bins(self.kept.iter());
        let counted = |counters: &Counters| match self.mark {
            Some(mark) => mark.split(counters.bins()),
            None => counters.bins(),
        };
        let bins = self.counters.as_ref().map_or_else(exact, counted);
        let (min, max) = (self.min()?, self.max()?);
        Some(Ordered::new(bins, min, max, self.not_finite))
    }
}

impl Mark {
    /// The bins with the one in which the mark lies in two, so that they tell how many values are at most there.
    fn split(self, mut bins: Vec<Bin>) -> Vec<Bin> {
        let Some(place) = bins.iter().position(|bin| bin.upper > self.at) else { return bins };
        let bin = bins[place];
        if bin.lower > self.at {
            return bins;
        }
        let before: u64 = bins[..place].iter().map(|bin| bin.count).sum();
        let below = self.at_most.saturating_sub(before).min(bin.count);
        let half = |lower: f64, upper: f64, count: u64| Bin {
            lower,
            middle: f64::midpoint(lower, upper),
            upper,
            count,
        };
        let halves = [half(bin.lower, self.at, below), half(self.at, bin.upper, bin.count - below)];
        bins.splice(place..=place, halves.into_iter().filter(|half| half.count > 0));
        bins
    }
}

/// Bins of a value each. Whole numbers in the order of the values sort in nearly half the time.
fn exact_bins(values: impl Iterator<Item = f64>) -> Vec<Bin> {
    let mut keys: Vec<i64> = values.map(order_key).collect();
    keys.sort_unstable();
    let bin = |v: f64| Bin { lower: v, middle: v, upper: v, count: 1 };
    keys.into_iter().map(|key| bin(value_of_key(key))).collect()
}

/// A number that stands among others as the value among values ([`f64::total_cmp`]).
const fn order_key(value: f64) -> i64 {
    with_negatives_turned(value.to_bits().cast_signed())
}

/// The value of [`order_key`].
const fn value_of_key(key: i64) -> f64 {
    f64::from_bits(with_negatives_turned(key).cast_unsigned())
}

/// Turns all bits but the sign where that is set: the larger the magnitude of a negative value, the lower it
/// stands. Undoes itself.
const fn with_negatives_turned(bits: i64) -> i64 {
    bits ^ ((bits >> 63) & i64::MAX)
}

/// An interval of a quantile. Each end holds with half the permitted error, whatever becomes of the
/// other.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct QuantileInterval {
    /// The lower end; null where it is no value.
    pub lower: QuantileEnd,
    /// The upper end; null where it is no value.
    pub upper: QuantileEnd,
}

/// An end of a quantile's interval. In JSON a number, or null where it is no value.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
#[serde(into = "Option<f64>")]
#[schemars(with = "Option<f64>")]
pub enum QuantileEnd {
    /// The value of a sample.
    Value(f64),
    /// It falls among the samples without a value, above all values.
    Beyond,
    /// So few samples do not give this end.
    TooFewSamples,
}

impl QuantileEnd {
    /// The value, if it is one.
    pub const fn value(self) -> Option<f64> {
        match self {
            Self::Value(value) => Some(value),
            Self::Beyond | Self::TooFewSamples => None,
        }
    }
}

impl From<QuantileEnd> for Option<f64> {
    fn from(end: QuantileEnd) -> Self {
        end.value()
    }
}

/// The samples in the order of their values, those without a value last. Holds at least one value.
#[derive(Debug, Clone)]
pub struct Ordered {
    /// Not empty; `count` is the number of values in this bin and all before it.
    bins: Vec<Bin>,
    min: f64,
    max: f64,
    /// Samples without a value.
    not_finite: u64,
}

impl Ordered {
    fn new(mut bins: Vec<Bin>, min: f64, max: f64, not_finite: u64) -> Self {
        let mut total = 0;
        for bin in &mut bins {
            total += bin.count;
            bin.count = total;
            bin.lower = bin.lower.max(min);
            bin.upper = bin.upper.min(max);
            bin.middle = bin.middle.clamp(min, max);
        }
        Self { bins, min, max, not_finite }
    }

    /// The number of values.
    pub fn count(&self) -> u64 {
        self.bins.last().map_or(0, |bin| bin.count)
    }

    /// The number of samples without a value.
    pub const fn not_finite(&self) -> u64 {
        self.not_finite
    }

    /// The number of samples, with and without a value.
    pub fn samples(&self) -> u64 {
        self.count() + self.not_finite
    }

    /// The smallest value.
    pub const fn min(&self) -> f64 {
        self.min
    }

    /// The largest value.
    pub const fn max(&self) -> f64 {
        self.max
    }

    /// The quantile `p` of all samples: the smallest value that at least the fraction `p` of them
    /// keeps to. `None` where it falls among those without a value, and for `p` outside [0, 1].
    ///
    /// The inverse of the empirical distribution; R. J. Hyndman and Y. Fan, Am. Stat. 50 (1996) 361,
    /// definition 1.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let rank = (0.0..=1.0).contains(&p).then(|| rank(p, self.samples()))?;
        self.at(rank).map(|bin| bin.middle)
    }

    /// The same of the values alone, which exists for every `p` within [0, 1]: for the axes of figures.
    pub fn quantile_of_values(&self, p: f64) -> Option<f64> {
        let rank = (0.0..=1.0).contains(&p).then(|| rank(p, self.count()))?;
        self.at(rank).map(|bin| bin.middle)
    }

    /// An interval for the population's quantile `p`, for a number of samples fixed in advance
    /// ([`Ranks::central`]).
    ///
    /// Holds for any distribution. In counted values the ends are moved outwards to the bins' edges.
    ///
    /// [`Ranks::central`]: super::Ranks::central
    pub fn quantile_interval(&self, p: f64, confidence: Confidence) -> QuantileInterval {
        self.quantile_interval_by(p, &Estimator::Fixed(confidence))
    }

    /// The same by [`Estimator::quantile_ranks`].
    pub fn quantile_interval_by(&self, p: f64, estimator: &Estimator) -> QuantileInterval {
        let ranks = estimator.quantile_ranks(self.samples(), p);
        let end = |rank: Option<u64>, value: fn(Bin) -> f64| match rank {
            Some(rank) => {
                self.at(rank).map_or(QuantileEnd::Beyond, |b| QuantileEnd::Value(value(b)))
            }
            None => QuantileEnd::TooFewSamples,
        };
        QuantileInterval {
            lower: end(ranks.lower, |bin| bin.lower),
            upper: end(ranks.upper, |bin| bin.upper),
        }
    }

    /// The number of values at most `x`. Counted values stand at their bin's middle: those within
    /// 0.012 % of `x` may be taken for the wrong side, unless `x` is marked.
    pub fn count_at_most(&self, x: f64) -> u64 {
        if x >= self.max {
            return self.count();
        }
        match self.bins.partition_point(|bin| bin.middle <= x) {
            0 => 0,
            bins => self.bins[bins - 1].count,
        }
    }

    /// The bin with the value of a rank from 1 on; none beyond the values.
    fn at(&self, rank: u64) -> Option<Bin> {
        self.bins.get(self.bins.partition_point(|bin| bin.count < rank)).copied()
    }

    /// Values and how often they stand, in rising order.
    pub(super) fn values(&self) -> impl Iterator<Item = (f64, u64)> {
        let before = std::iter::once(0).chain(self.bins.iter().map(|bin| bin.count));
        self.bins.iter().zip(before).map(|(bin, before)| (bin.middle, bin.count - before))
    }
}

/// ⌈p n⌉, at least 1, forgiving the rounding of p and of the product: 0.07 × 100 is 7.
fn rank(p: f64, count: u64) -> u64 {
    let product = p * count as f64;
    let whole = product.round();
    let rounding = 4.0 * f64::EPSILON * product;
    let rank = if (product - whole).abs() <= rounding { whole } else { product.ceil() };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to the count")]
    let rank = rank as u64;
    rank.clamp(1, count.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Ranks;

    fn quantiles(values: &[f64], cap: usize) -> Quantiles {
        let mut quantiles = Quantiles::exact_up_to(cap);
        for v in values {
            quantiles.push(*v);
        }
        quantiles
    }

    #[test]
    fn quantiles_of_ten_by_hand() {
        let tens: Vec<f64> = (1..=10).rev().map(|i| f64::from(i) * 10.0).collect();
        let ordered = quantiles(&tens, 10).ordered().unwrap();
        for (p, value) in [(0.0, 10.0), (0.1, 10.0), (0.101, 20.0), (0.5, 50.0), (1.0, 100.0)] {
            assert_eq!(ordered.quantile(p), Some(value), "{p}");
        }
        assert_eq!([-0.1, 1.1, f64::NAN].map(|p| ordered.quantile(p)), [None; 3]);
        assert_eq!([9.9, 10.0, 55.0, 100.0].map(|x| ordered.count_at_most(x)), [0, 1, 5, 10]);
        assert_eq!((ordered.count(), ordered.min(), ordered.max()), (10, 10.0, 100.0));
    }

    #[test]
    fn keys_stand_in_the_order_of_their_values() {
        let values =
            [f64::MIN, -1.5, -f64::MIN_POSITIVE, 0.0, 5e-324, 1.0, 1.0 + f64::EPSILON, f64::MAX];
        let keys = values.map(order_key);
        assert!(keys.is_sorted_by(|a, b| a < b), "{keys:?}");
        assert_eq!(keys.map(|key| value_of_key(key).to_bits()), values.map(f64::to_bits));
    }

    #[test]
    fn ranks_forgive_rounding() {
        assert_eq!(rank(0.07, 100), 7); // 0.07 · 100 = 7.000000000000001
        assert_eq!(rank(0.95, 1000), 950);
        assert_eq!(rank(0.29, 100), 29);
        assert_eq!(rank(0.950_001, 1000), 951);
        assert_eq!(rank(1e-9, 1000), 1);
    }

    #[test]
    fn the_switch_comes_with_the_first_value_above_the_cap() {
        let values = [1.0, 2.0, 3.0, 4.0];
        assert!(quantiles(&values, 4).is_exact());
        assert!(!quantiles(&values, 3).is_exact());
        assert!(quantiles(&[], 0).is_exact() && quantiles(&[], 0).ordered().is_none());
        assert!(!quantiles(&[1.0], 0).is_exact());
    }

    #[test]
    fn extremes_stay_exact_when_counted() {
        let ordered = quantiles(&[1.000_01, 1.000_02, 1.000_03], 0).ordered().unwrap();
        assert_eq!((ordered.min(), ordered.max()), (1.000_01, 1.000_03));
        assert_eq!((ordered.count_at_most(1.000_03), ordered.count_at_most(1.0)), (3, 0));
        let median = ordered.quantile(0.5).unwrap(); // all in one bin, within the extremes
        assert!((1.000_01..=1.000_03).contains(&median), "{median}");
        let c = Confidence::new(0.75).unwrap(); // ranks 1 and 3: (1/2)³ is the tail
        let interval = ordered.quantile_interval(0.5, c);
        let ends = [1.000_01, 1.000_03].map(QuantileEnd::Value);
        assert_eq!([interval.lower, interval.upper], ends);
    }

    /// Values that crowd about a mark, counted one by one: in bins too it is known exactly how many are at most there,
    /// and no quantile is taken for the wrong side of it.
    #[test]
    fn values_about_a_mark_are_counted_exactly() {
        let values: Vec<f64> = (0..2000).map(|n| 0.0106 * (1.0 + 1e-7 * f64::from(n))).collect();
        for mark in [values[0], values[700], 0.5 * (values[900] + values[901]), values[1999], 0.02]
        {
            let counted = |values: &[f64], cap: usize| {
                let mut all = Quantiles::exact_up_to(cap).marked_at(Some(mark));
                all.push(values[0]);
                all.push_finite(&values[1..]);
                all
            };
            let (mut joined, whole) = (counted(&values[..1000], 100), counted(&values, 100));
            joined.merge(&counted(&values[1000..], 100));
            let expected = values.iter().filter(|value| **value <= mark).count() as u64;
            for all in [&joined, &whole, &counted(&values, 5000)] {
                assert!(all.is_sound() && all.is_kept_as(all));
                let ordered = all.ordered().unwrap();
                assert_eq!((ordered.count_at_most(mark), ordered.count()), (expected, 2000));
                let counts = [0.9999, 1.0, 1.0001].map(|x| ordered.count_at_most(x * mark));
                assert!(counts.is_sorted(), "{counts:?}");
                for rank in [expected.max(1), (expected + 1).min(2000)] {
                    let value = ordered.quantile(rank as f64 / 2000.0).unwrap();
                    assert_eq!(value <= mark, rank <= expected, "rank {rank}, mark {mark}");
                }
            }
        }
        let plain = Quantiles::exact_up_to(100);
        assert!(!plain.is_kept_as(&plain.clone().marked_at(Some(1.0))));
    }

    #[test]
    fn values_that_are_not_finite_are_counted_apart() {
        let mut q = quantiles(&[f64::NAN, 1.0, f64::INFINITY, 2.0, f64::NEG_INFINITY], 10);
        assert_eq!((q.count(), q.not_finite(), q.min(), q.max()), (2, 3, Some(1.0), Some(2.0)));
        q.merge(&quantiles(&[f64::NAN, 3.0], 10));
        q.merge(&quantiles(&[f64::NAN, 3.0], 0));
        assert_eq!((q.count(), q.not_finite(), q.max()), (4, 5, Some(3.0)));
    }

    /// Eight values and two samples without one, by hand: the 80 % quantile is the largest value.
    #[test]
    fn samples_without_a_value_stand_above_all_values() {
        let mut values: Vec<f64> = (1..=8).map(f64::from).collect();
        values.splice(3..3, [f64::NAN, f64::INFINITY]);
        for cap in [0, 10] {
            let ordered = quantiles(&values, cap).ordered().unwrap();
            assert_eq!((ordered.count(), ordered.not_finite(), ordered.samples()), (8, 2, 10));
            assert_eq!(
                [0.5, 0.8].map(|p| ordered.quantile(p).map(f64::round)),
                [Some(5.0), Some(8.0)]
            );
            assert_eq!([0.81, 0.95, 1.0].map(|p| ordered.quantile(p)), [None; 3]);
            assert_eq!(ordered.quantile_of_values(1.0), Some(8.0));
            assert_eq!(ordered.count_at_most(1e9), 8);
            // Ranks 2 and 9 of ten: 11/1024 on each side.
            let c = Confidence::new(0.978).unwrap();
            let interval = ordered.quantile_interval(0.5, c);
            assert_eq!(interval.lower.value().map(f64::round), Some(2.0));
            assert_eq!(interval.upper, QuantileEnd::Beyond);
        }
    }

    /// 300 samples give no upper end of a 99 % quantile, for which 368 are needed: that end is no value
    /// for want of samples, whether some have no value or not. Rank 293 is the lower end, by the binomial
    /// distribution: P(K ≤ 292) = 0.0111 and P(K ≤ 293) = 0.0328 (computed for this project, in fractions).
    #[test]
    fn an_end_that_so_few_samples_do_not_give_is_not_beyond() {
        let c = Confidence::new(0.95).unwrap();
        for (values, p99) in [(300, Some(297.0)), (295, None), (293, None)] {
            let numbers: Vec<f64> =
                (1..=300).map(|n| if n <= values { f64::from(n) } else { f64::NAN }).collect();
            let ordered = quantiles(&numbers, 300).ordered().unwrap();
            assert_eq!(ordered.quantile(0.99), p99);
            let interval = ordered.quantile_interval(0.99, c);
            assert_eq!(interval.lower, QuantileEnd::Value(293.0));
            assert_eq!(interval.upper, QuantileEnd::TooFewSamples, "{values}");
            let json = serde_json::to_value(interval).unwrap();
            assert_eq!(json, serde_json::json!({"lower": 293.0, "upper": null}));
        }
        let numbers: Vec<f64> =
            (1..=300).map(|n| if n <= 292 { f64::from(n) } else { f64::NAN }).collect();
        let interval = quantiles(&numbers, 300).ordered().unwrap().quantile_interval(0.99, c);
        assert_eq!(interval.lower, QuantileEnd::Beyond, "rank 293 of 292 values");
    }

    #[test]
    fn zeros_of_both_signs_are_one_value() {
        let ordered = quantiles(&[0.0, -0.0, 0.0], 10).ordered().unwrap();
        assert_eq!(ordered.quantile(0.0).map(f64::to_bits), Some(0));
        assert_eq!(ordered.count_at_most(-0.0), 3);
    }

    /// Ends of the interval are the order statistics of the ranks; when counted, beyond them.
    #[test]
    fn intervals_of_counted_values_enclose_the_exact_ones() {
        let values: Vec<f64> = (0..2000).map(|i| (f64::from(i) * 0.7).sin() * 1e-3).collect();
        let c = Confidence::new(0.95).unwrap();
        let exact = quantiles(&values, 2000).ordered().unwrap();
        let counted = quantiles(&values, 1999).ordered().unwrap();
        let mut sorted = values.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        for p in [0.05, 0.5, 0.95, 0.99] {
            let ranks = Ranks::central(2000, p, c);
            let inner = exact.quantile_interval(p, c);
            let ends = [ranks.lower, ranks.upper]
                .map(|rank| sorted[usize::try_from(rank.unwrap()).unwrap() - 1]);
            let ends_of = |i: QuantileInterval| [i.lower, i.upper].map(|e| e.value().unwrap());
            assert_eq!(ends_of(inner).map(f64::to_bits), ends.map(f64::to_bits));
            let outer = ends_of(counted.quantile_interval(p, c));
            for (out, inn) in [(-outer[0], -ends[0]), (outer[1], ends[1])] {
                assert!(out >= inn && out - inn <= inn.abs() / 4096.0, "{p}: {out} {inn}");
            }
        }
        assert_eq!(exact.quantile_interval(0.9999, c).upper, QuantileEnd::TooFewSamples);
    }
}
