//! Cost over failures: a dot a choice, the failures in ppm on a logarithmic scale, the target upright. The
//! dots that matter are named beside them, where nothing else stands.

use maud::{Markup, html};

use super::rectangle::Rectangle;
use super::{Axis, Ends, Mark, Name, apart, drawing, fitted, px, text_width};
use crate::report::format::numbers;

/// Room left of the plot, above it, and below it.
const LEFT: f64 = 52.0;
const TOP: f64 = 34.0;
const BELOW: f64 = 40.0;
/// Room between the axis of costs and the scale of failures, for dots without any failure.
const NONE_SEEN: f64 = 58.0;
/// Distance of a label from its dot.
const GAP: f64 = 10.0;
/// Height of a line of text.
const LINE: f64 = 14.0;

/// A dot with its intervals.
#[derive(Debug, Clone)]
pub(in crate::report) struct CostDot {
    /// Share of failures: estimate, lower and upper end.
    pub failures: [f64; 3],
    /// Cost: estimate, lower and upper end.
    pub cost: [f64; 3],
    /// Class of the arrangement.
    pub class: &'static str,
    /// What it is, for those who point at it.
    pub title: String,
    /// Whether it is the one recommended.
    pub is_chosen: bool,
    /// Lines beside it, the first in bold; none of a dot that is not named.
    pub label: Vec<String>,
}

/// What the dots are read by.
#[derive(Debug)]
pub(in crate::report) struct CostAxes {
    /// Width and height of the drawing.
    pub size: [f64; 2],
    /// Name of the cost with its unit.
    pub cost: String,
    /// The smallest share of failures that is told apart; dots without any failure stand before it, in a
    /// place of their own.
    pub least: f64,
    /// The share that the target allows.
    pub allowed: Mark,
    /// What lies above the drawing, in words.
    pub above: Option<String>,
}

/// A label with its place.
struct PlacedLabel {
    x: f64,
    first: f64,
    anchor: &'static str,
    taken: Rectangle,
}

impl PlacedLabel {
    fn nowhere() -> Self {
        Self { x: 0.0, first: 0.0, anchor: "start", taken: Rectangle::about(0.0, 0.0, 0.0) }
    }
}

/// The scales of a drawing.
struct Plot {
    x: Axis,
    /// Where dots without any failure stand.
    none_seen: f64,
    y: Axis,
    size: [f64; 2],
}

/// The dots; those that are named come last, so that they lie on top.
pub(in crate::report) fn cost_failures(name: &Name, axes: &CostAxes, dots: &[CostDot]) -> Markup {
    let [width, height] = axes.size;
    let upwards = Ends { from: height - BELOW, to: TOP };
    let costs = || dots.iter().map(|dot| dot.cost[0]).filter(|cost| cost.is_finite());
    let (low, high) = costs().fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), cost| {
        (low.min(cost), high.max(cost))
    });
    let room = (0.12 * (high - low)).max(0.002 * high).max(1e-9);
    // A label of two lines fits below the lowest dot, which often is the recommended one.
    let below = 2.0 * LINE + 2.0 * GAP;
    let room_of_all = (upwards.from - upwards.to).max(2.0 * below);
    let room_below = room.max((high - low + room) * below / (room_of_all - below));
    let has_none_seen = dots.iter().any(|dot| dot.failures[0] <= 0.0);
    let from = if has_none_seen { LEFT + NONE_SEEN } else { LEFT };
    let plot = Plot {
        x: Axis::over(&[0.25 * axes.least, 1.0], Ends { from, to: width - 10.0 }),
        none_seen: LEFT + 0.5 * NONE_SEEN,
        y: Axis::linear(low - room_below, high + room, upwards),
        size: axes.size,
    };
    let shown = in_order(dots);
    let labels = plot.labels(&shown, axes);
    let inside = html! {
        (field(&plot, axes))
        @for dot in &shown { (drawn(&plot, dot)) }
        @for (dot, label) in &labels { (named(&plot, dot, label)) }
    };
    drawing(name, width, height, &inside)
}

/// The dots in the order in which they are drawn: the recommended one last, so that nothing lies on it.
fn in_order(dots: &[CostDot]) -> Vec<&CostDot> {
    let mut shown: Vec<&CostDot> = dots.iter().collect();
    shown.sort_by_key(|dot| (dot.is_chosen, !dot.label.is_empty()));
    shown
}

/// The field beyond the target, the scales and their names.
fn field(plot: &Plot, axes: &CostAxes) -> Markup {
    let Plot { x, y, none_seen, size: [width, height] } = plot;
    let (base, limit) = (height - BELOW, x.at(axes.allowed.value));
    html! {
        rect class="beyond-limit" x=(px(limit)) y=(px(TOP)) width=(px(x.drawn.to - limit)) height=(px(base - TOP)) {}
        text class="name" x="0" y="12" { (axes.cost) }
        @if let Some(above) = &axes.above {
            // Beside the name of the cost, or below it.
            @let is_beside = text_width(above) + text_width(&axes.cost) + 28.0 <= *width;
            text x=(px(*width)) y=(if is_beside { "12" } else { "26" }) text-anchor="end" { (fitted(above, width - 12.0)) " ↑" }
        }
        @for tick in y.ticks().into_iter().filter(|tick| y.holds(*tick)) {
            @let level = px(y.at(tick));
            line class="grid" x1=(px(LEFT)) x2=(px(x.drawn.to)) y1=(level) y2=(level) {}
            text x=(px(LEFT - 6.0)) y=(px(y.at(tick) + 4.0)) text-anchor="end" { (y.tick_text(tick)) }
        }
        @for share in decades(axes) {
            line class="axis" x1=(px(x.at(share))) x2=(px(x.at(share))) y1=(px(base)) y2=(px(base + 4.0)) {}
        }
        @for (at, text) in shares_told(plot, axes) {
            text x=(px(at)) y=(px(base + 15.0)) text-anchor="middle" { (text) }
        }
        line class="axis" x1=(px(x.drawn.from)) x2=(px(x.drawn.to)) y1=(px(base)) y2=(px(base)) {}
        @if plot.has_none_seen() {
            line class="axis" x1=(px(none_seen - 12.0)) x2=(px(none_seen + 12.0)) y1=(px(base)) y2=(px(base)) {}
        }
        text class="name" x=(px(f64::midpoint(LEFT, x.drawn.to))) y=(px(height - 6.0)) text-anchor="middle" {
            "failures, ppm (logarithmic scale)"
        }
        line class="limit" x1=(px(limit)) x2=(px(limit)) y1=(px(base)) y2=(px(TOP - 4.0)) {}
        text class="limit-label" x=(px(limit - 5.0)) y=(px(TOP + 8.0)) text-anchor="end" { (axes.allowed.label) }
        text x=(px(limit + 5.0)) y=(px(TOP + 8.0)) { "misses it" }
    }
}

/// The powers of ten from the smallest share that is told apart to all.
fn decades(axes: &CostAxes) -> impl Iterator<Item = f64> {
    (0..=9).map(|n| axes.least * libm::pow(10.0, f64::from(n))).filter(|share| *share < 1.1)
}

/// What stands below the scale of failures, as far as there is room.
fn shares_told(plot: &Plot, axes: &CostAxes) -> Vec<(f64, String)> {
    let none = plot.has_none_seen().then(|| (plot.none_seen, "none seen".to_owned()));
    let shares = decades(axes).map(|share| match share {
        share if share > 0.5 => (plot.x.at(share) - 0.5 * text_width("all"), "all".to_owned()),
        share => (plot.x.at(share), numbers::ppm(share)),
    });
    apart(none.into_iter().chain(shares).collect())
}

impl Plot {
    fn at(&self, dot: &CostDot) -> [f64; 2] {
        [self.across(dot.failures[0]), self.y.at(dot.cost[0])]
    }

    /// The place of a share of failures.
    fn across(&self, share: f64) -> f64 {
        if share > 0.0 { self.x.at(share) } else { self.none_seen }
    }

    /// What a dot takes, with some room about it.
    fn dot_box(&self, dot: &CostDot) -> Rectangle {
        let [x, y] = self.at(dot);
        Rectangle::about(x, y, if dot.is_chosen { 9.0 } else { 6.0 })
    }

    /// Where labels may stand: above the scale of failures, below the words beside the limit.
    fn frame(&self) -> Rectangle {
        let [width, height] = self.size;
        Rectangle { left: LEFT + 2.0, top: TOP + 12.0, right: width, bottom: height - BELOW }
    }

    /// Whether the scale begins behind the place of dots without any failure.
    fn has_none_seen(&self) -> bool {
        self.x.drawn.from > self.none_seen
    }

    /// Places for the labels, the most important dot first: of all about each dot the one that covers
    /// least.
    fn labels<'d>(
        &self,
        shown: &[&'d CostDot],
        axes: &CostAxes,
    ) -> Vec<(&'d CostDot, PlacedLabel)> {
        let frame = self.frame();
        let limit = self.x.at(axes.allowed.value);
        let words = text_width(&axes.allowed.label).max(60.0);
        let mut taken = vec![Rectangle {
            left: limit - words,
            top: TOP,
            right: limit + 60.0,
            bottom: TOP + 12.0,
        }];
        let dots: Vec<Rectangle> = shown.iter().map(|dot| self.dot_box(dot)).collect();
        taken.extend(&dots);
        for dot in shown {
            let [_, y] = self.at(dot);
            let [left, right] = [dot.failures[1], dot.failures[2]].map(|share| self.across(share));
            if !dot.label.is_empty() || dot.failures[0] <= 0.0 {
                taken.push(Rectangle { left, top: y - 1.0, right, bottom: y + 1.0 });
            }
        }
        let mut labels: Vec<Rectangle> = Vec::new();
        let named = shown.iter().rev().filter(|dot| !dot.label.is_empty());
        named
            .map(|dot| {
                let at = self.at(dot);
                let own = self.dot_box(dot);
                let others = || dots.iter().copied().filter(move |other| *other != own);
                let places = candidates(at, &dot.label, limit);
                let cost = |label: &PlacedLabel| {
                    let covered: f64 = taken.iter().map(|own| own.overlap(label.taken)).sum();
                    let crosses = label.taken.left < limit && limit < label.taken.right;
                    let cut = stem(at, label.taken)
                        .filter(|piece| piece.overlap(own) <= 0.0)
                        .map(|piece| {
                            let crossed = labels.iter().copied().chain(others());
                            crossed.map(|other| other.overlap(piece)).sum::<f64>()
                        })
                        .sum::<f64>();
                    // Nothing is worth a label over the scale.
                    4.0 * covered
                        + 80.0 * cut
                        + 1000.0 * label.taken.outside(frame)
                        + if crosses { 400.0 } else { 0.0 }
                };
                // Of equal ones the first: the order of the candidates is that of preference.
                let best =
                    places.reduce(|best, next| if cost(&next) < cost(&best) { next } else { best });
                let label = best.unwrap_or_else(PlacedLabel::nowhere);
                taken.extend(std::iter::once(label.taken).chain(stem(at, label.taken)));
                labels.push(label.taken);
                (*dot, label)
            })
            .collect()
    }
}

/// Where the stem between a dot and its label lies.
fn stem([x, y]: [f64; 2], label: Rectangle) -> impl Iterator<Item = Rectangle> {
    const PIECES: usize = 16;
    let Rectangle { left, top, right, bottom } = label;
    let [near_x, near_y] = [x.clamp(left, right), y.clamp(top, bottom)];
    (0..PIECES).map(move |n| {
        let share = n as f64 / PIECES as f64;
        Rectangle::about(x + share * (near_x - x), y + share * (near_y - y), 1.5)
    })
}

/// Places of a label about its dot: right or left of it, level, above and below, then beside the limit, the
/// near ones first.
fn candidates([x, y]: [f64; 2], lines: &[String], limit: f64) -> impl Iterator<Item = PlacedLabel> {
    let wide = lines.iter().map(|line| text_width(line)).fold(0.0, f64::max);
    let high = LINE * lines.len() as f64;
    let levels = [
        0.0, 0.6, -0.6, 1.0, -1.0, 1.8, -1.8, 2.6, -2.6, 3.4, -3.4, 4.2, -4.2, 5.2, -5.2, 6.4, -6.4,
    ];
    let beside_limit =
        if x < limit { ("end", limit - 5.0 - x, -wide) } else { ("start", limit + 5.0 - x, 0.0) };
    let sides =
        [("start", GAP, 0.0), ("end", -GAP, -wide), ("middle", 0.0, -0.5 * wide), beside_limit];
    levels.into_iter().flat_map(move |level| {
        sides.into_iter().filter_map(move |(anchor, aside, left)| {
            let is_beside = aside.abs() <= GAP && aside != 0.0;
            let far = is_beside || f64::abs(level) >= 1.0 && aside.abs() <= wide + GAP;
            let top = y - 0.5 * high + level * (0.5 * high + GAP);
            far.then_some(PlacedLabel {
                x: x + aside,
                first: top + LINE - 3.0,
                anchor,
                taken: Rectangle {
                    left: x + aside + left,
                    top,
                    right: x + aside + left + wide,
                    bottom: top + high,
                },
            })
        })
    })
}

/// A dot: filled with balancing, pale without; larger where it is the one recommended. Its intervals where
/// it is named.
fn drawn(plot: &Plot, dot: &CostDot) -> Markup {
    let [x, y] = plot.at(dot);
    let [left, right] = [dot.failures[1], dot.failures[2]].map(|share| px(plot.across(share)));
    let [low, high] = [dot.cost[1], dot.cost[2]].map(|cost| px(plot.y.at(cost)));
    let (kind, radius) = match (dot.is_chosen, dot.label.is_empty()) {
        (true, _) => ("choice", "7.5"),
        (false, false) => ("rival", "5"),
        _ => ("other", "4"),
    };
    html! {
        // Of what was never seen to fail the upper bound is all that is known.
        @if !dot.label.is_empty() || dot.failures[0] <= 0.0 {
            line class="rule" x1=(left) x2=(right) y1=(px(y)) y2=(px(y)) {}
        }
        @if !dot.label.is_empty() {
            line class="rule" x1=(px(x)) x2=(px(x)) y1=(low) y2=(high) {}
        }
        circle class=(format!("cost-dot {} {kind}", dot.class)) cx=(px(x)) cy=(px(y)) r=(radius) { title { (dot.title) } }
    }
}

/// The lines of a label; one that is not beside its dot has a stem to it.
fn named(plot: &Plot, dot: &CostDot, label: &PlacedLabel) -> Markup {
    let [x, y] = plot.at(dot);
    let Rectangle { left, top, right, bottom } = label.taken;
    let [near_x, near_y] = [x.clamp(left, right), y.clamp(top, bottom)];
    let is_far = (near_x - x).abs().max((near_y - y).abs()) > 1.5 * GAP;
    html! {
        @if is_far {
            line class="rule" x1=(px(x)) y1=(px(y)) x2=(px(near_x)) y2=(px(near_y)) {}
        }
        @for (n, line) in dot.label.iter().enumerate() {
            text class=[(n == 0).then(|| if dot.is_chosen { format!("{} value", dot.class) } else { "label".into() })]
                x=(px(label.x)) y=(px(label.first + LINE * n as f64)) text-anchor=(label.anchor) { (line) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dot(failures: f64, cost: f64, label: &str) -> CostDot {
        CostDot {
            failures: [failures, 0.8 * failures, 1.2 * failures],
            cost: [cost, cost - 0.1, cost + 0.1],
            class: "chain",
            title: "<set>".into(),
            is_chosen: label == "first",
            label: if label.is_empty() {
                Vec::new()
            } else {
                vec![label.into(), "a line of it".into()]
            },
        }
    }

    fn axes() -> CostAxes {
        CostAxes {
            size: [640.0, 300.0],
            cost: "cost".into(),
            least: 1e-5,
            allowed: Mark { value: 0.01, label: "target".into() },
            above: None,
        }
    }

    /// Four named dots close together: no label lies on another one, nor on any dot, nor outside.
    #[test]
    fn labels_keep_clear_of_each_other_and_of_dots() {
        let dots = [
            dot(0.004, 100.0, "first"),
            dot(0.0045, 100.4, "second"),
            dot(0.0036, 100.5, "third"),
            dot(0.02, 99.8, "fourth"),
            dot(0.3, 104.0, ""),
        ];
        let shown = in_order(&dots);
        let plot = Plot {
            x: Axis::over(&[5e-6, 1.0], Ends { from: LEFT, to: 630.0 }),
            y: Axis::linear(99.0, 105.0, Ends { from: 260.0, to: TOP }),
            none_seen: 0.0,
            size: [640.0, 300.0],
        };
        let labels = plot.labels(&shown, &axes());
        assert_eq!(labels.len(), 4);
        for (n, (_, label)) in labels.iter().enumerate() {
            assert!(label.taken.outside(plot.frame()) < 1e-9);
            let others = labels.iter().skip(n + 1);
            let apart = others.map(|(_, other)| label.taken.overlap(other.taken)).sum::<f64>();
            let clear = dots.iter().map(|dot| {
                let [x, y] = plot.at(dot);
                Rectangle::about(x, y, 4.0).overlap(label.taken)
            });
            assert!(apart + clear.sum::<f64>() < 1e-9, "label {n}");
        }
    }

    /// A dot with others above it, as sets without any failure stand: its stem goes aside.
    #[test]
    fn a_stem_crosses_no_other_dot() {
        let dots = [
            dot(0.0, 100.0, "first"),
            dot(0.0, 103.0, ""),
            dot(0.0, 106.0, ""),
            dot(0.0005, 98.0, "second, which has the room beside the first one"),
            dot(0.0005, 101.0, ""),
        ];
        let shown = in_order(&dots);
        let plot = Plot {
            x: Axis::over(&[5e-6, 1.0], Ends { from: LEFT + NONE_SEEN, to: 630.0 }),
            y: Axis::linear(97.0, 115.0, Ends { from: 260.0, to: TOP }),
            none_seen: LEFT + 0.5 * NONE_SEEN,
            size: [640.0, 300.0],
        };
        for (named, label) in plot.labels(&shown, &axes()) {
            assert!(label.taken.outside(plot.frame()) < 1e-9, "{:?}", named.label);
            let own = plot.dot_box(named);
            let others = dots.iter().map(|dot| plot.dot_box(dot)).filter(|other| *other != own);
            let crossed = others.map(|other| {
                let outside = stem(plot.at(named), label.taken).filter(|p| p.overlap(own) <= 0.0);
                outside.map(|piece| piece.overlap(other)).sum::<f64>()
            });
            assert!(crossed.sum::<f64>() < 1e-9, "{:?}", named.label);
        }
    }

    /// They are clear of the axis of costs and of the scale, and reach as far as their upper bound.
    #[test]
    fn dots_without_any_failure_have_a_place_of_their_own() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let none = CostDot { failures: [0.0, 0.0, 0.01], ..dot(1.0, 5.0, "") };
        let text = cost_failures(&name, &axes(), &[none, dot(0.1, 6.0, "")]).0;
        let x = Axis::over(&[2.5e-6, 1.0], Ends { from: LEFT + NONE_SEEN, to: 630.0 });
        let place = LEFT + 0.5 * NONE_SEEN;
        assert!(text.contains(&format!("cx=\"{}\"", px(place))), "{text}");
        assert!(text.contains(&format!("x1=\"{}\" x2=\"{}\"", px(place), px(x.at(0.01)))));
        assert!(text.contains("none seen") && place - 7.5 > LEFT && place + 7.5 < x.drawn.from);
        let text = cost_failures(&name, &axes(), &[dot(0.1, 6.0, "")]).0;
        assert!(!text.contains("none seen"));
    }

    #[test]
    fn titles_are_escaped_and_sets_without_a_cost_do_not_break_the_scale() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let dots = [dot(0.0, 5.0, "first"), dot(1.0, f64::INFINITY, "")];
        let text = cost_failures(&name, &axes(), &dots).0;
        assert!(text.contains("&lt;set&gt;") && !text.contains("NaN") && !text.contains("inf"));
    }
}
