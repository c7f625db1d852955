//! Names beside curves: each where it covers no curve, and where no other curve is as near. Curves that nowhere
//! part have their names together.

use maud::{Markup, html};

use super::rectangle::Rectangle;
use super::{px, text_width};

/// Curves that nowhere lie farther apart cannot be told from each other.
const TOGETHER: f64 = 5.0;
/// Distance of the places that are tried along a curve, and of those at which a curve is in the way.
const STEP: f64 = 4.0;
/// Distances of a name from its curve: beside it, or behind another one.
const GAP: f64 = 5.0;
const FAR: f64 = 28.0;
/// Height of a line of names.
const LINE: f64 = 13.0;

/// A curve with its name, in places of the drawing.
#[derive(Debug)]
pub(super) struct NamedCurve<'n> {
    /// Class of its colour.
    pub class: &'n str,
    pub name: &'n str,
    /// From left to right.
    pub points: Vec<[f64; 2]>,
}

/// Curves that are drawn as one.
struct Together<'n> {
    /// Class and name of each.
    names: Vec<[&'n str; 2]>,
    points: Vec<[f64; 2]>,
}

/// The names of a curve with their place.
struct PlacedName {
    x: f64,
    anchor: Option<&'static str>,
    /// The place of the curve.
    at: [f64; 2],
    taken: Rectangle,
}

impl PlacedName {
    /// Where a line to the curve ends at the name.
    fn end_of_line(&self) -> [f64; 2] {
        let Rectangle { left, top, right, bottom } = self.taken;
        [self.at[0].clamp(left, right), self.at[1].clamp(top, bottom)]
    }

    /// What the line takes: it is level or upright.
    fn line(&self) -> Rectangle {
        const ABOUT: f64 = 4.0;
        let ([x, y], [to_x, to_y]) = (self.at, self.end_of_line());
        Rectangle {
            left: x.min(to_x) - ABOUT,
            top: y.min(to_y) - ABOUT,
            right: x.max(to_x) + ABOUT,
            bottom: y.max(to_y) + ABOUT,
        }
    }
}

/// The names of all curves, inside `frame` and clear of what is `taken`, as far as there is room.
pub(super) fn curve_names(
    curves: &[NamedCurve<'_>],
    frame: Rectangle,
    taken: &[Rectangle],
) -> Markup {
    let all = together(curves);
    let mut taken = taken.to_vec();
    let names = all.iter().enumerate().filter_map(|(own, curve)| {
        let place = best_place(&all, own, frame, &taken)?;
        taken.push(place.taken);
        taken.extend(is_doubtful(&all, curve, place.taken).then(|| place.line()));
        Some((curve, place))
    });
    let names: Vec<(&Together<'_>, PlacedName)> = names.collect();
    html! {
        @for (curve, place) in names {
            @if is_doubtful(&all, curve, place.taken) {
                @let [x, y] = place.end_of_line();
                line class="rule" x1=(px(place.at[0])) y1=(px(place.at[1])) x2=(px(x)) y2=(px(y)) {}
            }
            @for (n, [class, name]) in curve.names.iter().enumerate() {
                text class=(class) x=(px(place.x)) y=(px(place.taken.top + LINE * n as f64 + 10.0))
                    text-anchor=[place.anchor] { (name) }
            }
        }
    }
}

/// The curves, those that nowhere part as one.
fn together<'n>(curves: &[NamedCurve<'n>]) -> Vec<Together<'n>> {
    let mut all: Vec<Together<'n>> = Vec::new();
    for curve in curves.iter().filter(|curve| !curve.points.is_empty()) {
        let points = along(&curve.points);
        let is_beside = |other: &&mut Together<'_>| {
            farthest(&points, &other.points).max(farthest(&other.points, &points)) < TOGETHER
        };
        if let Some(same) = all.iter_mut().find(is_beside) {
            same.names.push([curve.class, curve.name]);
        } else {
            all.push(Together { names: vec![[curve.class, curve.name]], points });
        }
    }
    all
}

/// Places along a curve, at most [`STEP`] apart.
fn along(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let between = points.windows(2).flat_map(|ends| {
        let [from, to] = [ends[0], ends[1]];
        let pieces = (libm::hypot(to[0] - from[0], to[1] - from[1]) / STEP).ceil().max(1.0);
        let places = std::iter::successors(Some(1.0), |n| Some(n + 1.0));
        places
            .take_while(move |n| *n <= pieces)
            .map(move |n| [0, 1].map(|side| from[side] + n / pieces * (to[side] - from[side])))
    });
    points.first().copied().into_iter().chain(between).collect()
}

/// The largest distance of a place of one curve from the other.
fn farthest(of: &[[f64; 2]], from: &[[f64; 2]]) -> f64 {
    of.iter().map(|own| nearest(Rectangle::about(own[0], own[1], 0.0), from)).fold(0.0, f64::max)
}

/// The distance of a rectangle from a curve.
fn nearest(rectangle: Rectangle, points: &[[f64; 2]]) -> f64 {
    points.iter().map(|own| rectangle.squared_distance(*own)).fold(f64::INFINITY, f64::min).sqrt()
}

/// Whether another curve is as near to a name as its own.
fn is_doubtful(all: &[Together<'_>], own: &Together<'_>, name: Rectangle) -> bool {
    let others = all.iter().filter(|other| other.names != own.names);
    let other = others.map(|other| nearest(name, &other.points));
    other.fold(f64::INFINITY, f64::min) < nearest(name, &own.points) + GAP
}

/// The place about a curve where its name covers least and is farthest from the other curves. Of equal ones the
/// first.
fn best_place(
    all: &[Together<'_>],
    own: usize,
    frame: Rectangle,
    taken: &[Rectangle],
) -> Option<PlacedName> {
    const NEAR: f64 = 24.0;
    let curve = &all[own];
    let badness = |place: &PlacedName| {
        let reach = nearest(place.taken, &curve.points);
        let others = all.iter().enumerate().filter(|(n, _)| *n != own);
        let to_others = |of: Rectangle| {
            others.clone().map(|(_, other)| nearest(of, &other.points)).fold(NEAR, f64::min)
        };
        let other = to_others(place.taken);
        let covered: f64 = taken.iter().map(|taken| taken.overlap(place.taken)).sum();
        let on_curves = if reach < 1.5 { 90.0 } else { 0.0 } + if other < 1.5 { 90.0 } else { 0.0 };
        // A line then leads to the curve: clear of what is taken, and to where it is not near the others.
        let doubtful = if other < reach + GAP {
            let line = place.line();
            let crossed = taken.iter().any(|taken| taken.overlap(line) > 0.0);
            let [x, y] = place.at;
            40.0 + 2.0 * (NEAR - to_others(Rectangle::about(x, y, 0.0)))
                + if crossed { 60.0 } else { 0.0 }
        } else {
            0.0
        };
        let far = if reach > 2.0 * GAP { 20.0 } else { 0.0 };
        1000.0 * place.taken.outside(frame) + covered + on_curves + doubtful + far - other
    };
    let places = curve.points.iter().flat_map(|at| places_about(*at, &curve.names));
    let judged = places.map(|place| (badness(&place), place));
    judged.reduce(|best, next| if next.0 < best.0 { next } else { best }).map(|(_, place)| place)
}

/// Right and left of a place, above and below it, then farther off.
fn places_about([x, y]: [f64; 2], names: &[[&str; 2]]) -> impl Iterator<Item = PlacedName> {
    let wide = names.iter().map(|[_, name]| text_width(name)).fold(0.0, f64::max);
    let high = LINE * names.len() as f64;
    let place = move |anchor: Option<&'static str>, x_of_name: f64, top: f64| {
        let left = x_of_name
            - match anchor {
                Some("end") => wide,
                Some(_) => 0.5 * wide,
                None => 0.0,
            };
        let taken = Rectangle { left, top, right: left + wide, bottom: top + high };
        PlacedName { x: x_of_name, anchor, at: [x, y], taken }
    };
    let beside = y - 0.5 * high;
    [GAP, FAR].into_iter().flat_map(move |gap| {
        [
            place(None, x + gap, beside),
            place(Some("end"), x - gap, beside),
            place(Some("middle"), x, y - gap - high),
            place(Some("middle"), x, y + gap),
        ]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Rectangle = Rectangle { left: 0.0, top: 0.0, right: 200.0, bottom: 100.0 };

    fn curve<'n>(name: &'n str, points: &[[f64; 2]]) -> NamedCurve<'n> {
        NamedCurve { class: "chain", name, points: points.to_vec() }
    }

    /// Two curves that cross: both names are inside, clear of both curves and of each other.
    #[test]
    fn names_cover_no_curve() {
        let curves = [
            curve("one", &[[0.0, 10.0], [200.0, 90.0]]),
            curve("another", &[[0.0, 90.0], [200.0, 10.0]]),
        ];
        let all = together(&curves);
        let one = best_place(&all, 0, FRAME, &[]).expect("a place");
        let other = best_place(&all, 1, FRAME, &[one.taken]).expect("a place");
        for (own, place) in [(0, &one), (1, &other)] {
            assert!(place.taken.outside(FRAME) <= 0.0);
            let [own, foreign] = [own, 1 - own].map(|n| nearest(place.taken, &all[n].points));
            assert!(own > 1.0 && foreign > own + GAP, "{own} {foreign}");
        }
        assert!(one.taken.overlap(other.taken) <= 0.0);
        let text = curve_names(&curves, FRAME, &[]).0;
        assert!(text.contains(">one<") && text.contains(">another<"), "{text}");
    }

    #[test]
    fn names_of_curves_that_nowhere_part_stand_together() {
        let curves = [
            curve("one", &[[0.0, 50.0], [200.0, 50.0]]),
            curve("<two>", &[[0.0, 52.0], [200.0, 51.0]]),
            curve("none", &[]),
        ];
        let text = curve_names(&curves, FRAME, &[]).0;
        let names: Vec<&str> = text.split("<text").skip(1).collect();
        assert_eq!(names.len(), 2, "{text}");
        assert!(names[0].contains(">one<") && names[1].contains(">&lt;two&gt;<"), "{text}");
        let x = |name: &str| name.split("x=").nth(1).map(|text| text[..6].to_owned());
        assert_eq!(x(names[0]), x(names[1]), "one below the other: {text}");
    }

    /// Two curves side by side, the second too near for a name between them: a line leads to the first.
    #[test]
    fn a_name_behind_another_curve_has_a_line_to_its_own() {
        let curves = [
            curve("first", &[[10.0, 0.0], [10.0, 100.0]]),
            curve("second", &[[20.0, 0.0], [20.0, 100.0]]),
        ];
        let text = curve_names(&curves, FRAME, &[]).0;
        assert_eq!(text.matches("<line").count(), 1, "{text}");
        assert!(text.contains("x1=\"10\""), "{text}");
    }
}
