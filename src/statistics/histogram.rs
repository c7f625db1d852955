//! Histograms over bins of equal width or of equal ratio.

use schemars::JsonSchema;
use serde::Serialize;

use super::Ordered;

/// Edges of adjoining bins, rising; at least two.
///
/// Bins of equal width are 1, 2 or 5 times a power of ten wide, the edges whole multiples of it.
/// Bins of equal ratio divide a decade into a whole number of them.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
#[serde(transparent)]
pub struct Edges(Vec<f64>);

impl Edges {
    /// Fewest and most bins of [`Self::covering`], before the width is made readable.
    const BINS: (f64, f64) = (10.0, 60.0);

    /// Edges from `low` or below to `high` or above, with at most about `bins` bins.
    ///
    /// Both ends must be finite; they may come in either order, or coincide.
    pub fn readable(low: f64, high: f64, bins: u32) -> Self {
        let (low, high) = (low.min(high), low.max(high));
        let bins = f64::from(bins.max(1));
        let magnitude = low.abs().max(high.abs());
        // Not so fine that edges would coincide; an interval of no width gets one bin.
        let floor = if magnitude > 1e-290 { magnitude * 1e-9 } else { 1.0 };
        let step = Step::at_least((high / bins - low / bins).max(floor));
        let mut last = step.last_up_to(low) + 1;
        let mut edges = vec![step.times(last - 1), step.times(last)];
        while step.times(last) < high {
            last += 1;
            edges.push(step.times(last));
        }
        Self(edges)
    }

    /// Edges of equal ratio from `low` or below to `high` or above, with at most about `bins`
    /// bins: for figures that stand decades apart. `None` unless 0 < `low` ≤ `high`, both finite.
    pub fn by_ratio(low: f64, high: f64, bins: u32) -> Option<Self> {
        if !(low > 0.0 && low <= high && high.is_finite()) {
            return None;
        }
        let decades = libm::log10(high) - libm::log10(low);
        let divisions = [50.0, 40.0, 25.0, 20.0, 10.0, 5.0, 4.0, 2.0, 1.0]
            .into_iter()
            .find(|n| decades * n <= f64::from(bins))
            .unwrap_or(1.0);
        let edge_at = |n: f64| libm::pow(10.0, n / divisions);
        let mut at = (libm::log10(low) * divisions).floor();
        while edge_at(at) > low {
            at -= 1.0; // the logarithm was rounded up
        }
        let mut edges = vec![edge_at(at), edge_at(at + 1.0)];
        at += 1.0;
        while edge_at(at) < high {
            at += 1.0;
            edges.push(edge_at(at));
        }
        Some(Self(edges))
    }

    /// Edges for one figure, or for several to be compared; `None` for none.
    ///
    /// They reach from the 0.1 % to the 99.9 % quantile, and on to the extremes where these are not
    /// farther out than a tenth of that. The width follows D. Freedman and P. Diaconis,
    /// Z. Wahrscheinlichkeitstheorie 57 (1981) 453–476: 2 · interquartile range / ∛n, the finest of
    /// the figures, within 10 to 60 bins.
    pub fn covering(figures: &[&Ordered]) -> Option<Self> {
        let spans: Vec<(f64, f64, f64)> = figures.iter().filter_map(|o| span(o)).collect();
        let low = spans.iter().map(|s| s.0).min_by(f64::total_cmp)?;
        let high = spans.iter().map(|s| s.1).max_by(f64::total_cmp)?;
        let width = spans.iter().map(|s| s.2).filter(|w| *w > 0.0).min_by(f64::total_cmp);
        let wanted = width.map_or(Self::BINS.1, |width| (high - low) / width);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let bins = wanted.clamp(Self::BINS.0, Self::BINS.1) as u32;
        Some(Self::readable(low, high, bins))
    }

    /// The edges, one more than there are bins.
    pub fn values(&self) -> &[f64] {
        &self.0
    }
}

/// Low end, high end and width for one figure.
fn span(values: &Ordered) -> Option<(f64, f64, f64)> {
    let [low, first, third, high] =
        [0.001, 0.25, 0.75, 0.999].map(|p| values.quantile_of_values(p));
    let (low, high) = (low?, high?);
    let margin = 0.1 * (high - low);
    let start = if values.min() >= low - margin { values.min() } else { low };
    let end = if values.max() <= high + margin { values.max() } else { high };
    Some((start, end, 2.0 * (third? - first?) / libm::cbrt(values.count() as f64)))
}

/// `mantissa` · 10^`exponent`, with 1, 2 or 5 for the mantissa.
#[derive(Debug, Clone, Copy)]
struct Step {
    mantissa: i64,
    exponent: i32,
}

impl Step {
    fn at_least(width: f64) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "clamped")]
        let exponent = libm::log10(width).floor().clamp(-300.0, 306.0) as i32;
        [(1, 0), (2, 0), (5, 0), (1, 1)]
            .map(|(mantissa, more)| Self { mantissa, exponent: exponent + more })
            .into_iter()
            .find(|step| step.times(1) >= width)
            .unwrap_or(Self { mantissa: 2, exponent: exponent + 1 })
    }

    /// The multiple, rounded once: 3 · 0.1 is 0.3.
    fn times(self, multiple: i64) -> f64 {
        let whole = (multiple * self.mantissa) as f64;
        let power = 10.0_f64.powi(self.exponent.abs());
        if self.exponent < 0 { whole / power } else { whole * power }
    }

    /// The last multiple that is not above `x`.
    fn last_up_to(self, x: f64) -> i64 {
        #[expect(clippy::cast_possible_truncation, reason = "a step is 10⁻⁹ of x or more")]
        let near = (x / self.times(1)).floor() as i64;
        [near + 1, near].into_iter().find(|m| self.times(*m) <= x).unwrap_or(near - 1)
    }
}

/// How many samples lie in each bin, and outside: every sample is in one of the counts.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Histogram {
    /// The edges; a bin holds its lower edge, the last one its upper too.
    pub edges: Edges,
    /// Values in each bin.
    pub counts: Vec<u64>,
    /// Values below the first edge.
    pub below: u64,
    /// Values above the last edge.
    pub above: u64,
    /// Samples without a value: out of range, not solved.
    pub not_finite: u64,
}

impl Histogram {
    /// Sorts values into bins. Counted values stand at the middle of theirs: those within 0.012 % of
    /// an edge may be taken for the wrong side.
    pub fn new(values: &Ordered, edges: &Edges) -> Self {
        let bins = edges.0.len() - 1;
        let mut counts = vec![0; bins];
        let (mut below, mut above) = (0, 0);
        for (value, count) in values.values() {
            let passed = edges.0.partition_point(|edge| *edge <= value);
            let at_last_edge = passed > bins && value <= edges.0[bins];
            match passed {
                0 => below += count,
                _ if at_last_edge => counts[bins - 1] += count,
                _ if passed > bins => above += count,
                _ => counts[passed - 1] += count,
            }
        }
        let not_finite = values.not_finite();
        Self { edges: edges.clone(), counts, below, above, not_finite }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Quantiles;

    fn ordered(values: impl IntoIterator<Item = f64>, cap: usize) -> Ordered {
        let mut quantiles = Quantiles::exact_up_to(cap);
        values.into_iter().for_each(|v| quantiles.push(v));
        quantiles.ordered().unwrap()
    }

    #[test]
    fn edges_are_readable_and_reach_both_ends() {
        assert_eq!(Edges::readable(0.12, 0.98, 10).values()[..3], [0.1, 0.2, 0.3]);
        assert_eq!(Edges::readable(0.0, 1.0, 5).values(), [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]);
        assert_eq!(Edges::readable(-3.0, 8.0, 3).values(), [-5.0, 0.0, 5.0, 10.0]);
        assert_eq!(Edges::readable(0.3, 0.7, 4).values(), [0.3, 0.4, 0.5, 0.6, 0.7]);
        for (low, high) in
            [(1e-9, 3.3e-7), (-2e6, 41.0), (99.9, 100.1), (-7e-3, -6.5e-3), (3.0, 4e40)]
        {
            for bins in [1, 10, 37, 60] {
                let edges = Edges::readable(low, high, bins);
                let e = edges.values();
                assert!(e[0] <= low && e[e.len() - 1] >= high, "{low} {high}: {e:?}");
                assert!(e.windows(2).all(|pair| pair[0] < pair[1]));
                assert!(e.len() <= bins as usize + 3, "{low} {high}: {e:?}");
                assert!(e[1] > low && e[e.len() - 2] < high, "no empty bin: {e:?}");
            }
        }
    }

    #[test]
    fn edges_of_equal_ratio_divide_decades() {
        let near = |edges: &Edges, expected: &[f64]| {
            let pairs = edges.values().iter().zip(expected);
            edges.values().len() == expected.len()
                && pairs.into_iter().all(|(e, x)| (e / x - 1.0).abs() < 1e-12)
        };
        let root = 10.0_f64.sqrt();
        let two = Edges::by_ratio(0.011, 9.9, 6).unwrap();
        assert!(near(&two, &[0.01, 0.01 * root, 0.1, 0.1 * root, 1.0, root, 10.0]), "{two:?}");
        assert!(near(&Edges::by_ratio(2.0, 500.0, 1).unwrap(), &[1.0, 10.0, 100.0, 1000.0]));
        for (low, high) in [(1e-9, 3.3e-7), (0.004, 1.9), (0.1, 0.1), (1e-4, 1e3), (7.0, 7.1)] {
            for bins in [10, 37, 60] {
                let edges = Edges::by_ratio(low, high, bins).unwrap();
                let e = edges.values();
                assert!(e[0] <= low && e[e.len() - 1] >= high, "{low} {high}: {e:?}");
                assert!(e.windows(2).all(|pair| pair[0] < pair[1]));
                assert!(e.len() <= bins as usize + 3, "{low} {high}: {e:?}");
            }
        }
        for (low, high) in
            [(0.0, 1.0), (-1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)]
        {
            assert_eq!(Edges::by_ratio(low, high, 10), None);
        }
    }

    #[test]
    fn an_interval_of_no_width_has_one_bin() {
        for v in [0.0, 5.0, -1e-3, 1e300, 1e-305] {
            let edges = Edges::readable(v, v, 20);
            let e = edges.values();
            assert_eq!(e.len(), 2, "{e:?}");
            assert!(e[0] <= v && v <= e[1] && e[0] < e[1], "{v}: {e:?}");
        }
    }

    #[test]
    fn every_sample_is_counted_once() {
        let values = ordered([-1.0, 0.0, 0.1, f64::NAN, 0.2, 0.95, 1.0, 1.5, 7.0], 100);
        let histogram = Histogram::new(&values, &Edges::readable(0.0, 1.0, 5));
        assert_eq!(histogram.counts, [2, 1, 0, 0, 2]); // 0.2 opens the second bin, 1 closes the last
        assert_eq!((histogram.below, histogram.above, histogram.not_finite), (1, 2, 1));
    }

    #[test]
    fn outliers_do_not_stretch_the_edges() {
        let values = (0..10_000).map(|i| f64::from(i) / 1e4).chain([1000.0]);
        let values = ordered(values, 100);
        let edges = Edges::covering(&[&values]).unwrap();
        let e = edges.values();
        assert!(e[0].abs() < 1e-12 && e[e.len() - 1] <= 1.1, "{e:?}");
        assert!((10..=62).contains(&e.len()), "{e:?}");
        let histogram = Histogram::new(&values, &edges);
        assert!(histogram.above >= 1);
        let all = histogram.counts.iter().sum::<u64>() + histogram.below + histogram.above;
        assert_eq!(all, 10_001);
    }

    #[test]
    fn figures_to_compare_share_their_edges() {
        let narrow = ordered((0..1000).map(|i| f64::from(i) * 1e-5), 2000);
        let wide = ordered((0..1000).map(|i| f64::from(i) * 1e-3), 2000);
        let edges = Edges::covering(&[&narrow, &wide]).unwrap();
        assert!(edges.values().last().is_some_and(|e| *e >= 0.999));
        let first_bin = Histogram::new(&narrow, &edges).counts[0];
        assert_eq!(first_bin, 1000);
        assert_eq!(Edges::covering(&[]), None);
    }
}
