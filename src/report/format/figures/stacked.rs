//! Bars made of parts, one a row, with a mark where each ends at most.

use maud::{Markup, html};

use super::spaced::{SpacedLabel, spaced};
use super::{Axis, Ends, Name, WIDTH, across, figure, px, short, text_width};

/// Height of one bar with its room.
const ROW: f64 = 24.0;
/// Left end of the bars.
const LEFT: f64 = 76.0;
/// Upper end of the bars, under the names of their parts.
const TOP: f64 = 30.0;
/// Half the height of a bar.
const HALF: f64 = 6.0;
/// Distance of two names.
const BETWEEN: f64 = 10.0;

/// A part of a bar.
#[derive(Debug)]
pub(in crate::report) struct BarPart {
    /// What it is.
    pub name: &'static str,
    /// Its length.
    pub value: f64,
    /// Its value.
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

/// Bars of parts; the n-th part of each has the n-th pattern and the same name.
pub(in crate::report) fn stacked(name: &Name, axis_name: &str, bars: &[StackedBar]) -> Markup {
    let longest = bars.iter().map(|bar| bar.most).fold(0.0, f64::max);
    let drawn = Ends { from: LEFT, to: WIDTH - 20.0 };
    let x = Axis::linear(0.0, if longest > 0.0 { 1.05 * longest } else { 1.0 }, drawn);
    let bottom = TOP + ROW * bars.len() as f64;
    let inside = html! {
        (across(&x, Ends { from: bottom, to: TOP }, axis_name, short))
        (names(&x, bars))
        @for (n, bar) in bars.iter().enumerate() {
            @let middle = TOP + ROW * (n as f64 + 0.5);
            text x=(px(LEFT - 8.0)) y=(px(middle + 4.0)) text-anchor="end" { (bar.label) }
            (parts(&x, n, bar))
            @let end = px(x.at(bar.most));
            line class="tick" x1=(end) x2=(end) y1=(px(middle - 9.0)) y2=(px(middle + 9.0)) {}
        }
        line class="axis" x1=(px(x.at(0.0))) x2=(px(x.at(0.0))) y1=(px(bottom)) y2=(px(TOP)) {}
    };
    figure(name, bottom + 44.0, &inside)
}

/// A part as it is drawn.
struct DrawnPart<'a> {
    /// Which one of its bar.
    place: usize,
    part: &'a BarPart,
    across: Ends,
    /// The middle of its bar.
    up: f64,
}

/// The parts of a bar that are not beyond its end.
fn drawn<'a>(x: &Axis, row: usize, bar: &'a StackedBar) -> Vec<DrawnPart<'a>> {
    let up = TOP + ROW * (row as f64 + 0.5);
    let starts = bar.parts.iter().scan(0.0, |sum, part| {
        let start = *sum;
        *sum += part.value;
        Some(start)
    });
    let at = |value: f64| x.at(value.min(bar.most));
    let parts = starts.zip(&bar.parts).enumerate().map(|(place, (start, part))| DrawnPart {
        place,
        part,
        across: Ends { from: at(start), to: at(start + part.value) },
        up,
    });
    parts.filter(|own| own.across.to > own.across.from).collect()
}

/// The names of the parts above the bars, each with a line to the first bar that has it.
fn names(x: &Axis, bars: &[StackedBar]) -> Markup {
    let all: Vec<DrawnPart<'_>> =
        bars.iter().enumerate().flat_map(|(row, bar)| drawn(x, row, bar)).collect();
    let places = 0..bars.iter().map(|bar| bar.parts.len()).max().unwrap_or(0);
    let named: Vec<&DrawnPart<'_>> =
        places.filter_map(|place| all.iter().find(|own| own.place == place)).collect();
    let middle = |own: &DrawnPart<'_>| f64::midpoint(own.across.from, own.across.to);
    let label = |own: &&DrawnPart<'_>| SpacedLabel {
        at: middle(own),
        room: text_width(own.part.name) + BETWEEN,
    };
    let labels: Vec<SpacedLabel> = named.iter().map(label).collect();
    html! {
        @for (own, across) in named.iter().zip(spaced(&labels, x.drawn)) {
            text class="name" x=(px(across)) y="13" text-anchor="middle" { (own.part.name) }
            line class="rule" x1=(px(across)) y1="17" x2=(px(middle(own))) y2=(px(own.up - HALF)) {}
        }
    }
}

fn parts(x: &Axis, row: usize, bar: &StackedBar) -> Markup {
    html! {
        @for DrawnPart { place, part, across: Ends { from, to }, up } in drawn(x, row, bar) {
            rect class=(format!("area cause-{}", place + 1)) x=(px(from)) width=(px(to - from))
                y=(px(up - HALF)) height=(px(2.0 * HALF)) {
                title { (bar.label) ", " (part.name) ": " (part.text) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the axis is 324 wide for 1.05 times ten volts. The first bar ends at ten, before its third part.
    #[test]
    fn parts_have_their_names_once() {
        let part = |name, value| BarPart { name, value, text: "<text>".into() };
        let bar = |parts| StackedBar { label: "node".into(), parts, most: 10.0 };
        let bars = [
            bar(vec![part("start", 4.0), part("leakage", 6.0), part("timing", 2.0)]),
            bar(vec![part("start", 4.0), part("leakage", 0.0), part("timing", 2.0)]),
        ];
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let text = stacked(&name, "drift, V", &bars).0;
        let at = |value: f64| px(LEFT + 324.0 * value / 10.5);
        for (name, middle) in [("start", 2.0), ("leakage", 7.0), ("timing", 5.0)] {
            assert_eq!(text.matches(&format!(">{name}<")).count(), 1, "{name} {text}");
            assert!(text.contains(&format!("x2=\"{}\"", at(middle))), "{name} {text}");
        }
        assert_eq!(text.matches("<rect").count(), 4, "{text}");
        assert!(text.contains("node, leakage: &lt;text&gt;"), "{text}");
    }
}
