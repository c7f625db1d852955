//! Curves of shares with their bands.

use maud::{Markup, html};

use super::curve_names::{NamedCurve, curve_names};
use super::{
    ACROSS, Axis, HEIGHT, INSIDE, Mark, Name, UPWARDS, across, beside_target, figure, path,
    percent, px, taken, upright, upwards,
};

/// A curve with its band: value, estimate, lower and upper end.
type Banded = Vec<(f64, [f64; 3])>;

/// A curve of shares.
#[derive(Debug)]
pub(in crate::report) struct ShareCurve {
    /// The class.
    pub class: &'static str,
    /// The name beside it.
    pub name: String,
    /// The curve.
    pub points: Banded,
}

/// Curves of shares with their bands. `limit` is drawn upright, `target` level.
pub(in crate::report) fn curves(
    name: &Name,
    axis_name: &str,
    series: &[ShareCurve],
    limit: Option<&Mark>,
    target: &Mark,
) -> Markup {
    let values: Vec<f64> = series
        .iter()
        .map(|own| &own.points)
        .find(|s| !s.is_empty())
        .map_or(Vec::new(), |s| s.iter().map(|(value, _)| *value).collect());
    let (x, y) = (Axis::over(&values, ACROSS), Axis::linear(0.0, 1.0, UPWARDS));
    let line = |s: &Banded| path(s.iter().map(|(v, [e, ..])| (x.at(*v), y.at(*e))));
    let band = |s: &Banded| {
        let lower = s.iter().map(|(v, [_, lower, _])| (x.at(*v), y.at(*lower)));
        let upper = s.iter().rev().map(|(v, [.., upper])| (x.at(*v), y.at(*upper)));
        path(lower.chain(upper))
    };
    let level = y.at(target.value);
    let named: Vec<NamedCurve<'_>> = series
        .iter()
        .map(|own| NamedCurve {
            class: own.class,
            name: &own.name,
            points: own.points.iter().map(|(v, [e, ..])| [x.at(*v), y.at(*e)]).collect(),
        })
        .collect();
    let taken = taken(beside_target(level, &target.label), &x, limit);
    let level = px(level);
    let inside = html! {
        (upwards(&y, "yield"))
        (across(&x, UPWARDS, axis_name, percent))
        line class="target" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(level) y2=(level) {}
        @for ShareCurve { class, points, .. } in series {
            path class=(format!("{class} band")) d=(band(points)) {}
            path class=(format!("{class} line")) d=(line(points)) {}
        }
        (curve_names(&named, INSIDE, &taken))
        (upright(&x, UPWARDS, limit))
        text class="target-label" x=(px(ACROSS.to)) y=(px(y.at(target.value) + 15.0))
            text-anchor="end" { (target.label) }
    };
    figure(name, HEIGHT, &inside)
}
