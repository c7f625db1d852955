//! Intervals of a standard deviation and of a process capability.

use super::{Confidence, Interval, Moments, normal};

/// Interval of the standard deviation of values of any shape that is not very long-tailed; none
/// below five values or where all are equal.
///
/// D. G. Bonett, "Approximate confidence interval for standard deviation of nonnormal distributions",
/// Comput. Stat. Data Anal. 50 (2006) 775–782: ln s² is about normal, with a variance that follows
/// from the kurtosis about a trimmed mean. (Formulae from memory; the coverage is counted.)
pub fn sd_interval(values: &[f64], confidence: Confidence) -> Option<Interval> {
    let n = values.len() as f64;
    let moments: Moments = values.iter().collect();
    let sd = moments.sd().filter(|sd| *sd > 0.0 && n > 4.0)?;
    let z = -normal::quantile(confidence.two_sided_tail());
    if n <= z {
        return None;
    }
    let centre = trimmed_mean(values, 0.5 / (n - 4.0).sqrt());
    let fourth: f64 = values.iter().map(|x| (x - centre) * (x - centre)).map(|q| q * q).sum();
    let squares = (n - 1.0) * sd * sd;
    let kurtosis = n * fourth / (squares * squares);
    let scale = n / (n - z);
    let error = scale * ((kurtosis - (n - 3.0) / n) / (n - 1.0)).max(0.0).sqrt();
    let end = |side: f64| (scale * libm::exp(side * z * error)).sqrt() * sd;
    Some(Interval { lower: end(-1.0), upper: end(1.0) })
}

/// How far the limits of inspection are from the process, in its own spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capability {
    /// Distance of the limits by six standard deviations.
    pub cp: f64,
    /// Distance of the nearer limit from the mean by three standard deviations.
    pub cpk: f64,
    /// Interval of `cpk`, if the values are normal and inspection has screened out none; none of a process
    /// that inspection cuts.
    pub cpk_interval: Option<Interval>,
}

impl Capability {
    /// Of values against limits; none below two values or where all are equal.
    ///
    /// NIST/SEMATECH e-Handbook, 6.1.6. The interval there is that of A. F. Bissell, Appl. Stat. 39
    /// (1990) 331: Cpk ± z √(1/(9 n) + Cpk²/(2 (n − 1))).
    pub fn new(values: &[f64], limits: Interval, confidence: Confidence) -> Option<Self> {
        let moments: Moments = values.iter().collect();
        let sd = moments.sd().filter(|sd| *sd > 0.0)?;
        let mean = moments.mean()?;
        let n = values.len() as f64;
        let cpk = (limits.upper - mean).min(mean - limits.lower) / (3.0 * sd);
        let z = -normal::quantile(confidence.two_sided_tail());
        let reach = z * (1.0 / (9.0 * n) + cpk * cpk / (2.0 * (n - 1.0))).sqrt();
        let interval = Interval { lower: cpk - reach, upper: cpk + reach };
        Some(Self { cpk_interval: Some(interval), ..Self::of_process(mean, sd, limits) })
    }

    /// Of a process of which inspection leaves a part: the values that are left scatter less, and would flatter
    /// it.
    pub fn of_process(mean: f64, sigma: f64, limits: Interval) -> Self {
        Self {
            cp: (limits.upper - limits.lower) / (6.0 * sigma),
            cpk: (limits.upper - mean).min(mean - limits.lower) / (3.0 * sigma),
            cpk_interval: None,
        }
    }
}

/// The mean without a share of the smallest values, and without as many of the largest.
fn trimmed_mean(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below half")]
    let cut = (share.clamp(0.0, 0.5) * sorted.len() as f64) as usize;
    let kept = sorted.get(cut..sorted.len() - cut).filter(|kept| !kept.is_empty());
    let moments: Moments = kept.unwrap_or(&sorted).iter().collect();
    moments.mean().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trimmed_means_by_hand() {
        let values = [9.0, 1.0, 2.0, 3.0];
        assert!((trimmed_mean(&values, 0.25) - 2.5).abs() < 1e-15);
        assert!((trimmed_mean(&values, 0.2) - 3.75).abs() < 1e-15);
        assert!((trimmed_mean(&values, 0.5) - 3.75).abs() < 1e-15, "never without values");
    }

    #[test]
    fn what_has_no_spread_has_no_interval() {
        let confidence = Confidence::new(0.95).unwrap();
        assert_eq!(sd_interval(&[1.0; 9], confidence), None);
        assert_eq!(sd_interval(&[1.0, 2.0, 3.0, 4.0], confidence), None);
        let limits = Interval { lower: 0.0, upper: 2.0 };
        assert_eq!(Capability::new(&[1.0; 9], limits, confidence), None);
    }
}
