//! Converters one by one: the largest sharing error of each over its largest switch current. Those that fail
//! differ by shape, not by colour alone.

use maud::{Markup, html};

use super::{Axis, Ends, Mark, Name, WIDTH, drawing, level_lines, px, upright_lines};

const HEIGHT: f64 = 300.0;
const ACROSS: Ends = Ends { from: 46.0, to: WIDTH - 14.0 };
const UPWARDS: Ends = Ends { from: HEIGHT - 44.0, to: 30.0 };
/// A limit farther from all converters than so many times their range is not drawn.
const FAR: f64 = 1.5;
/// Height of a line of text.
const LINE: f64 = 13.0;
/// Half the width of a cross.
const CROSS: f64 = 3.0;

/// A converter.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct ConverterMark {
    /// Its place along the axes.
    pub at: [f64; 2],
    /// Whether it fails.
    pub fails: bool,
}

/// The axes of the picture.
#[derive(Debug)]
pub(in crate::report) struct ScatterAxes {
    /// Names with units: across, upwards.
    pub names: [String; 2],
    /// Limits on either, if there are any.
    pub limits: [Option<Mark>; 2],
}

/// Both axes.
struct ScatterPlot {
    x: Axis,
    y: Axis,
}

impl ScatterPlot {
    fn new(axes: &ScatterAxes, marks: &[ConverterMark]) -> Self {
        let axis = |which: usize, drawn: Ends| {
            let values = marks.iter().map(|mark| mark.at[which]).filter(|value| value.is_finite());
            let none = (f64::INFINITY, f64::NEG_INFINITY);
            let (low, high) = values.fold(none, |(low, high), v| (low.min(v), high.max(v)));
            let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
            let range = (high - low).max(1e-3 * high.abs()).max(1e-12);
            let limit = axes.limits[which].as_ref().map(|limit| limit.value);
            let near = limit.filter(|v| (low - FAR * range..=high + FAR * range).contains(v));
            let ends = near.map_or((low, high), |limit| (low.min(limit), high.max(limit)));
            let room = 0.06 * (ends.1 - ends.0).max(range);
            let from = if low >= 0.0 { (ends.0 - room).max(0.0) } else { ends.0 - room };
            Axis::linear(from, ends.1 + room, drawn)
        };
        Self { x: axis(0, ACROSS), y: axis(1, UPWARDS) }
    }
}

/// Ends of both axes and their places, for a script: from, to, left, right, from, to, lower, upper.
pub(in crate::report) fn converter_scatter_places(
    axes: &ScatterAxes,
    marks: &[ConverterMark],
) -> [f64; 8] {
    let ScatterPlot { x, y } = ScatterPlot::new(axes, marks);
    [x.from, x.to, x.drawn.from, x.drawn.to, y.from, y.to, y.drawn.from, y.drawn.to]
}

/// The picture.
pub(in crate::report) fn converter_scatter(
    name: &Name,
    axes: &ScatterAxes,
    marks: &[ConverterMark],
) -> Markup {
    let plot = ScatterPlot::new(axes, marks);
    let ScatterPlot { x, y } = &plot;
    let of = |fails: bool| marks.iter().filter(move |mark| mark.fails == fails);
    let at = |mark: &ConverterMark| [x.at(mark.at[0]), y.at(mark.at[1])];
    // A line of no length with round ends is a dot.
    let dot = |[x, y]: [f64; 2]| format!("M{} {}h0", px(x), px(y));
    let dots = of(false).map(at).map(dot).collect::<Vec<_>>().concat();
    let cross = |[x, y]: [f64; 2]| {
        let (left, top) = (px(x - CROSS), px(y - CROSS));
        format!("M{left} {top}l6 6m0-6l-6 6")
    };
    let crosses = of(true).map(at).map(cross).collect::<Vec<_>>().concat();
    let inside = html! {
        (field(&plot, axes))
        path class="converters" d=(dots) {}
        path class="converters fails" d=(crosses) {}
        (limits(&plot, axes))
    };
    drawing(name, WIDTH, HEIGHT, &inside)
}

fn field(ScatterPlot { x, y }: &ScatterPlot, axes: &ScatterAxes) -> Markup {
    let ticks = |axis: &Axis| -> Vec<f64> {
        axis.ticks().into_iter().filter(|tick| axis.holds(*tick)).collect()
    };
    let places = |axis: &Axis| -> Vec<f64> { ticks(axis).iter().map(|t| axis.at(*t)).collect() };
    let limit = axes.limits[1].as_ref().filter(|limit| y.holds(limit.value));
    let is_beside =
        |tick: f64| limit.is_some_and(|own| (y.at(own.value) - y.at(tick)).abs() < 2.0 * LINE);
    html! {
        (level_lines(&places(y), ACROSS))
        (upright_lines(&places(x), UPWARDS))
        @for tick in ticks(y).into_iter().filter(|tick| !is_beside(*tick)) {
            text x=(px(ACROSS.from - 6.0)) y=(px(y.at(tick) + 4.0)) text-anchor="end" { (y.tick_text(tick)) }
        }
        @for tick in ticks(x) {
            text x=(px(x.at(tick))) y=(px(UPWARDS.from + 16.0)) text-anchor="middle" { (x.tick_text(tick)) }
        }
        line class="axis" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.from)) {}
        text class="name" x="0" y="13" { (axes.names[1]) }
        text class="name" x=(px(f64::midpoint(ACROSS.from, ACROSS.to))) y=(px(HEIGHT - 8.0)) text-anchor="middle" { (axes.names[0]) }
    }
}

fn limits(ScatterPlot { x, y }: &ScatterPlot, axes: &ScatterAxes) -> Markup {
    let [across, upwards] = &axes.limits;
    html! {
        @if let Some(limit) = across.as_ref().filter(|limit| x.holds(limit.value)) {
            @let at = x.at(limit.value);
            line class="limit" x1=(px(at)) x2=(px(at)) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.to - 6.0)) {}
            text class="limit-label" x=(px(at)) y=(px(UPWARDS.to - 10.0)) text-anchor=(if at > 0.7 * WIDTH { "end" } else { "middle" }) { (limit.label) }
        }
        @if let Some(limit) = upwards.as_ref().filter(|limit| y.holds(limit.value)) {
            @let at = y.at(limit.value);
            line class="limit" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(at)) y2=(px(at)) {}
            // Beside the scale: inside, converters may lie anywhere.
            @for (n, line) in limit.label.splitn(2, ' ').enumerate() {
                text class="limit-label" x=(px(ACROSS.from - 6.0)) y=(px(at - 2.0 + LINE * n as f64)) text-anchor="end" { (line) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limits near the converters are drawn, others would squeeze them; a failing one is a cross.
    #[test]
    fn failing_converters_differ_by_shape_and_limits_far_away_are_left_out() {
        let name = Name { id: "a".into(), title: "<b>".into(), description: "c".into() };
        let marks = [([1.0, 1.0], false), ([2.0, 3.0], true)]
            .map(|(at, fails)| ConverterMark { at, fails });
        let limit = |value: f64| Some(Mark { value, label: format!("<{value}>") });
        let axes = ScatterAxes {
            names: ["x, A".into(), "y, %".into()],
            limits: [limit(90.0), limit(2.0)],
        };
        let text = converter_scatter(&name, &axes, &marks).0;
        assert_eq!((text.matches("h0").count(), text.matches("l6 6m0-6l-6 6").count()), (1, 1));
        assert!(text.contains("&lt;2&gt;") && !text.contains("90"), "{text}");
        let [from, to, left, right, ..] = converter_scatter_places(&axes, &marks);
        let place = left + (1.0 - from) / (to - from) * (right - left);
        assert!(text.contains(&format!("\"M{} ", px(place))), "{text}");
    }
}
