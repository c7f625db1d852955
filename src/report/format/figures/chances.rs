//! The chance of enough good converters over the number built.

use maud::{Markup, html};

use super::{Axis, Ends, Mark, Name, drawing, path, px};
use crate::report::format::numbers;

/// Size of the drawing, and the ends of its plot.
const WIDTH: f64 = 320.0;
const HEIGHT: f64 = 132.0;
const ACROSS: Ends = Ends { from: 40.0, to: WIDTH - 16.0 };
const UPWARDS: Ends = Ends { from: HEIGHT - 36.0, to: 22.0 };

/// The chances of a number built.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct Chance {
    /// Converters built.
    pub built: f64,
    /// The chance at the yield seen.
    pub likely: f64,
    /// The chance at its lower bound.
    pub cautious: f64,
}

/// What the curve is read by.
#[derive(Debug)]
pub(in crate::report) struct ChanceAxes {
    /// The number that is right on average, and its words.
    pub average: Mark,
    /// The number to build, and its words.
    pub built: Mark,
}

/// A band between the chances at the yield seen and at its lower bound, with both numbers upright.
pub(in crate::report) fn chances(name: &Name, axes: &ChanceAxes, points: &[Chance]) -> Markup {
    let ends = |pick: fn(&[Chance]) -> Option<&Chance>| pick(points).map_or(0.0, |own| own.built);
    let x = Axis::linear(ends(<[Chance]>::first), ends(<[Chance]>::last), ACROSS);
    let y = Axis::linear(0.0, 1.0, UPWARDS);
    let likely = || points.iter().map(|own| (x.at(own.built), y.at(own.likely)));
    let cautious = || points.iter().map(|own| (x.at(own.built), y.at(own.cautious)));
    let back = points.iter().rev().map(|own| (x.at(own.built), y.at(own.cautious)));
    let inside = html! {
        @for share in [0.0, 0.5, 1.0] {
            @let level = px(y.at(share));
            line class="grid" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(level) y2=(level) {}
            text x=(px(ACROSS.from - 5.0)) y=(px(y.at(share) + 4.0)) text-anchor="end" { (numbers::given_percent(share)) }
        }
        @for tick in x.ticks() {
            text x=(px(x.at(tick))) y=(px(UPWARDS.from + 15.0)) text-anchor="middle" { (x.tick_text(tick)) }
        }
        text class="name" x=(px(WIDTH / 2.0)) y=(px(HEIGHT - 5.0)) text-anchor="middle" { "converters built" }
        path class="chain band" d=(path(likely().chain(back))) {}
        path class="chain line" d=(path(likely())) {}
        path class="chain line" d=(path(cautious())) {}
        (upright(&x, &y, &axes.average, points, "rule"))
        (upright(&x, &y, &axes.built, points, "limit"))
        // The lower curve rises: its lower right is empty.
        text class="label" x=(px(x.at(axes.built.value) - 6.0)) y=(px(UPWARDS.to - 2.0)) text-anchor="end" { (axes.built.label) }
        text x=(px(x.at(axes.average.value) + 7.0)) y=(px(y.at(0.06))) { (axes.average.label) }
    };
    drawing(name, WIDTH, HEIGHT, &inside)
}

/// A number upright, with rings where it meets the curves.
fn upright(x: &Axis, y: &Axis, mark: &Mark, points: &[Chance], class: &str) -> Markup {
    let at = px(x.at(mark.value));
    html! {
        line class=(class) x1=(at) x2=(at) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.to - 12.0)) {}
        @if let Some(own) = points.iter().find(|own| own.built >= mark.value) {
            @for share in [own.likely, own.cautious] {
                circle class="chain ring" cx=(at) cy=(px(y.at(share))) r="3.5" {}
            }
        }
    }
}
