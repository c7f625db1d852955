//! Figures of measured values: a histogram with fitted densities, and probability plots.

use maud::{Markup, html};

use super::curve_names::{NamedCurve, curve_names};
use super::{
    ACROSS, Axis, Ends, HEIGHT, INSIDE, Name, Rectangle, UPWARDS, across, figure, path, percent,
    px, upwards,
};

/// Left and right end of a probability plot.
const PLOT: Ends = Ends { from: 62.0, to: ACROSS.to };

/// A fitted density.
#[derive(Debug)]
pub(in crate::report) struct DensityCurve {
    /// Class of its stroke.
    pub class: &'static str,
    /// The name beside it.
    pub name: &'static str,
    /// Values with the share of all that a bin there would hold.
    pub points: Vec<(f64, f64)>,
}

/// A histogram with densities.
#[derive(Debug)]
pub(in crate::report) struct Densities<'a> {
    /// Edges of the bins.
    pub edges: &'a [f64],
    /// Share of all values in each bin.
    pub shares: Vec<f64>,
    /// Fitted densities.
    pub curves: Vec<DensityCurve>,
}

/// A histogram with densities over it.
pub(in crate::report) fn densities(name: &Name, axis_name: &str, drawn: &Densities<'_>) -> Markup {
    let ends = [drawn.edges.first(), drawn.edges.last()].map(|edge| edge.copied().unwrap_or(0.0));
    let x = Axis::linear(ends[0], ends[1], ACROSS);
    let tops = drawn.curves.iter().flat_map(|curve| &curve.points).map(|(_, share)| *share);
    let most = tops.chain(drawn.shares.iter().copied()).fold(0.0, f64::max);
    let y = Axis::linear(0.0, if most > 0.0 { 1.05 * most } else { 1.0 }, UPWARDS);
    let bins = drawn.edges.windows(2).zip(&drawn.shares);
    let columns: Vec<Rectangle> = bins
        .clone()
        .map(|(ends, share)| Rectangle {
            left: x.at(ends[0]),
            top: y.at(*share),
            right: x.at(ends[1]),
            bottom: UPWARDS.from,
        })
        .collect();
    let named = drawn.curves.iter().map(|curve| {
        let points = curve.points.iter().filter(|(at, _)| x.holds(*at));
        let points = points.map(|(at, share)| [x.at(*at), y.at(*share)]).collect();
        NamedCurve { class: curve.class, name: curve.name, points }
    });
    let named: Vec<NamedCurve<'_>> = named.collect();
    let outline = bins.flat_map(|(edge, share)| edge.iter().map(|at| (*at, *share)));
    let outline = [(ends[0], 0.0)].into_iter().chain(outline).chain([(ends[1], 0.0)]);
    let inside = html! {
        (upwards(&y, "share of the values"))
        (across(&x, UPWARDS, axis_name, percent))
        path class="measured area" d=(path(outline.map(|(at, share)| (x.at(at), y.at(share))))) {}
        @for curve in &drawn.curves {
            @let points = curve.points.iter().filter(|(at, _)| x.holds(*at));
            path class=(format!("line {}", curve.class))
                d=(path(points.map(|(at, share)| (x.at(*at), y.at(*share))))) {}
        }
        (curve_names(&named, INSIDE, &columns))
    };
    figure(name, HEIGHT, &inside)
}

/// A probability plot: what each value should be in the fitted shape, and what it is. Points on the
/// line fit.
pub(in crate::report) fn probability_plot(name: &Name, points: &[(f64, f64)]) -> Markup {
    let all = || points.iter().flat_map(|(expected, found)| [*expected, *found]);
    let (low, high) =
        (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
    let margin = 0.04 * (high - low);
    let x = Axis::linear(low - margin, high + margin, PLOT);
    let y = Axis::linear(low - margin, high + margin, UPWARDS);
    let inside = html! {
        @for tick in y.ticks() {
            @let level = px(y.at(tick));
            line class="grid" x1=(px(PLOT.from)) x2=(px(PLOT.to)) y1=(level) y2=(level) {}
            text x=(px(PLOT.from - 7.0)) y=(px(y.at(tick) + 4.0)) text-anchor="end" { (percent(tick)) }
        }
        text class="name" x="2" y="13" { "measured deviation" }
        (across(&x, UPWARDS, "deviation in the fitted shape", percent))
        line class="limit" x1=(px(PLOT.from)) x2=(px(PLOT.to)) y1=(px(UPWARDS.from))
            y2=(px(UPWARDS.to)) {}
        @for (expected, found) in points {
            circle class="measured" cx=(px(x.at(*expected))) cy=(px(y.at(*found))) r="2.6" {}
        }
    };
    figure(name, HEIGHT, &inside)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name() -> Name {
        Name { id: "a".into(), title: "<b>".into(), description: "c".into() }
    }

    #[test]
    fn bins_and_curves_stand_where_their_values_are() {
        let curve = DensityCurve {
            class: "fit-1",
            name: "normal",
            points: vec![(-0.01, 0.25), (0.01, 0.5), (0.9, 0.1)],
        };
        let drawn =
            Densities { edges: &[-0.01, 0.0, 0.01], shares: vec![0.5, 1.0], curves: vec![curve] };
        let text = densities(&name(), "x", &drawn).0;
        let y = Axis::linear(0.0, 1.05, UPWARDS);
        let (left, right) = (ACROSS.from, ACROSS.to);
        let bins = path([(left, y.at(0.0)), (left, y.at(0.5))].into_iter());
        let line = path([(left, y.at(0.25)), (right, y.at(0.5))].into_iter());
        assert!(text.contains(&format!("d=\"{bins} ")), "{text}");
        assert!(text.contains(&format!("d=\"{line}\"")), "{text}");
        assert!(text.contains("&lt;b&gt;"));
    }

    #[test]
    fn points_of_a_perfect_fit_lie_on_the_line() {
        let text = probability_plot(&name(), &[(-0.1, -0.1), (0.1, 0.1), (0.0, 0.05)]).0;
        let place = |value: f64, drawn: Ends| px(Axis::linear(-0.108, 0.108, drawn).at(value));
        for value in [-0.1, 0.1] {
            let (x, y) = (place(value, PLOT), place(value, UPWARDS));
            assert!(text.contains(&format!("cx=\"{x}\" cy=\"{y}\"")), "{text}");
        }
        assert_eq!(text.matches("<circle").count(), 3);
    }
}
