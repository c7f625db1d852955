//! The key figures of one figure over all samples.

use std::ops::Range;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::pairwise_moments::PairwiseMoments;
use super::{Confidence, Estimator, Interval, Moments, Ordered, QuantileInterval, Quantiles};

/// A value and the sample that it belongs to.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct Extreme {
    /// The value.
    pub value: f64,
    /// The number of the sample; of several with this value, the lowest.
    pub sample: u64,
}

/// Moments, quantiles and extremes of one figure.
///
/// A sample without a value is pushed as NaN: out of range, not solved. It stands above all values in
/// the quantiles, and in no other figure; [`Self::not_finite`] tells their number.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Distribution {
    moments: PairwiseMoments,
    quantiles: Quantiles,
    min: Option<Extreme>,
    max: Option<Extreme>,
}

impl Distribution {
    /// An empty distribution whose quantiles are exact up to `cap` values ([`Quantiles`]).
    pub const fn exact_up_to(cap: usize) -> Self {
        Self {
            moments: PairwiseMoments::new(),
            quantiles: Quantiles::exact_up_to(cap),
            min: None,
            max: None,
        }
    }

    /// The same, still empty, with this value marked, as a limit ([`Quantiles::marked_at`]).
    #[must_use]
    pub fn marked_at(self, value: Option<f64>) -> Self {
        Self { quantiles: self.quantiles.marked_at(value), ..self }
    }

    /// Adds the value of a sample; NaN or infinite where it has none. The samples come in the order of
    /// their numbers, on which the last digit of the moments depends.
    pub fn push(&mut self, sample: u64, value: f64) {
        self.quantiles.push(value);
        if value.is_finite() {
            self.moments.push(sample, &[value]);
            self.stretch(Extreme { value, sample });
        }
    }

    /// Adds the values of samples that follow each other, from the given number on; they come in the order of
    /// their numbers.
    pub fn push_run(&mut self, first: u64, values: &[f64]) {
        if !values.iter().all(|value| value.is_finite()) {
            let samples = (first..).zip(values);
            return samples.for_each(|(sample, value)| self.push(sample, *value));
        }
        self.quantiles.push_finite(values);
        self.moments.push(first, values);
        let ends = [self.quantiles.min(), self.quantiles.max()];
        if ends == [self.min, self.max].map(|own| own.map(|own| own.value)) {
            return;
        }
        for (sample, value) in (first..).zip(values) {
            self.stretch(Extreme { value: *value, sample });
        }
    }

    /// Adds all values of later samples, which begin at a multiple of [`LEAF`], with the same cap.
    ///
    /// [`LEAF`]: super::LEAF
    pub fn merge(&mut self, later: &Self) {
        self.moments.merge(&later.moments);
        self.quantiles.merge(&later.quantiles);
        later.min.into_iter().chain(later.max).for_each(|extreme| self.stretch(extreme));
    }

    /// Whether another one, which was read from somewhere, can be that of all samples of these numbers, or of
    /// none: kept in the same way, and sound by itself.
    pub fn accepts(&self, read: &Self, samples: &Range<u64>) -> bool {
        let Self { moments, quantiles, min, max } = read;
        let taken = quantiles.count().checked_add(quantiles.not_finite());
        let is_all = taken.is_some_and(|taken| [0, samples.end - samples.start].contains(&taken));
        let ends = [min, max].map(|end| end.filter(|own| samples.contains(&own.sample)));
        is_all
            && quantiles.is_sound()
            && quantiles.is_kept_as(&self.quantiles)
            && moments.is_of(samples)
            && moments.count() == quantiles.count()
            && ends.map(|end| end.map(|own| own.value)) == [quantiles.min(), quantiles.max()]
    }

    fn stretch(&mut self, new: Extreme) {
        let replaces = |old: Option<Extreme>, beyond: fn(&f64, &f64) -> bool| {
            old.is_none_or(|old| {
                beyond(&new.value, &old.value)
                    || (!beyond(&old.value, &new.value) && new.sample < old.sample)
            })
        };
        if replaces(self.min, f64::lt) {
            self.min = Some(new);
        }
        if replaces(self.max, f64::gt) {
            self.max = Some(new);
        }
    }

    /// Count, mean and standard deviation.
    pub fn moments(&self) -> Moments {
        self.moments.total()
    }

    /// The smallest value; `None` without values.
    pub const fn min(&self) -> Option<Extreme> {
        self.min
    }

    /// The largest value; `None` without values.
    pub const fn max(&self) -> Option<Extreme> {
        self.max
    }

    /// The number of samples without a value.
    pub const fn not_finite(&self) -> u64 {
        self.quantiles.not_finite()
    }

    /// The values in order, for quantiles and histograms; `None` without values.
    pub fn ordered(&self) -> Option<Ordered> {
        self.quantiles.ordered()
    }

    /// All figures with their intervals, for a number of samples fixed in advance; `None` without
    /// finite values.
    pub fn key_figures(&self, confidence: Confidence) -> Option<KeyFigures> {
        self.key_figures_by(&Estimator::Fixed(confidence))
    }

    /// All figures with the intervals of an estimator. Student's interval of the mean needs a number of
    /// samples fixed in advance.
    pub fn key_figures_by(&self, estimator: &Estimator) -> Option<KeyFigures> {
        let confidence = estimator.confidence();
        let is_fixed = matches!(estimator, Estimator::Fixed(_));
        let ordered = self.ordered()?;
        let (min, max) = (self.min?, self.max?);
        let moments = self.moments();
        let [p05, p50, p95, p99] = [0.05, 0.50, 0.95, 0.99];
        let interval = |p| ordered.quantile_interval_by(p, estimator);
        Some(KeyFigures {
            count: moments.count(),
            not_finite: self.not_finite(),
            exact: self.quantiles.is_exact(),
            confidence,
            mean: moments.mean()?,
            mean_interval: is_fixed.then(|| moments.mean_interval(confidence)).flatten(),
            sd: moments.sd(),
            standard_error: moments.standard_error(),
            min: min.value,
            min_sample: min.sample,
            max: max.value,
            max_sample: max.sample,
            p05: ordered.quantile(p05),
            p05_interval: interval(p05),
            p50: ordered.quantile(p50),
            p50_interval: interval(p50),
            p95: ordered.quantile(p95),
            p95_interval: interval(p95),
            p99: ordered.quantile(p99),
            p99_interval: interval(p99),
        })
    }
}

/// Key figures of a distribution, in the unit of its values.
///
/// Quantiles are of all samples: those without a value stand above all values. A quantile among them
/// is `None`, and null in JSON. Mean, standard deviation, smallest and largest are of the values alone.
/// An end of an interval is null where it falls among samples without a value, or where so few samples
/// do not give it.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct KeyFigures {
    /// Number of samples with a value: those that mean, standard deviation, smallest and largest are
    /// of.
    pub count: u64,
    /// Number of samples without a value: out of range, not solved.
    pub not_finite: u64,
    /// Whether the quantiles are exact, or from bins 0.024 % wide.
    pub exact: bool,
    /// Confidence level of all intervals.
    pub confidence: Confidence,
    /// Mean of the values.
    pub mean: f64,
    /// Interval of the population's mean, by Student's t; null after `--decide`, where it does not
    /// hold.
    pub mean_interval: Option<Interval>,
    /// Standard deviation of the values, with n − 1.
    pub sd: Option<f64>,
    /// Standard deviation of the mean.
    pub standard_error: Option<f64>,
    /// Smallest value seen.
    pub min: f64,
    /// The sample it comes from.
    pub min_sample: u64,
    /// Largest value seen.
    pub max: f64,
    /// The sample it comes from.
    pub max_sample: u64,
    /// 5 % quantile of all samples; null where it lies above all values.
    pub p05: Option<f64>,
    /// Its interval, from order statistics.
    pub p05_interval: QuantileInterval,
    /// Median of all samples; null where it lies above all values.
    pub p50: Option<f64>,
    /// Its interval, from order statistics.
    pub p50_interval: QuantileInterval,
    /// 95 % quantile of all samples; null where it lies above all values.
    pub p95: Option<f64>,
    /// Its interval, from order statistics.
    pub p95_interval: QuantileInterval,
    /// 99 % quantile of all samples; null where it lies above all values.
    pub p99: Option<f64>,
    /// Its interval, from order statistics.
    pub p99_interval: QuantileInterval,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::QuantileEnd;

    fn distribution(values: &[(u64, f64)]) -> Distribution {
        let mut distribution = Distribution::exact_up_to(100);
        for (sample, value) in values {
            distribution.push(*sample, *value);
        }
        distribution
    }

    fn confidence() -> Confidence {
        Confidence::new(0.95).unwrap()
    }

    #[test]
    fn extremes_belong_to_the_lowest_sample_whatever_the_order() {
        let mut values = [(7, 1.0), (3, 5.0), (9, 1.0), (4, 5.0), (5, 2.0), (2, f64::NAN)];
        for _ in 0..values.len() {
            values.rotate_left(1);
            let d = distribution(&values);
            assert_eq!(d.min(), Some(Extreme { value: 1.0, sample: 7 }));
            assert_eq!(d.max(), Some(Extreme { value: 5.0, sample: 3 }));
            for split in 0..=values.len() {
                let mut merged = distribution(&values[..split]);
                merged.merge(&distribution(&values[split..]));
                assert_eq!((merged.min(), merged.max()), (d.min(), d.max()));
            }
        }
    }

    /// Ends that come twice, samples without a value, more values than are kept.
    #[test]
    fn a_run_is_the_same_as_its_values_one_by_one() {
        let value = |n: u32| if n % 97 == 5 { f64::NAN } else { f64::from(n * 617 % 201) - 100.0 };
        let values: Vec<f64> = (0..1500).map(value).collect();
        for (cap, length) in [(2000, 100), (300, 1), (300, 64), (0, 256), (0, 1500)] {
            let (mut one_by_one, mut in_runs) =
                (Distribution::exact_up_to(cap), Distribution::exact_up_to(cap));
            (0..).zip(&values).for_each(|(sample, value)| one_by_one.push(sample, *value));
            for (n, run) in values.chunks(length).enumerate() {
                in_runs.push_run((n * length) as u64, run);
            }
            let [expected, found] =
                [&one_by_one, &in_runs].map(|own| serde_json::to_string(own).unwrap());
            assert_eq!(found, expected);
            assert_eq!((in_runs.min(), in_runs.max()), (one_by_one.min(), one_by_one.max()));
        }
    }

    #[test]
    fn one_value_has_figures_but_no_whole_interval() {
        let s = distribution(&[(4, 2.5)]).key_figures(confidence()).unwrap();
        assert_eq!((s.mean, s.min, s.max), (2.5, 2.5, 2.5));
        assert_eq!([s.p05, s.p50, s.p99], [Some(2.5); 3]);
        assert_eq!((s.min_sample, s.max_sample, s.count), (4, 4, 1));
        assert_eq!((s.sd, s.standard_error, s.mean_interval), (None, None, None));
        // One value lies below a 99 % quantile with a probability of 99 %, above 97.5 %: a lower end.
        // It lies above a 5 % quantile with a probability of 95 %, below 97.5 %: no upper end.
        let (value, none) = (QuantileEnd::Value(2.5), QuantileEnd::TooFewSamples);
        let ends = [s.p05_interval, s.p50_interval, s.p99_interval].map(|i| [i.lower, i.upper]);
        assert_eq!(ends, [[none; 2], [none; 2], [value, none]]);
        let json = serde_json::to_value(s).unwrap();
        assert!(json["p99_interval"]["upper"].is_null() && json["sd"].is_null());
        assert_eq!(json["p95"], 2.5);
    }

    #[test]
    fn samples_without_a_value_enter_the_quantiles_alone() {
        let d = distribution(&[(0, f64::NAN), (1, 1.0), (2, f64::INFINITY), (3, 3.0)]);
        let s = d.key_figures(confidence()).unwrap();
        assert_eq!((s.count, s.not_finite, s.mean, s.max), (2, 2, 2.0, 3.0));
        assert_eq!((s.p50, s.p95), (Some(3.0), None), "two of four have no value");
        assert!(serde_json::to_value(s).unwrap()["p95"].is_null());
        let none = distribution(&[(0, f64::NAN)]);
        assert_eq!((none.key_figures(confidence()), none.not_finite()), (None, 1));
    }

    #[test]
    fn intervals_enclose_their_figures() {
        let values: Vec<(u64, f64)> =
            (0..1000_u32).map(|i| (u64::from(i), f64::from(i * 617 % 1000))).collect();
        let s = distribution(&values).key_figures(confidence()).unwrap();
        assert!(!s.exact && s.count == 1000);
        let mean = s.mean_interval.unwrap();
        assert!(mean.lower < s.mean && s.mean < mean.upper, "{mean:?}");
        for (value, interval) in [
            (s.p05, s.p05_interval),
            (s.p50, s.p50_interval),
            (s.p95, s.p95_interval),
            (s.p99, s.p99_interval),
        ] {
            let [lower, upper] = [interval.lower, interval.upper].map(QuantileEnd::value);
            assert!(lower < value && value < upper, "{value:?} {interval:?}");
        }
    }
}
