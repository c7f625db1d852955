//! Mean and standard deviation in one pass.

use serde::{Deserialize, Serialize};

use super::memo::{Memo, recalled};
use super::{Confidence, Interval, beta};

thread_local! {
    /// All figures of a study have about the same number of values, and one confidence.
    static STUDENT: Memo<(f64, f64), f64> = const { Memo::new(Vec::new()) };
}

/// Running count, mean and sum of squared deviations.
///
/// B. P. Welford, Technometrics 4 (1962) 419–420: free of the cancellation of Σx² − n x̄². A value
/// that is not finite makes mean and deviation NaN: keep it out ([`Distribution`] does).
///
/// [`Distribution`]: super::Distribution
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Moments {
    count: u64,
    mean: f64,
    squares: f64,
}

impl Moments {
    /// No values yet.
    pub const fn new() -> Self {
        Self { count: 0, mean: 0.0, squares: 0.0 }
    }

    /// Of one value or more, from the sum of their differences from a number and that of the squares of these.
    ///
    /// T. F. Chan et al., "Algorithms for computing the sample variance", The American Statistician 37 (1983)
    /// 242–247: shifted data (from memory).
    pub(super) fn about(origin: f64, count: u64, [sum, squares]: [f64; 2]) -> Self {
        let apart = sum / count as f64;
        let squares = squares - sum * apart;
        // Rounding may make less than nothing of values that are all the same.
        let squares = if squares < 0.0 { 0.0 } else { squares };
        Self { count, mean: origin + apart, squares }
    }

    /// Adds one value.
    pub fn push(&mut self, value: f64) {
        self.count += 1;
        let before = value - self.mean;
        self.mean += before / self.count as f64;
        self.squares += before * (value - self.mean);
    }

    /// Adds all values of another.
    ///
    /// T. F. Chan et al., "Updating formulae and a pairwise algorithm for
    /// computing sample variances", Stanford STAN-CS-79-773 (1979), equation 2.1.
    pub fn merge(&mut self, other: &Self) {
        if other.count == 0 {
            return;
        }
        let total = self.count + other.count;
        let share = other.count as f64 / total as f64;
        let apart = other.mean - self.mean;
        self.mean += apart * share;
        self.squares += other.squares + apart * apart * share * self.count as f64;
        self.count = total;
    }

    /// The number of values.
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// The mean; `None` without values.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// The standard deviation of the population, estimated with n − 1; `None` below two values.
    pub fn sd(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.squares / (self.count - 1) as f64).sqrt())
    }

    /// The standard deviation of the mean, sd / √n; `None` below two values.
    pub fn standard_error(&self) -> Option<f64> {
        self.sd().map(|sd| sd / (self.count as f64).sqrt())
    }

    /// Central interval of the population's mean by Student's t; `None` below two values.
    ///
    /// Exact for normal values, otherwise approximate by the central limit theorem.
    pub fn mean_interval(&self, confidence: Confidence) -> Option<Interval> {
        let error = self.standard_error()?;
        let freedom = (self.count - 1) as f64;
        let outside = confidence.one_sided_tail();
        let quantile =
            recalled(&STUDENT, (freedom, outside), || beta::student_quantile(freedom, outside));
        let reach = quantile * error;
        Some(Interval { lower: self.mean - reach, upper: self.mean + reach })
    }
}

impl<'a> FromIterator<&'a f64> for Moments {
    fn from_iter<I: IntoIterator<Item = &'a f64>>(values: I) -> Self {
        let mut moments = Self::new();
        for value in values {
            moments.push(*value);
        }
        moments
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments(values: &[f64]) -> Moments {
        let mut moments = Moments::default();
        for v in values {
            moments.push(*v);
        }
        moments
    }

    #[test]
    fn by_hand() {
        let m = moments(&[2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]); // mean 5, squares 32
        assert_eq!(m.count(), 8);
        assert!((m.mean().unwrap() - 5.0).abs() < 1e-15);
        assert!((m.sd().unwrap() - (32.0_f64 / 7.0).sqrt()).abs() < 1e-15);
        assert!((m.standard_error().unwrap() - (32.0_f64 / 56.0).sqrt()).abs() < 1e-15);
    }

    #[test]
    fn too_few_values_give_no_figure() {
        assert_eq!((moments(&[]).mean(), moments(&[]).sd()), (None, None));
        let one = moments(&[3.0]);
        assert_eq!((one.mean(), one.sd(), one.standard_error()), (Some(3.0), None, None));
        assert_eq!(one.mean_interval(Confidence::new(0.95).unwrap()), None);
    }

    #[test]
    fn merging_any_split_agrees_with_one_pass() {
        let values: Vec<f64> = (0..200_u32).map(|i| 1e6 + f64::from(i * i % 97)).collect();
        let whole = moments(&values);
        for split in [0, 1, 2, 57, 199, 200] {
            let (left, right) = values.split_at(split);
            let mut merged = moments(left);
            merged.merge(&moments(right));
            assert_eq!(merged.count(), 200);
            assert!((merged.mean().unwrap() - whole.mean().unwrap()).abs() < 1e-9, "{split}");
            assert!((merged.sd().unwrap() - whole.sd().unwrap()).abs() < 1e-8, "{split}");
        }
    }

    /// Two values a ± d: t of one degree is tan(π/2 · confidence), the standard error is d.
    #[test]
    fn interval_of_two_values_has_a_closed_form() {
        let interval = moments(&[9.0, 11.0]).mean_interval(Confidence::new(0.5).unwrap()).unwrap();
        assert!((interval.lower - 9.0).abs() < 1e-12 && (interval.upper - 11.0).abs() < 1e-12);
    }
}
