//! Shares of converters over the dead time.

use maud::{Markup, html};

use super::curve_names::{NamedCurve, curve_names};
use super::{
    ACROSS, Axis, HEIGHT, INSIDE, Mark, Name, UPWARDS, across, beside_target, figure, path, px,
    short, upright, upwards,
};

/// The share of one arrangement.
#[derive(Debug)]
pub(in crate::report) struct DeadTimeLine {
    /// Class of its stroke.
    pub class: &'static str,
    /// The name beside it.
    pub name: &'static str,
    /// Dead time in nanoseconds, and share.
    pub soft: Vec<(f64, f64)>,
    /// The range that is shaded.
    pub window: Option<[f64; 2]>,
}

/// Shares over the dead time; `marks` are drawn upright, `target` level.
pub(in crate::report) fn dead_times(
    name: &Name,
    lines: &[DeadTimeLine],
    marks: &[Mark],
    target: &Mark,
) -> Markup {
    let longest = lines.iter().flat_map(|line| &line.soft).map(|(time, _)| *time);
    let x = Axis::linear(0.0, longest.fold(0.0, f64::max), ACROSS);
    let y = Axis::linear(0.0, 1.0, UPWARDS);
    let level = px(y.at(target.value));
    let shade = |[from, to]: [f64; 2]| {
        let corners = [(from, 0.0), (from, 1.0), (to, 1.0), (to, 0.0)];
        path(corners.into_iter().map(|(time, share)| (x.at(time), y.at(share))))
    };
    let named: Vec<NamedCurve<'_>> = lines
        .iter()
        .map(|line| NamedCurve {
            class: line.class,
            name: line.name,
            points: line.soft.iter().map(|(time, share)| [x.at(*time), y.at(*share)]).collect(),
        })
        .collect();
    let taken = beside_target(y.at(target.value), &target.label);
    let inside = html! {
        @for line in lines {
            @if let Some(window) = line.window {
                path class=(format!("{} band", line.class)) d=(shade(window)) {}
            }
        }
        (upwards(&y, "share of converters"))
        (across(&x, UPWARDS, "dead time, ns", short))
        line class="target" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(level) y2=(level) {}
        @for line in lines {
            path class=(format!("{} line", line.class))
                d=(path(line.soft.iter().map(|(time, share)| (x.at(*time), y.at(*share))))) {}
        }
        (curve_names(&named, INSIDE, &taken))
        @for mark in marks { (upright(&x, UPWARDS, Some(mark))) }
        text class="target-label" x=(px(ACROSS.to)) y=(px(y.at(target.value) + 15.0))
            text-anchor="end" { (target.label) }
    };
    figure(name, HEIGHT, &inside)
}
