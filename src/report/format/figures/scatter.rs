//! Points of cost and yield, with the front that no point beats.

use maud::{Markup, html};

use super::{ACROSS, Axis, HEIGHT, Mark, Name, UPWARDS, across, figure, path, px, short, upwards};

/// A point of the picture.
#[derive(Debug, Clone)]
pub(in crate::report) struct Spot {
    /// Along the horizontal axis.
    pub cost: f64,
    /// Along the vertical axis, a share.
    pub good: f64,
    /// What it is, for those who point at it.
    pub title: String,
    /// Whether no point beats it.
    pub on_front: bool,
    /// Its number in a table; none of a point that has none there.
    pub number: Option<usize>,
    /// Whether it is the one chosen.
    pub chosen: bool,
}

/// Room that the number of a point takes.
const NUMBER: f64 = 13.0;
/// Costs more than so many times apart are shown by equal ratios.
const WIDE: f64 = 3.0;

/// Points, a line through those of the front, and the target as a level line where it is in view.
/// One point at least must have a cost.
pub(in crate::report) fn scatter(
    name: &Name,
    axis_name: &str,
    spots: &[Spot],
    target: &Mark,
) -> Markup {
    let shown: Vec<&Spot> = spots.iter().filter(|spot| spot.cost.is_finite()).collect();
    let (x, y) = axes(&shown);
    let mut front: Vec<&&Spot> = shown.iter().filter(|spot| spot.on_front).collect();
    front.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let line = path(front.iter().map(|spot| (x.at(spot.cost), y.at(spot.good))));
    let level = px(y.at(target.value));
    let inside = html! {
        (upwards(&y, "yield"))
        (across(&x, UPWARDS, axis_name, short))
        @if y.holds(target.value) {
            line class="target" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(level) y2=(level) {}
            text class="target-label" x=(px(ACROSS.to)) y=(px(y.at(target.value) + 15.0))
                text-anchor="end" { (target.label) }
        }
        path class="front" d=(line) {}
        @for spot in &shown { (mark(spot, &x, &y)) }
        @for (number, [x, y]) in numbers(&shown, &x, &y) {
            text class="halo" x=(px(x)) y=(px(y)) text-anchor="end" { (number) }
        }
    };
    figure(name, HEIGHT, &inside)
}

/// Axes with some room about the points; the yield's ends at 100 %.
fn axes(spots: &[&Spot]) -> (Axis, Axis) {
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
    };
    let (cheap, dear) = ends(&mut spots.iter().map(|spot| spot.cost));
    let (worst, best) = ends(&mut spots.iter().map(|spot| spot.good));
    let room = (0.06 * (dear - cheap)).max(1e-3 * dear.abs()).max(1e-9);
    let x = if cheap > 0.0 && dear > WIDE * cheap {
        Axis::over(&[0.95 * cheap, 1.05 * dear], ACROSS)
    } else {
        Axis::linear(cheap - room, dear + room, ACROSS)
    };
    let room = (0.08 * (best - worst)).max(1e-3);
    (x, Axis::linear((worst - room).max(0.0), (best + room).min(1.0 + 0.2 * room), UPWARDS))
}

/// The numbers that are apart, each at the upper left of its point: no point lies there that would not beat
/// this one.
fn numbers(spots: &[&Spot], x: &Axis, y: &Axis) -> Vec<(usize, [f64; 2])> {
    let places = |spot: &Spot| [x.at(spot.cost) - 6.0, y.at(spot.good) - 6.0];
    let chosen = spots.iter().filter(|spot| spot.chosen);
    let mut placed: Vec<(usize, [f64; 2])> = Vec::new();
    for spot in chosen.chain(spots.iter().filter(|spot| !spot.chosen)) {
        let [left, up] = places(spot);
        let is_apart =
            |[other, above]: [f64; 2]| (other - left).abs() > NUMBER || (above - up).abs() > NUMBER;
        let Some(number) = spot.number else { continue };
        // A square about the chosen one needs more room.
        let off = if spot.chosen { 4.0 } else { 0.0 };
        if placed.iter().all(|(_, other)| is_apart(*other)) {
            placed.push((number, [left - off, up - off]));
        }
    }
    placed
}

/// A full disc on the front, an open one elsewhere, a square about the chosen one: shapes, not
/// colours alone.
fn mark(spot: &Spot, x: &Axis, y: &Axis) -> Markup {
    let (x, y) = (x.at(spot.cost), y.at(spot.good));
    let class = if spot.on_front { "spot on-front" } else { "spot" };
    html! {
        circle class=(class) cx=(px(x)) cy=(px(y)) r="4.5" { title { (spot.title) } }
        @if spot.chosen {
            rect class="chosen" x=(px(x - 8.0)) y=(px(y - 8.0)) width="16" height="16" {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(cost: f64, good: f64, on_front: bool) -> Spot {
        let number = on_front.then_some(7);
        Spot { cost, good, title: "<set>".into(), on_front, number, chosen: on_front }
    }

    #[test]
    fn points_without_a_cost_are_left_out_and_titles_escaped() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let spots = [spot(1.0, 0.9, true), spot(2.0, 0.8, false), spot(f64::INFINITY, 0.0, false)];
        let target = Mark { value: 0.85, label: "target".into() };
        let text = scatter(&name, "cost", &spots, &target).0;
        assert_eq!(text.matches("<circle").count(), 2);
        assert_eq!(text.matches("on-front").count(), 1);
        assert_eq!(text.matches("class=\"chosen\"").count(), 1);
        assert!(text.contains(">7</text>"), "{text}");
        assert!(text.contains("&lt;set&gt;") && !text.contains("NaN") && !text.contains("inf"));
        assert!(text.contains("class=\"target\""));
    }

    /// By hand: the third point lies on the second one, whose number tells both.
    #[test]
    fn numbers_stand_apart() {
        let at = |cost: f64, good: f64, number: usize| Spot {
            number: Some(number),
            chosen: number == 2,
            ..spot(cost, good, true)
        };
        let spots = [at(1.0, 0.5, 1), at(2.0, 0.7, 2), at(2.001, 0.701, 3), at(3.0, 0.9, 4)];
        let spots: Vec<&Spot> = spots.iter().collect();
        let (x, y) = axes(&spots);
        let told: Vec<usize> = numbers(&spots, &x, &y).into_iter().map(|own| own.0).collect();
        assert_eq!(told, [2, 1, 4]);
    }

    #[test]
    fn one_point_alone_has_axes() {
        let one = spot(5.0, 1.0, true);
        let (x, y) = axes(&[&one]);
        assert!(x.holds(5.0) && y.holds(1.0) && !x.logarithmic);
        let (cheap, dear) = (spot(1.0, 0.5, true), spot(9.0, 0.7, true));
        assert!(axes(&[&cheap, &dear]).0.logarithmic);
    }
}
