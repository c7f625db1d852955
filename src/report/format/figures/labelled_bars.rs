//! Bars with their labels before and their values behind them.

use maud::{Markup, html};

use super::{Name, drawing, fitted, px, text_width};

/// Width of the drawing, where bars begin, and the height of a row.
const WIDTH: f64 = 320.0;
const LEFT: f64 = 150.0;
const ROW: f64 = 20.0;

/// A bar.
#[derive(Debug)]
pub(in crate::report) struct LabelledBar {
    /// What stands before it.
    pub label: String,
    /// Its length, zero or above.
    pub value: f64,
    /// What stands behind it.
    pub text: String,
}

/// Bars from zero, the longest as long as there is room for its text.
pub(in crate::report) fn labelled_bars(name: &Name, class: &str, bars: &[LabelledBar]) -> Markup {
    let most = bars.iter().map(|bar| bar.value).fold(0.0, f64::max);
    let widest = bars.iter().map(|bar| text_width(&bar.text)).fold(0.0, f64::max);
    let room = WIDTH - LEFT - widest - 10.0;
    let length = |value: f64| if most > 0.0 { room * value.max(0.0) / most } else { 0.0 };
    let height = ROW * bars.len() as f64;
    let inside = html! {
        @for (n, bar) in bars.iter().enumerate() {
            @let (top, end) = (n as f64 * ROW, LEFT + length(bar.value));
            text class="name" x="0" y=(px(top + 14.0)) { (fitted(&bar.label, LEFT - 6.0)) }
            rect class=(format!("{class} area")) x=(px(LEFT)) y=(px(top + 4.0)) width=(px((end - LEFT).max(0.5)))
                height="12" { title { (bar.label) ": " (bar.text) } }
            text class="value" x=(px(end + 6.0)) y=(px(top + 14.0)) { (bar.text) }
        }
        line class="axis" x1=(px(LEFT)) x2=(px(LEFT)) y1="0" y2=(px(height)) {}
    };
    drawing(name, WIDTH, height, &inside)
}
