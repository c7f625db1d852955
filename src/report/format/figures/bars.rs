//! Tolerance bands: from the present to the widest one, and two traded against each other.

use maud::{Markup, html};
use textwrap::core::display_width;

use super::{
    ACROSS, Axis, Ends, Name, ROW, WIDTH, across, drawing, figure, path, percent, px, upwards_over,
};
use crate::report::format::numbers::{given_percent, percent_of_three};

/// Height of a chart of two bands.
const HEIGHT: f64 = 360.0;

/// A part's band.
#[derive(Debug)]
pub(in crate::report) struct Bar {
    /// The label before it.
    pub label: String,
    /// The present band.
    pub present: f64,
    /// The widest band; what to say where there is none.
    pub widest: Result<f64, &'static str>,
}

/// Row by row a tick at the present band and a bar from there to the widest one: filled where
/// there is room, pale where the band must shrink. Bands are drawn by equal ratios; below a
/// thousandth of the widest they are drawn at the left end.
pub(in crate::report) fn band_bars(name: &Name, axis_name: &str, bars: &[Bar]) -> Markup {
    let longest = bars.iter().map(|bar| display_width(&bar.label)).max().unwrap_or(0);
    let left = 16.0 + 6.4 * longest as f64;
    let values = || bars.iter().flat_map(|bar| [Some(bar.present), bar.widest.ok()]).flatten();
    let most = values().fold(0.0, f64::max);
    let most = if most > 0.0 { 1.15 * most } else { 1.0 };
    let least = values().filter(|x| *x > 1e-3 * most).fold(most, f64::min) / 1.5;
    let x = Axis::over(&[least, most], Ends { from: left, to: WIDTH - 20.0 });
    let (top, bottom) = (8.0, 8.0 + ROW * bars.len() as f64);
    let inside = html! {
        (across(&x, Ends { from: bottom, to: top }, axis_name, percent))
        @for (n, bar) in bars.iter().enumerate() {
            @let middle = top + (n as f64 + 0.5) * ROW;
            text x=(px(left - 8.0)) y=(px(middle + 4.0)) text-anchor="end" { (bar.label) }
            (room(&x, middle, bar))
        }
    };
    figure(name, bottom + 44.0, &inside)
}

fn room(x: &Axis, y: f64, bar: &Bar) -> Markup {
    let present = x.at(bar.present);
    html! {
        @match bar.widest {
            Ok(widest) => {
                @let (from, to) = (present.min(x.at(widest)), present.max(x.at(widest)));
                @let class = if widest >= bar.present { "chain area" } else { "paralleled area" };
                rect class=(class) x=(px(from)) width=(px((to - from).max(0.5)))
                    y=(px(y - 6.0)) height="12" {
                    title { (bar.label) ": now " (given_percent(bar.present)) ", widest " (percent_of_three(widest)) }
                }
            }
            Err(word) => {
                @let (beside, anchor) = if present > f64::midpoint(x.drawn.from, x.drawn.to) {
                    (present - 8.0, "end")
                } else {
                    (present + 8.0, "start")
                };
                text class="name" x=(px(beside)) y=(px(y + 4.0)) text-anchor=(anchor) {
                    (word)
                }
            }
        }
        line class="tick" x1=(px(present)) x2=(px(present)) y1=(px(y - 10.0)) y2=(px(y + 10.0)) {}
    }
}

/// How large a chart of two bands is drawn.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) enum ChartSize {
    /// As a figure of its own.
    Large,
    /// In a column of the brief.
    Small,
}

impl ChartSize {
    /// Width and height of the drawing.
    fn extent(self) -> [f64; 2] {
        match self {
            Self::Large => [WIDTH, HEIGHT],
            Self::Small => [330.0, 236.0],
        }
    }
}

/// A grid point.
#[derive(Debug)]
pub(in crate::report) struct ChartPoint {
    /// A class, `meets`, `open` or `misses`.
    pub class: &'static str,
    /// The yield there.
    pub told: String,
}

/// Two bands against each other.
#[derive(Debug)]
pub(in crate::report) struct Chart<'a> {
    /// Names of both axes.
    pub names: [String; 2],
    /// Grid points along both axes.
    pub axes: &'a [Vec<f64>; 2],
    /// What is known of each grid point, row by row.
    pub points: Vec<ChartPoint>,
    /// What is narrower meets the target.
    pub inner: &'a [[f64; 2]],
    /// What is wider misses it.
    pub outer: &'a [[f64; 2]],
    /// The present bands.
    pub present: [f64; 2],
}

/// A dot at each grid point that meets the target, a cross at each that misses it, a circle at each
/// that is not decided, the inner boundary as a line, the outer one dashed, and the present bands as a
/// ring.
pub(in crate::report) fn chart(name: &Name, chart: &Chart, size: ChartSize) -> Markup {
    let [width, height] = size.extent();
    let (across_plot, up_plot) =
        (Ends { from: ACROSS.from, to: width - 20.0 }, Ends { from: height - 44.0, to: 24.0 });
    let end = |n: usize| chart.axes[n].last().copied().unwrap_or(1.0);
    // Half a step more than the grid, so that its outermost points are clear of the frame.
    let x = Axis::linear(0.0, 1.04 * end(0), across_plot);
    let y = Axis::linear(0.0, 1.04 * end(1), up_plot);
    let pairs =
        chart.axes[1].iter().flat_map(|second| chart.axes[0].iter().map(|first| [*first, *second]));
    let line = |boundary: &[[f64; 2]]| {
        path(boundary.iter().map(|[first, second]| (x.at(*first), y.at(*second))))
    };
    let inside = html! {
        (upwards_over(&y, across_plot, &chart.names[1]))
        (across(&x, up_plot, &chart.names[0], percent))
        @for (bands, point) in pairs.zip(&chart.points) {
            @let [first, second] = bands.map(percent);
            (mark([x.at(bands[0]), y.at(bands[1])], point.class, &format!("{first}, {second}: {}", point.told)))
        }
        @if !chart.inner.is_empty() { path class="boundary" d=(line(chart.inner)) {} }
        @if !chart.outer.is_empty() { path class="boundary outer" d=(line(chart.outer)) {} }
        circle class="present" cx=(px(x.at(chart.present[0]))) cy=(px(y.at(chart.present[1])))
            r="8" {}
    };
    drawing(name, width, height, &inside)
}

fn mark([x, y]: [f64; 2], class: &str, told: &str) -> Markup {
    let (a, b, c, d) = (x - 3.0, x + 3.0, y - 3.0, y + 3.0);
    html! {
        @if class == "misses" {
            path class=(class) d=(format!("M{a:.1} {c:.1}L{b:.1} {d:.1}M{b:.1} {c:.1}L{a:.1} {d:.1}")) { title { (told) } }
        } @else {
            circle class=(format!("point {class}")) cx=(px(x)) cy=(px(y)) r="3" { title { (told) } }
        }
    }
}
