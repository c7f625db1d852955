//! Values as bars from zero, each with its interval.

use maud::{Markup, html};

use super::{Axis, Ends, Name, WIDTH, across, figure, percent, px};

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
pub(in crate::report) fn value_bars(name: &Name, axis_name: &str, rows: &[ValueRow]) -> Markup {
    let longest = rows.iter().map(|row| row.label.chars().count()).max().unwrap_or(0);
    let left = 16.0 + 6.8 * longest as f64;
    let ends = || rows.iter().flat_map(|row| &row.bars).map(|bar| bar.interval);
    let (least, most) =
        ends().fold((0.0, 0.0), |(a, b), e| (f64::min(a, e.from), f64::max(b, e.to)));
    let drawn = Ends { from: left, to: WIDTH - 20.0 };
    let x = Axis::linear(1.02 * least, if most > least { 1.02 * most } else { 1.0 }, drawn);
    let height = |row: &ValueRow| BAR * row.bars.len().max(1) as f64 + GAP;
    let bottom = 14.0 + rows.iter().map(height).sum::<f64>();
    let tops = rows.iter().scan(14.0, |top, row| {
        let this = *top;
        *top += height(row);
        Some(this)
    });
    let inside = html! {
        (across(&x, Ends { from: bottom, to: 14.0 }, axis_name, percent))
        @for (row, top) in rows.iter().zip(tops) {
            @let middle = top + 0.5 * height(row);
            text x=(px(left - 8.0)) y=(px(middle + 4.0)) text-anchor="end" { (row.label) }
            @for (n, bar) in row.bars.iter().enumerate() {
                (drawn_bar(&x, top + 0.5 * GAP + BAR * (n as f64 + 0.5), bar))
            }
        }
        line class="axis" x1=(px(x.at(0.0))) x2=(px(x.at(0.0))) y1=(px(bottom)) y2="14.0" {}
    };
    figure(name, bottom + 44.0, &inside)
}

fn drawn_bar(axis: &Axis, y: f64, bar: &ValueBar) -> Markup {
    let (zero, end) = (axis.at(0.0), axis.at(bar.value));
    let (from, to) = (axis.at(bar.interval.from), axis.at(bar.interval.to));
    html! {
        rect class=(format!("{} area", bar.class)) x=(px(zero.min(end)))
            width=(px((end - zero).abs().max(0.5))) y=(px(y - 4.5)) height="9" {}
        @if let Some(part) = bar.part {
            line class="tick" x1=(px(axis.at(part))) x2=(px(axis.at(part))) y1=(px(y - 6.5))
                y2=(px(y + 6.5)) {}
        }
        line class="interval" x1=(px(from)) x2=(px(to)) y1=(px(y)) y2=(px(y)) {}
    }
}
