//! Histograms of shares, one over the other.

use maud::{Markup, html};

use super::curve_names::{NamedCurve, curve_names};
use super::{
    ACROSS, Axis, HEIGHT, INSIDE, Mark, Name, Rectangle, UPWARDS, across, figure, packed_counts,
    percent, steps, taken, upright, upwards,
};

/// Counts of a histogram, with the class of its arrangement.
#[derive(Debug)]
pub(in crate::report) struct HistogramSeries<'a> {
    /// The class.
    pub class: &'static str,
    /// The name beside it.
    pub name: &'static str,
    /// Samples in each bin.
    pub counts: &'a [u64],
}

/// The samples of a histogram.
#[derive(Debug)]
pub(in crate::report) struct HistogramSamples<'a> {
    /// Edges of the bins.
    pub edges: &'a [f64],
    /// One over the other.
    pub series: Vec<HistogramSeries<'a>>,
    /// All samples, those outside of the bins included.
    pub samples: u64,
}

/// Histograms of shares over the same edges; `limit` is drawn upright.
pub(in crate::report) fn histogram(
    name: &Name,
    axis_name: &str,
    shown: &HistogramSamples,
    limit: Option<&Mark>,
) -> Markup {
    let HistogramSamples { edges, series, samples } = shown;
    let x = Axis::over(edges, ACROSS);
    let share = |count: u64| count as f64 / *samples as f64;
    let most = series.iter().flat_map(|own| own.counts).fold(0, |a, b| a.max(*b));
    let y = Axis::linear(0.0, if most > 0 { 1.05 * share(most) } else { 1.0 }, UPWARDS);
    let outline = |counts: &[u64]| {
        let bins = edges.iter().skip(1).zip(counts);
        let tops = bins.map(|(edge, count)| (y.at(share(*count)), x.at(*edge)));
        steps(ACROSS.from, UPWARDS.from, tops)
    };
    let columns: Vec<Vec<Rectangle>> = series
        .iter()
        .map(|own| {
            let bins = edges.windows(2).zip(own.counts).filter(|(_, count)| **count > 0);
            let column = |(ends, count): (&[f64], &u64)| Rectangle {
                left: x.at(ends[0]),
                top: y.at(share(*count)),
                right: x.at(ends[1]),
                bottom: UPWARDS.from,
            };
            bins.map(column).collect()
        })
        .collect();
    let tops = |own: &Rectangle| [[own.left, own.top], [own.right, own.top]];
    let named = series.iter().zip(&columns).map(|(own, columns)| NamedCurve {
        class: own.class,
        name: own.name,
        points: columns.iter().flat_map(tops).collect(),
    });
    let named: Vec<NamedCurve<'_>> = named.collect();
    let columns: Vec<Rectangle> = columns.into_iter().flatten().collect();
    let bins = x.divided(edges.len().saturating_sub(1), *samples);
    let inside = html! {
        (upwards(&y, "share"))
        (across(&x, UPWARDS, axis_name, percent))
        @for HistogramSeries { class, counts, .. } in series {
            path class=(format!("{class} area")) data-bins=(bins.told()) data-counts=(packed_counts(counts))
                d=(outline(counts)) {}
        }
        (curve_names(&named, INSIDE, &taken(columns, &x, limit)))
        (upright(&x, UPWARDS, limit))
    };
    figure(name, HEIGHT, &inside)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_histogram_reaches_as_high_as_its_shares() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let series = vec![HistogramSeries { class: "chain", name: "<c>", counts: &[1, 2] }];
        let shown = HistogramSamples { edges: &[0.0, 1.0, 2.0], series, samples: 2 };
        let text = histogram(&name, "x", &shown, None);
        let y = Axis::linear(0.0, 1.05, UPWARDS);
        let middle = f64::midpoint(ACROSS.from, ACROSS.to);
        let tops = [(y.at(0.5), middle), (y.at(1.0), ACROSS.to)];
        let outline = steps(ACROSS.from, UPWARDS.from, tops.into_iter());
        assert!(text.0.contains(&format!("d=\"{outline}\"")), "{}", text.0);
        assert!(text.0.contains(">&lt;c&gt;<"), "its name: {}", text.0);
    }

    #[test]
    fn a_limit_beyond_the_axis_is_left_out() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let mark = Mark { value: 2.0, label: "<limit>".into() };
        let series = vec![HistogramSeries { class: "chain", name: "c", counts: &[1] }];
        let shown = HistogramSamples { edges: &[0.0, 1.0], series, samples: 1 };
        let text = histogram(&name, "x", &shown, Some(&mark)).0;
        assert!(!text.contains("limit"), "a line at the end would lie");
    }
}
