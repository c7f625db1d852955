//! Failures over a limit: in ppm on a logarithmic scale, so that the tail is seen.

use maud::{Markup, html};

use super::{Axis, Ends, Mark, Name, drawing, level_lines, name_of_level, path, px, text_width};
use crate::report::format::numbers;

/// Size of the drawing, and the ends of its plot.
const WIDTH: f64 = 320.0;
const HEIGHT: f64 = 214.0;
const ACROSS: Ends = Ends { from: 62.0, to: WIDTH - 48.0 };
const UPWARDS: Ends = Ends { from: HEIGHT - 42.0, to: 30.0 };

/// The failures of an arrangement.
#[derive(Debug)]
pub(in crate::report) struct FailureLine {
    /// Class of the arrangement.
    pub class: &'static str,
    /// Limit, then share of failures: estimate, lower and upper end of its interval.
    pub points: Vec<(f64, [f64; 3])>,
}

/// What the curves are read by.
#[derive(Debug)]
pub(in crate::report) struct FailureAxes {
    /// From the lowest limit to the highest, as a fraction.
    pub limits: Ends,
    /// The smallest share that is drawn.
    pub least: f64,
    /// The scenario's limit.
    pub limit: Mark,
    /// The share of failures that the target allows.
    pub allowed: Mark,
    /// Failures at the limit, and their interval.
    pub found: [String; 2],
}

/// The curves with their bands, the limit upright, the target level, a ring where the first meets the
/// limit. A share of zero has no place on the scale: a curve ends where it reaches the axis.
pub(in crate::report) fn failure_curves(
    name: &Name,
    axes: &FailureAxes,
    lines: &[FailureLine],
) -> Markup {
    let in_percent = Ends { from: 100.0 * axes.limits.from, to: 100.0 * axes.limits.to };
    let x = Axis::linear(in_percent.from, in_percent.to, ACROSS);
    let y = Axis::over(&[axes.least, 1.0], UPWARDS);
    let at = |limit: f64, share: f64| (x.at(100.0 * limit), y.at(share));
    let inside_axis = |limit: &f64| (axes.limits.from..=axes.limits.to).contains(limit);
    let limit = x.at(100.0 * axes.limit.value);
    let level = y.at(axes.allowed.value);
    let points = lines.iter().flat_map(|line| &line.points).filter(|(limit, _)| inside_axis(limit));
    let near = points.map(|(limit, [share, ..])| at(*limit, *share));
    let words = share_at_limit(axes, lines)
        .map(|share| FoundPlace::new(axes, limit, &y, share).middles(axes));
    let near = near.chain([(limit, level)]).chain(words.into_iter().flatten());
    let target = name_of_level(ACROSS, level, &axes.allowed.label, near);
    let inside = html! {
        rect class="beyond-limit" x=(px(limit)) y=(px(UPWARDS.to)) width=(px(ACROSS.to - limit))
            height=(px(UPWARDS.from - UPWARDS.to)) {}
        (decades(&y))
        @for tick in x.ticks() {
            text x=(px(x.at(tick))) y=(px(UPWARDS.from + 16.0)) text-anchor="middle" { (x.tick_text(tick)) }
        }
        text class="name" x=(px(WIDTH / 2.0)) y=(px(HEIGHT - 6.0)) text-anchor="middle" { "if the limit of the sharing error were, %" }
        @for line in lines {
            @let points = || line.points.iter().filter(|(limit, _)| inside_axis(limit));
            path class=(format!("{} band", line.class)) d=(path(
                points().map(|(l, [_, lower, _])| at(*l, *lower))
                    .chain(points().rev().map(|(l, [_, _, upper])| at(*l, *upper)))
            )) {}
            @let seen = points().scan(true, |is_seen, (l, [share, ..])| {
                std::mem::replace(is_seen, *share > 0.0).then(|| at(*l, *share))
            });
            path class=(format!("{} line", line.class)) d=(path(seen)) {}
        }
        line class="target" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(y.at(axes.allowed.value)))
            y2=(px(y.at(axes.allowed.value))) {}
        text class="target-label" x=(px(target.x)) y=(px(level - 5.0)) text-anchor=(target.anchor) { (target.text) }
        line class="limit" x1=(px(limit)) x2=(px(limit)) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.to - 4.0)) {}
        text class="limit-label" x=(px(limit + 5.0)) y=(px(UPWARDS.to + 12.0)) { (axes.limit.label) }
        (found(axes, limit, &y, lines))
    };
    drawing(name, WIDTH, HEIGHT, &inside)
}

/// Lines and numbers of whole decades: ppm on the left, the yield on the right.
fn decades(y: &Axis) -> Markup {
    let first = libm::log10(y.from).round();
    let all =
        (0..=9_i32).map(|n| libm::pow(10.0, first + f64::from(n))).filter(|share| *share < 1.1);
    let levels: Vec<f64> = all.clone().map(|share| y.at(share)).collect();
    html! {
        text class="name" x="0" y="13" { "failures, ppm" }
        text class="name" x=(px(WIDTH)) y="13" text-anchor="end" { "yield, %" }
        (level_lines(&levels, ACROSS))
        @for share in all {
            @let level = y.at(share);
            text x=(px(ACROSS.from - 6.0)) y=(px(level + 4.0)) text-anchor="end" { (numbers::ppm(share)) }
            text x=(px(WIDTH)) y=(px(level + 4.0)) text-anchor="end" { (short_yield(share)) }
        }
        line class="axis" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.from)) {}
    }
}

/// The yield that a decade of failures leaves, in percent: 99.9 of 0.001.
fn short_yield(failures: f64) -> String {
    let decimals = (-libm::log10(failures) - 2.0).round().clamp(0.0, 6.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 6")]
    numbers::decimals(100.0 * (1.0 - failures), decimals as usize)
}

/// Where both lines of what was found stand: where no curve runs, and clear of the target's name.
struct FoundPlace {
    x: f64,
    first: f64,
    anchor: &'static str,
}

impl FoundPlace {
    fn new(axes: &FailureAxes, limit: f64, y: &Axis, share: f64) -> Self {
        let (level, target) = (y.at(share), y.at(axes.allowed.value));
        let wide = axes.found.iter().map(|text| text_width(text)).fold(0.0, f64::max);
        let x = (limit + 9.0).min(WIDTH - wide - 2.0);
        let right = |first: f64| Self { x, first, anchor: "start" };
        if share > axes.allowed.value {
            // Above a curve that falls to the right; below the name of the limit.
            return right((level - 22.0).min(target - 34.0).max(UPWARDS.to + 26.0));
        }
        // Below it, or above where that is the axis.
        if level > UPWARDS.from - 34.0 {
            return right(level - 22.0);
        }
        Self { x: limit - 9.0, first: level + 18.0, anchor: "end" }
    }

    /// The middles of the left ends of both lines.
    fn middles(&self, axes: &FailureAxes) -> [(f64, f64); 2] {
        [0, 1].map(|n| {
            let wide = if self.anchor == "end" { text_width(&axes.found[n]) } else { 0.0 };
            (self.x - wide, self.first + 14.0 * n as f64 - 5.0)
        })
    }
}

/// What the first line is at the limit.
fn share_at_limit(axes: &FailureAxes, lines: &[FailureLine]) -> Option<f64> {
    let points = &lines.first()?.points;
    points.iter().find(|(at, _)| *at >= axes.limit.value).map(|(_, [share, ..])| *share)
}

/// A ring where the first line meets the limit, and in words what it is there.
fn found(axes: &FailureAxes, limit: f64, y: &Axis, lines: &[FailureLine]) -> Markup {
    let class = lines.first().map_or("", |line| line.class);
    html! {
        @if let Some(share) = share_at_limit(axes, lines) {
            @let level = y.at(share);
            @let place = FoundPlace::new(axes, limit, y, share);
            @if share > 0.0 { circle class=(format!("{class} ring")) cx=(px(limit)) cy=(px(level)) r="4.5" {} }
            text class=(format!("{class} value")) x=(px(place.x)) y=(px(place.first)) text-anchor=(place.anchor) { (axes.found[0]) }
            text class=(class) x=(px(place.x)) y=(px(place.first + 14.0)) text-anchor=(place.anchor) { (axes.found[1]) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The curve falls to zero before the limit: it ends on the axis, and the words stand beyond the limit.
    #[test]
    fn nothing_is_drawn_for_a_share_of_zero() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let axes = FailureAxes {
            limits: Ends { from: 0.0, to: 0.04 },
            least: 1e-4,
            limit: Mark { value: 0.02, label: "limit".into() },
            allowed: Mark { value: 0.01, label: "target".into() },
            found: ["<0 ppm>".into(), "0 to 70".into()],
        };
        let points = |last: f64| {
            let shares = [(0.0, 1.0), (0.01, last), (0.02, last), (0.04, last)];
            shares.map(|(limit, share)| (limit, [share, 0.0, 1.0])).to_vec()
        };
        let drawn = |last: f64| {
            let line = FailureLine { class: "chain", points: points(last) };
            failure_curves(&name, &axes, &[line]).0
        };
        let x = Axis::linear(0.0, 4.0, ACROSS);
        let line = path([(x.at(0.0), UPWARDS.to), (x.at(1.0), UPWARDS.from)].into_iter());
        let none = drawn(0.0);
        assert!(none.contains(&format!("d=\"{line}\"")) && !none.contains("chain ring"), "{none}");
        let words = format!("x=\"{}\"", px(x.at(2.0) + 9.0));
        assert!(none.contains(&words) && none.contains("&lt;0 ppm&gt;"), "{none}");
        assert!(drawn(1e-3).contains("chain ring"));
    }

    #[test]
    fn decades_of_failures_leave_their_yields() {
        for (share, text) in
            [(1.0, "0"), (0.1, "90"), (0.01, "99"), (1e-3, "99.9"), (1e-5, "99.999")]
        {
            assert_eq!(short_yield(share), text);
        }
    }
}
