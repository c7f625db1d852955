//! Rows that have a label, a plot and three numbers: where things stand at a width.

use maud::{Markup, html};

use super::{Ends, fitted, px, text_width};

/// Where things stand in the rows of a figure.
pub(super) struct RowLayout {
    /// Width of the drawing.
    pub width: f64,
    /// Ends of the plot.
    pub plot: Ends,
    /// Height of a row.
    pub pitch: f64,
    /// From the top of a row to the middle of its shapes.
    pub middle: f64,
    /// Top of the first row.
    pub top: f64,
    /// Right ends of the numbers.
    pub columns: [f64; 3],
    /// From the top of a row to its numbers.
    pub numbers: f64,
    /// Whether labels stand before the plot and numbers behind it, or above and below.
    pub is_wide: bool,
}

impl RowLayout {
    /// The rule above a row, its label and its remark.
    pub(super) fn label(&self, top: f64, class: &str, texts: [&str; 2]) -> Markup {
        let [label, remark] = texts;
        let room = if self.is_wide { self.plot.from - 10.0 } else { self.width };
        let first = top + if self.is_wide { 0.4 * self.pitch } else { 14.0 };
        let behind = 1.08 * text_width(label) + 14.0;
        html! {
            line class="grid" x1="0" x2=(px(self.width)) y1=(px(top)) y2=(px(top)) {}
            text class=(class) x="4" y=(px(first)) { (fitted(label, room)) }
            @if self.is_wide {
                text x="4" y=(px(first + 15.5)) { (fitted(remark, room)) }
            } @else {
                text x=(px(behind)) y=(px(first)) { (fitted(remark, room - behind)) }
            }
        }
    }
}
