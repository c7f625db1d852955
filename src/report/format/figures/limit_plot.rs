//! Samples by value, and below them, on the same axis, how many would fail were the limit another one. A
//! script draws it again for another choice: what it needs of the places is in [`limit_plot_places`].

use maud::{Markup, html};

use super::{
    Axis, Ends, Mark, Name, WIDTH, drawing, level_lines, name_of_level, path, px, steps,
    upright_lines,
};
use crate::report::format::numbers;

const HEIGHT: f64 = 344.0;
const ACROSS: Ends = Ends { from: 72.0, to: WIDTH - 14.0 };
/// Room on the left in which a label in the middle of its line would run into the name of the axis.
const LEFTMOST: f64 = 40.0;
/// The histogram, then the failures.
const BARS: Ends = Ends { from: 124.0, to: 30.0 };
const FAILURES: Ends = Ends { from: HEIGHT - 46.0, to: 160.0 };

/// What is drawn, values in the unit of the axis.
#[derive(Debug)]
pub(in crate::report) struct LimitPlot<'a> {
    /// Class of the arrangement.
    pub class: &'static str,
    /// Edges of the bins.
    pub edges: &'a [f64],
    /// Share of the samples in each bin, and of those that miss another limit.
    pub shares: Vec<[f64; 2]>,
    /// Share of failures at each edge: estimate, lower and upper end of its interval.
    pub failures: Vec<[f64; 3]>,
    /// The limit.
    pub limit: Option<Mark>,
    /// The share of failures that the target allows.
    pub allowed: Mark,
    /// The smallest share of failures that is told apart.
    pub least: f64,
    /// Name of the axis with its unit.
    pub axis: String,
}

/// Ends of the plots, for a script: left and right, lower and upper end of the bars and of the failures.
pub(in crate::report) const fn limit_plot_places() -> [f64; 6] {
    [ACROSS.from, ACROSS.to, BARS.from, BARS.to, FAILURES.from, FAILURES.to]
}

/// The picture.
pub(in crate::report) fn limit_plot(name: &Name, shown: &LimitPlot) -> Markup {
    let from = shown.edges.first().copied().unwrap_or(0.0);
    let x = Axis::linear(from, shown.edges.last().copied().unwrap_or(1.0), ACROSS);
    let ticks: Vec<f64> = x.ticks().into_iter().filter(|tick| x.holds(*tick)).collect();
    let places: Vec<f64> = ticks.iter().map(|tick| x.at(*tick)).collect();
    let limit = shown.limit.as_ref().filter(|limit| x.holds(limit.value));
    let inside = html! {
        @if let Some(limit) = limit {
            @let at = x.at(limit.value);
            rect class="beyond-limit" x=(px(at)) y=(px(BARS.to)) width=(px(ACROSS.to - at)) height=(px(FAILURES.from - BARS.to)) {}
        }
        (upright_lines(&places, Ends { from: FAILURES.from, to: FAILURES.to }))
        @for (tick, at) in ticks.iter().zip(&places) {
            text x=(px(*at)) y=(px(FAILURES.from + 16.0)) text-anchor="middle" { (x.tick_text(*tick)) }
        }
        text class="name" x=(px(f64::midpoint(ACROSS.from, ACROSS.to))) y=(px(FAILURES.from + 36.0)) text-anchor="middle" { (shown.axis) }
        (bars(&x, shown))
        (failures(&x, shown))
        @if let Some(limit) = &shown.limit { (limit_line(&x, limit)) }
    };
    drawing(name, WIDTH, HEIGHT, &inside)
}

/// The limit with its name; outside the axis, its name at that end and to which side it lies.
fn limit_line(x: &Axis, limit: &Mark) -> Markup {
    let at = x.at(limit.value).clamp(ACROSS.from, ACROSS.to);
    // Clear of the name of the axis on the left.
    let anchor = match at {
        at if at > 0.7 * WIDTH => "end",
        at if at < ACROSS.from + LEFTMOST => "start",
        _ => "middle",
    };
    let is_inside = x.holds(limit.value);
    let (before, after) = if is_inside {
        ("", "")
    } else if at > ACROSS.from {
        ("", " →")
    } else {
        ("← ", "")
    };
    html! {
        @if is_inside {
            line class="limit" x1=(px(at)) x2=(px(at)) y1=(px(FAILURES.from)) y2=(px(BARS.to - 6.0)) {}
        }
        text class="limit-label" x=(px(at)) y=(px(BARS.to - 10.0)) text-anchor=(anchor) { (before) (limit.label) (after) }
    }
}

/// The bars; those that miss another limit stand in front, pale.
fn bars(x: &Axis, shown: &LimitPlot) -> Markup {
    let most = shown.shares.iter().fold(0.0, |most, [all, _]| f64::max(most, *all));
    let y = Axis::linear(0.0, if most > 0.0 { 1.05 * most } else { 1.0 }, BARS);
    let ticks: Vec<f64> = y.ticks().into_iter().filter(|tick| y.holds(*tick)).collect();
    let levels: Vec<f64> = ticks.iter().map(|tick| y.at(*tick)).collect();
    let outline = |which: usize| {
        let first = shown.shares.iter().position(|own| own[which] > 0.0)?;
        let last = shown.shares.iter().rposition(|own| own[which] > 0.0)?;
        let tops = (first..=last).map(|n| (y.at(shown.shares[n][which]), x.at(shown.edges[n + 1])));
        Some(steps(x.at(shown.edges[first]), BARS.from, tops))
    };
    html! {
        text class="name" x="0" y="13" { "samples" }
        (level_lines(&levels, ACROSS))
        @for (tick, at) in ticks.iter().zip(&levels) {
            text x=(px(ACROSS.from - 6.0)) y=(px(at + 4.0)) text-anchor="end" { (super::percent(*tick)) }
        }
        @for (which, class) in [(0, shown.class), (1, "others")] {
            @if let Some(outline) = outline(which) { path class=(format!("{class} area")) d=(outline) {} }
        }
        line class="axis" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(BARS.from)) y2=(px(BARS.from)) {}
    }
}

/// Failures in ppm on a logarithmic scale, with their band and what the target allows.
fn failures(x: &Axis, shown: &LimitPlot) -> Markup {
    let y = Axis::over(&[shown.least, 1.0], FAILURES);
    let first = libm::log10(y.from).round();
    let decades = (0..=9_i32).map(|n| libm::pow(10.0, first + f64::from(n)));
    let decades: Vec<f64> = decades.filter(|share| *share < 1.1).collect();
    let levels: Vec<f64> = decades.iter().map(|share| y.at(*share)).collect();
    let points = || shown.edges.iter().zip(&shown.failures);
    let line = |which: usize| points().map(move |(edge, own)| (x.at(*edge), y.at(own[which])));
    let back = points().rev().map(|(edge, own)| (x.at(*edge), y.at(own[2])));
    let target = y.at(shown.allowed.value);
    let upright = shown.limit.iter().map(|limit| (x.at(limit.value), target));
    let name = name_of_level(ACROSS, target, &shown.allowed.label, line(0).chain(upright));
    html! {
        text class="name" x="0" y=(px(FAILURES.to - 12.0)) { "failures, ppm" }
        (level_lines(&levels, ACROSS))
        @for (share, at) in decades.iter().zip(&levels) {
            text x=(px(ACROSS.from - 6.0)) y=(px(at + 4.0)) text-anchor="end" { (numbers::ppm(*share)) }
        }
        path class=(format!("{} band", shown.class)) d=(path(line(1).chain(back))) {}
        path class=(format!("{} line", shown.class)) d=(path(line(0))) {}
        line class="target" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(target)) y2=(px(target)) {}
        text class="target-label" x=(px(name.x)) y=(px(target - 5.0)) text-anchor=(name.anchor) { (name.text) }
        line class="axis" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(FAILURES.from)) y2=(px(FAILURES.from)) {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two bins: the first holds three quarters of the samples; the limit lies between them, where a
    /// quarter fails.
    #[test]
    fn bars_and_failures_stand_on_one_axis() {
        let name = Name { id: "a".into(), title: "<b>".into(), description: "c".into() };
        let shown = || LimitPlot {
            class: "chain",
            edges: &[0.0, 1.0, 2.0],
            shares: vec![[0.75, 0.0], [0.25, 0.25]],
            failures: vec![[1.0; 3], [0.25, 0.2, 0.3], [0.0, 0.0, 0.1]],
            limit: Some(Mark { value: 1.0, label: "<limit>".into() }),
            allowed: Mark { value: 0.01, label: "target".into() },
            least: 1e-3,
            axis: "error, %".into(),
        };
        let text = limit_plot(&name, &shown()).0;
        let middle = f64::midpoint(ACROSS.from, ACROSS.to);
        let (bars, failures) =
            (Axis::linear(0.0, 0.7875, BARS), Axis::over(&[1e-3, 1.0], FAILURES));
        let tops = [(bars.at(0.75), middle), (bars.at(0.25), ACROSS.to)];
        let outline = steps(ACROSS.from, BARS.from, tops.into_iter());
        assert!(text.contains(&format!("class=\"chain area\" d=\"{outline}\"")), "{text}");
        let others = steps(middle, BARS.from, [(bars.at(0.25), ACROSS.to)].into_iter());
        assert!(text.contains(&format!("class=\"others area\" d=\"{others}\"")), "{text}");
        let line = [(ACROSS.from, 1.0), (middle, 0.25), (ACROSS.to, 0.0)];
        let line = path(line.into_iter().map(|(x, share)| (x, failures.at(share))));
        assert!(text.contains(&format!("class=\"chain line\" d=\"{line}\"")), "{text}");
        assert!(text.contains(&format!("class=\"limit\" x1=\"{}\"", px(middle))), "{text}");
        assert!(text.contains(">&lt;limit&gt;<") && !text.contains("NaN"));
        // A limit outside the axis has its name and an arrow at that end, and no line.
        for (value, label) in [(2.5, ">&lt;limit&gt; →<"), (-0.5, ">← &lt;limit&gt;<")] {
            let far = Some(Mark { value, label: "<limit>".into() });
            let text = limit_plot(&name, &LimitPlot { limit: far, ..shown() }).0;
            assert!(text.contains(label) && !text.contains("class=\"limit\""), "{text}");
        }
    }
}
