//! Values as bars from zero, each with its interval.

use maud::{Markup, html};
use textwrap::core::display_width;

use super::row_names::{DrawnInRow, NamedRows, named_rows};
use super::{Axis, ClassName, Ends, Name, Pen, across, figure, percent, px};
use crate::report::format::numbers::in_percent;

/// Height of one bar with its room.
const BAR: f64 = 15.0;
/// Room between rows.
const GAP: f64 = 9.0;

/// A value with its interval.
#[derive(Debug)]
pub(in crate::report) struct ValueBar {
    /// The class of its arrangement.
    pub class: &'static str,
    /// Where the bar ends.
    pub value: f64,
    /// The interval, a line across the end of the bar.
    pub interval: Ends,
    /// A part of the value, marked across the bar.
    pub part: Option<f64>,
}

/// A row of bars.
#[derive(Debug)]
pub(in crate::report) struct ValueRow {
    /// The label before it.
    pub label: String,
    /// Its bars, from top to bottom.
    pub bars: Vec<ValueBar>,
}

/// Bars of shares, row by row.
pub(in crate::report) fn value_bars(
    name: &Name,
    axis_name: &str,
    rows: &[ValueRow],
    names: &[ClassName],
) -> Markup {
    let longest = rows.iter().map(|row| display_width(&row.label)).max().unwrap_or(0);
    let left = 16.0 + 6.8 * longest as f64;
    let ends = || rows.iter().flat_map(|row| &row.bars).map(|bar| bar.interval);
    let (least, most) =
        ends().fold((0.0, 0.0), |(a, b), e| (f64::min(a, e.from), f64::max(b, e.to)));
    let height = |row: &ValueRow| BAR * row.bars.len().max(1) as f64 + GAP;
    let bottom = 14.0 + rows.iter().map(height).sum::<f64>();
    let tops: Vec<f64> = rows
        .iter()
        .scan(14.0, |top, row| {
            let this = *top;
            *top += height(row);
            Some(this)
        })
        .collect();
    let placed: Vec<PlacedBar<'_>> =
        rows.iter().zip(&tops).flat_map(|(row, top)| row.placed(*top)).collect();
    let axis = |to: f64| {
        let most = if most > least { 1.02 * most } else { 1.0 };
        Axis::linear(1.02 * least, most, Ends { from: left, to })
    };
    let drawn = |x: &Axis| placed.iter().map(|own| own.drawn(x)).collect();
    let NamedRows { x, names } = named_rows(names, left, None, axis, drawn);
    let inside = html! {
        (across(&x, Ends { from: bottom, to: 14.0 }, axis_name, percent))
        @for (row, top) in rows.iter().zip(&tops) {
            @let middle = top + 0.5 * height(row);
            text x=(px(left - 8.0)) y=(px(middle + 4.0)) text-anchor="end" { (row.label) }
        }
        (drawn_bars(&x, &placed))
        (names)
        line class="axis" x1=(px(x.at(0.0))) x2=(px(x.at(0.0))) y1=(px(bottom)) y2="14.0" {}
    };
    figure(name, bottom + 44.0, &inside)
}

impl ValueRow {
    /// The bars of a row that begins at `top`.
    fn placed(&self, top: f64) -> impl Iterator<Item = PlacedBar<'_>> {
        let first = top + 0.5 * (GAP + BAR);
        let bars = self.bars.iter().enumerate();
        let label = self.label.as_str();
        bars.map(move |(n, bar)| PlacedBar { y: first + BAR * n as f64, label, bar })
    }
}

/// A bar with the place of its middle.
struct PlacedBar<'a> {
    y: f64,
    label: &'a str,
    bar: &'a ValueBar,
}

impl PlacedBar<'_> {
    /// What the bar and its interval take on an axis.
    fn drawn(&self, x: &Axis) -> DrawnInRow {
        let Ends { from, to } = self.bar.interval;
        let across = Ends { from: x.at(from.min(0.0)), to: x.at(to.max(self.bar.value)) };
        DrawnInRow { class: self.bar.class, y: self.y, across }
    }
}

/// All bars of a class as one path, all parts, all intervals: a third of the bytes of single elements. The
/// path holds what each of its bars tells when it is touched.
fn drawn_bars(axis: &Axis, placed: &[PlacedBar]) -> Markup {
    let mut classes: Vec<&str> = placed.iter().map(|own| own.bar.class).collect();
    classes.sort_unstable();
    classes.dedup();
    let [mut parts, mut intervals] = [Pen::default(), Pen::default()];
    for PlacedBar { y, bar, .. } in placed {
        if let Some(part) = bar.part {
            parts.begin(axis.at(part), y - 6.5);
            parts.upright(y + 6.5);
        }
        intervals.begin(axis.at(bar.interval.from), *y);
        intervals.level(axis.at(bar.interval.to));
    }
    html! {
        @for class in classes {
            path class=(format!("{class} area")) d=(areas(axis, placed, class)) data-bars=(told(placed, class)) {}
        }
        path class="tick" d=(parts.drawn()) {}
        path class="interval" d=(intervals.drawn()) {}
    }
}

/// The label, value and interval of each bar of a class, in the order of its path.
fn told(placed: &[PlacedBar], class: &str) -> String {
    let own = placed.iter().filter(|own| own.bar.class == class);
    let bars = own.map(|PlacedBar { label, bar, .. }| {
        let [value, from, to] = [bar.value, bar.interval.from, bar.interval.to].map(in_percent);
        format!("{label};{value};{from};{to}")
    });
    bars.collect::<Vec<_>>().join("|")
}

fn areas(axis: &Axis, placed: &[PlacedBar], class: &str) -> String {
    let mut pen = Pen::default();
    let zero = axis.at(0.0);
    for PlacedBar { y, bar, .. } in placed.iter().filter(|own| own.bar.class == class) {
        let end = axis.at(bar.value);
        pen.begin(zero.min(end), y - 4.5);
        pen.level(zero.max(end).max(zero.min(end) + 0.5));
        pen.upright(y + 4.5);
        pen.level(zero.min(end));
        pen.upright(y - 4.5);
    }
    pen.drawn()
}
