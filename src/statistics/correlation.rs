//! Pearson's correlation with its interval.

use super::{Confidence, Interval, Moments, normal};

/// Pearson's coefficient of pairs, with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PearsonCorrelation {
    /// Number of pairs.
    pub pairs: usize,
    /// The coefficient.
    pub estimate: f64,
    /// Its interval.
    pub interval: Interval,
}

impl PearsonCorrelation {
    /// Of values side by side; none below four pairs, or where one side does not scatter.
    ///
    /// R. A. Fisher, Metron 1 (1921) no. 4, 3–32: artanh r is about normal, with variance 1/(n − 3), for
    /// normal values. (From memory; the coverage is counted.)
    pub fn new(first: &[f64], second: &[f64], confidence: Confidence) -> Option<Self> {
        let pairs = first.len().min(second.len());
        let (first, second) = (&first[..pairs], &second[..pairs]);
        let [a, b]: [Moments; 2] = [first, second].map(|values| values.iter().collect());
        let (mean_a, mean_b) = (a.mean()?, b.mean()?);
        let scale = (pairs as f64 - 1.0) * a.sd()? * b.sd()?;
        if pairs < 4 || scale <= 0.0 {
            return None;
        }
        let products = first.iter().zip(second).map(|(x, y)| (x - mean_a) * (y - mean_b));
        let estimate = (products.sum::<f64>() / scale).clamp(-1.0, 1.0);
        let reach = -normal::quantile(confidence.two_sided_tail()) / (pairs as f64 - 3.0).sqrt();
        let end = |side: f64| {
            // At ±1 there is nothing to scatter.
            if estimate.abs() < 1.0 {
                libm::tanh(libm::atanh(estimate) + side * reach)
            } else {
                estimate
            }
        };
        let interval = Interval { lower: end(-1.0), upper: end(1.0) };
        Some(Self { pairs, estimate, interval })
    }

    /// Whether the interval leaves out zero.
    pub fn is_told_from_zero(&self) -> bool {
        self.interval.lower > 0.0 || self.interval.upper < 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: deviations (−1, 0, 1, 0) and (−1, 1, 1, −1) have the correlation 2/√(2 · 4).
    #[test]
    fn correlations_by_hand() {
        let confidence = Confidence::new(0.95).unwrap();
        let found =
            PearsonCorrelation::new(&[1.0, 2.0, 3.0, 2.0], &[4.0, 6.0, 6.0, 4.0], confidence);
        let found = found.unwrap();
        assert!((found.estimate - 0.5_f64.sqrt()).abs() < 1e-15 && found.pairs == 4);
        // artanh(√½) ± 1.959964 by hand: 0.881374 − 1.959964 = −1.078590.
        assert!((found.interval.lower - (-1.078_590_f64).tanh()).abs() < 1e-6);
        assert!(!found.is_told_from_zero());
        let line = [1.0, 2.0, 3.0, 4.0, 7.0];
        let whole = PearsonCorrelation::new(&line, &line, confidence).unwrap();
        assert!((whole.interval.upper - 1.0).abs() < 1e-9 && whole.is_told_from_zero());
        assert_eq!(PearsonCorrelation::new(&line, &[1.0; 5], confidence), None);
        assert_eq!(PearsonCorrelation::new(&line[..3], &line, confidence), None);
    }
}
