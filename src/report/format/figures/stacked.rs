//! Bars made of parts, one a row, with a mark where each ends at most.

use maud::{Markup, html};

use super::{Axis, Ends, Name, WIDTH, across, figure, px, short};

/// Height of one bar with its room.
const ROW: f64 = 24.0;
/// Left end of the bars.
const LEFT: f64 = 76.0;
const TOP: f64 = 14.0;

/// A part of a bar.
#[derive(Debug)]
pub(in crate::report) struct BarPart {
    /// Its length.
    pub value: f64,
    /// What it is, with its value.
    pub text: String,
}

/// A bar of parts.
#[derive(Debug)]
pub(in crate::report) struct StackedBar {
    /// The label before it.
    pub label: String,
    /// Its parts from zero on.
    pub parts: Vec<BarPart>,
    /// Where it ends, whatever the parts add up to.
    pub most: f64,
}

/// Bars of parts; the n-th part of each has the n-th pattern.
pub(in crate::report) fn stacked(name: &Name, axis_name: &str, bars: &[StackedBar]) -> Markup {
    let longest = bars.iter().map(|bar| bar.most).fold(0.0, f64::max);
    let drawn = Ends { from: LEFT, to: WIDTH - 20.0 };
    let x = Axis::linear(0.0, if longest > 0.0 { 1.05 * longest } else { 1.0 }, drawn);
    let bottom = TOP + ROW * bars.len() as f64;
    let inside = html! {
        (across(&x, Ends { from: bottom, to: TOP }, axis_name, short))
        @for (n, bar) in bars.iter().enumerate() {
            @let middle = TOP + ROW * (n as f64 + 0.5);
            text x=(px(LEFT - 8.0)) y=(px(middle + 4.0)) text-anchor="end" { (bar.label) }
            (parts(&x, middle, bar))
            @let end = px(x.at(bar.most));
            line class="tick" x1=(end) x2=(end) y1=(px(middle - 9.0)) y2=(px(middle + 9.0)) {}
        }
        line class="axis" x1=(px(x.at(0.0))) x2=(px(x.at(0.0))) y1=(px(bottom)) y2=(px(TOP)) {}
    };
    figure(name, bottom + 44.0, &inside)
}

fn parts(x: &Axis, middle: f64, bar: &StackedBar) -> Markup {
    let starts = bar.parts.iter().scan(0.0, |sum, part| {
        let start = *sum;
        *sum += part.value;
        Some(start)
    });
    html! {
        @for (n, (start, part)) in starts.zip(&bar.parts).enumerate() {
            @let (from, to) = (x.at(start.min(bar.most)), x.at((start + part.value).min(bar.most)));
            @if to > from {
                rect class=(format!("area cause-{}", n + 1)) x=(px(from)) width=(px(to - from))
                    y=(px(middle - 6.0)) height="12" { title { (bar.label) ", " (part.text) } }
            }
        }
    }
}
