//! Differences with their intervals, a row each, about a line at zero.

use maud::{Markup, html};

use super::{Axis, Ends, Name, drawing, fitted, px};

/// A difference.
#[derive(Debug)]
pub(in crate::report) struct DifferenceRow {
    /// What differs.
    pub label: String,
    /// Both values.
    pub text: String,
    /// The difference in writing.
    pub change: String,
    /// The difference, points.
    pub estimate: f64,
    /// Its interval.
    pub interval: [f64; 2],
    /// Whether the samples show it.
    pub is_shown: bool,
}

/// Height of a row, and room above and below all.
const ROW: f64 = 36.0;
const TOP: f64 = 6.0;

/// A dot and a line a row; `axis` names the axis.
pub(in crate::report) fn differences(
    name: &Name,
    rows: &[DifferenceRow],
    axis: &str,
    is_wide: bool,
) -> Markup {
    let (width, plot, pitch) = if is_wide {
        (640.0, Ends { from: 262.0, to: 566.0 }, ROW)
    } else {
        (330.0, Ends { from: 8.0, to: 262.0 }, 1.4 * ROW)
    };
    let ends = || rows.iter().flat_map(|row| row.interval);
    let low = ends().fold(0.0, f64::min);
    let high = ends().fold(0.0, f64::max);
    let margin = (0.06 * (high - low)).max(1e-6);
    let x = Axis::linear(low - margin, high + margin, plot);
    let bottom = TOP + pitch * rows.len() as f64;
    let zero = px(x.at(0.0));
    let inside = html! {
        @for tick in x.ticks() {
            @let at = px(x.at(tick));
            line class="grid" x1=(at) x2=(at) y1=(px(TOP)) y2=(px(bottom)) {}
            text x=(at) y=(px(bottom + 16.0)) text-anchor="middle" { (x.tick_text(tick)) }
        }
        @if is_wide { line class="limit" x1=(zero) x2=(zero) y1=(px(TOP)) y2=(px(bottom)) {} }
        text class="name" x=(px(f64::midpoint(plot.from, plot.to))) y=(px(bottom + 33.0)) text-anchor="middle" {
            (axis)
        }
        @for (n, row) in rows.iter().enumerate() {
            @let top = TOP + n as f64 * pitch;
            @let y = if is_wide { top + 0.5 * pitch } else { top + pitch - 12.0 };
            @let room = if is_wide { plot.from - 10.0 } else { width };
            line class="grid" x1="0" x2=(px(width)) y1=(px(top)) y2=(px(top)) {}
            text class="label" x="0" y=(px(top + 14.0)) { (fitted(&row.label, room)) }
            text x="0" y=(px(top + 29.0)) { (fitted(&row.text, room)) }
            // Labels stand above the dots: the line leaves them free.
            @if !is_wide { line class="limit" x1=(zero) x2=(zero) y1=(px(y - 6.0)) y2=(px(y + 9.0)) {} }
            line class="interval" x1=(px(x.at(row.interval[0]))) x2=(px(x.at(row.interval[1]))) y1=(px(y)) y2=(px(y)) {}
            circle class=(if row.is_shown { "dot taken" } else { "dot" }) cx=(px(x.at(row.estimate))) cy=(px(y)) r="4" {}
            text class="value" x=(px(width)) y=(px(y + 4.0)) text-anchor="end" { (row.change) }
        }
    };
    drawing(name, width, bottom + 38.0, &inside)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: from −1 to 3 with 6 % more at both ends, so zero lies at 1.24 of 4.48.
    #[test]
    fn intervals_lie_about_zero() {
        let row = DifferenceRow {
            label: "<yield>".into(),
            text: "2 instead of 1".into(),
            change: "+1".into(),
            estimate: 1.0,
            interval: [-1.0, 3.0],
            is_shown: false,
        };
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let text = differences(&name, &[row], "points", false).0;
        let at = |value: f64| px(8.0 + 254.0 * (value + 1.24) / 4.48);
        assert!(text.contains(&format!("class=\"limit\" x1=\"{}\"", at(0.0))), "{text}");
        assert!(text.contains(&format!("class=\"dot\" cx=\"{}\"", at(1.0))), "{text}");
        assert!(text.contains("&lt;yield&gt;"));
    }
}
