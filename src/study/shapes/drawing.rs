//! What the figures of a column show.

use super::column::ColumnShapes;
use super::fit::ShapeFit;
use crate::statistics::Edges;

/// Most points of a probability plot.
const MOST_POINTS: usize = 200;
/// Points of a density.
const DENSITY_POINTS: u32 = 160;

/// Deviations from nominal in bins.
#[derive(Debug, Clone)]
pub struct DeviationHistogram {
    /// Edges of the bins.
    pub edges: Edges,
    /// Share of the values in each bin.
    pub shares: Vec<f64>,
    /// Number of the values in each bin.
    pub counts: Vec<u64>,
}

impl ColumnShapes {
    /// The fitted values in bins, about as wide as Freedman and Diaconis advise.
    pub fn histogram(&self) -> DeviationHistogram {
        let values = self.ratios.values();
        let quartile = |part: usize| values[part * (values.len() - 1) / 4];
        let width = 2.0 * (quartile(3) - quartile(1)) / libm::cbrt(values.len() as f64);
        let span = self.ratios.largest() - self.ratios.smallest();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let bins = if width > 0.0 { (span / width).clamp(5.0, 60.0) as u32 } else { 30 };
        let [low, high] = [self.ratios.smallest(), self.ratios.largest()].map(|ratio| ratio - 1.0);
        let edges = Edges::readable(low, high, bins);
        let last = edges.values().len() - 2;
        let mut counts = vec![0_u64; last + 1];
        for ratio in values {
            let bin = edges.values().partition_point(|edge| *edge <= ratio - 1.0).saturating_sub(1);
            counts[bin.min(last)] += 1;
        }
        let share = |count: &u64| *count as f64 / values.len() as f64;
        DeviationHistogram { edges, shares: counts.iter().map(share).collect(), counts }
    }

    /// Points of a probability plot: the deviation that the fitted shape expects, and the measured one.
    /// The probability of the i-th of n values is (i − ½)/n. Of many values some are left out, the
    /// outermost never.
    pub fn plotted(&self, fit: &ShapeFit) -> Vec<(f64, f64)> {
        let values = self.ratios.values();
        let n = values.len();
        let points = n.min(MOST_POINTS);
        let place = |k: usize| if points < 2 { 0 } else { k * (n - 1) / (points - 1) };
        let expected = |i: usize| fit.shape.quantile((i as f64 + 0.5) / n as f64);
        (0..points).map(place).map(|i| (expected(i) - 1.0, values[i] - 1.0)).collect()
    }
}

impl DeviationHistogram {
    /// The share of all values that a shape expects in a bin about each deviation.
    pub fn expected(&self, fit: &ShapeFit) -> Vec<(f64, f64)> {
        let edges = self.edges.values();
        let (low, high) = (edges[0], edges[edges.len() - 1]);
        let width = edges[1] - edges[0];
        let at = |k: u32| low + (high - low) * f64::from(k) / f64::from(DENSITY_POINTS);
        let share = |deviation: f64| width * fit.shape.density(1.0 + deviation);
        (0..=DENSITY_POINTS).map(at).map(|deviation| (deviation, share(deviation))).collect()
    }
}
