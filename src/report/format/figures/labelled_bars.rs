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

/// Where things stand in a row.
struct BarRow {
    /// Where bars begin, and the room for a label.
    left: f64,
    room: f64,
    /// From the top of a row to its bar.
    bar: f64,
    height: f64,
}

impl BarRow {
    /// Labels stand before the bars, or above them where one is too long for that.
    fn holding(bars: &[LabelledBar]) -> Self {
        let beside = Self { left: LEFT, room: LEFT - 6.0, bar: 4.0, height: ROW };
        if bars.iter().all(|bar| text_width(&bar.label) <= beside.room) {
            beside
        } else {
            Self { left: 1.0, room: WIDTH, bar: 19.0, height: ROW + 15.0 }
        }
    }
}

/// Bars from zero, the longest as long as there is room for its text. A limit is a line across them.
pub(in crate::report) fn labelled_bars(
    name: &Name,
    class: &str,
    bars: &[LabelledBar],
    limit: Option<f64>,
) -> Markup {
    let most = bars.iter().map(|bar| bar.value).chain(limit).fold(0.0, f64::max);
    let widest = bars.iter().map(|bar| text_width(&bar.text)).fold(0.0, f64::max);
    let row = BarRow::holding(bars);
    let longest = WIDTH - row.left - widest - 10.0;
    let length = |value: f64| if most > 0.0 { longest * value.max(0.0) / most } else { 0.0 };
    let height = row.height * bars.len() as f64;
    let inside = html! {
        @for (n, bar) in bars.iter().enumerate() {
            @let (top, end) = (n as f64 * row.height, row.left + length(bar.value));
            text class="name" x="0" y=(px(top + 14.0)) { (fitted(&bar.label, row.room)) }
            rect class=(format!("{class} area")) x=(px(row.left)) y=(px(top + row.bar)) width=(px((end - row.left).max(0.5)))
                height="12" { title { (bar.label) ": " (bar.text) } }
            line class="axis" x1=(px(row.left)) x2=(px(row.left)) y1=(px(top + row.bar - 4.0)) y2=(px(top + row.bar + 16.0)) {}
        }
        @if let Some(limit) = limit {
            @let x = px(row.left + length(limit));
            line class="limit" x1=(x) x2=(x) y1="0" y2=(px(height)) {}
        }
        // Over the line, each in a gap of it.
        @for (n, bar) in bars.iter().enumerate() {
            @let (top, end) = (n as f64 * row.height, row.left + length(bar.value));
            text class="value halo" x=(px(end + 6.0)) y=(px(top + row.bar + 10.0)) { (bar.text) }
        }
    };
    drawing(name, WIDTH, height, &inside)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a label of 26 letters has no room before the bars, and stands above its own.
    #[test]
    fn a_long_label_stands_above_its_bar() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let drawn = |label: &str| {
            let bar = LabelledBar { label: label.into(), value: 1.0, text: "1".into() };
            labelled_bars(&name, "chain", &[bar], None).0
        };
        let long = "extreme current: chain, dusk";
        assert!(drawn(long).contains(&format!(">{long}</text>")), "it is not cut");
        assert!(drawn(long).contains("x=\"1\" y=\"19\"") && drawn(long).contains("0 0 320 35"));
        assert!(
            drawn("dusk").contains("x=\"150\" y=\"4\"") && drawn("dusk").contains("0 0 320 20")
        );
    }

    /// By hand: a limit of twice the value is the longest length, and the bar takes half of it.
    #[test]
    fn a_limit_above_all_bars_ends_them_all() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let bar = LabelledBar { label: "dusk".into(), value: 1.0, text: String::new() };
        let drawn = labelled_bars(&name, "chain", &[bar], Some(2.0)).0;
        assert!(drawn.contains("class=\"limit\" x1=\"310\" x2=\"310\""), "{drawn}");
        assert!(drawn.contains("width=\"80\""), "{drawn}");
    }
}
