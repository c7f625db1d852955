//! Paths of smooth curves that take few bytes: lines and parabolas (quadratic Bézier curves; W3C, Scalable
//! Vector Graphics 2, section 9.3.7), each as long as it stays beside the points.

use crate::report::format::figures::pen::{rounded, tenths};

/// How far a path may pass beside its points, in the view box: less than anybody sees.
const BESIDE: f64 = 0.15;

/// A path through points from left to right.
pub(super) fn curve(points: &[(f64, f64)]) -> String {
    let Some(first) = points.first() else { return String::new() };
    let mut path = SmoothPath::begun_at(*first);
    path.follow(points);
    path.text
}

/// The same, closed along a level line.
pub(super) fn area(points: &[(f64, f64)], level: f64) -> String {
    let [Some(first), Some(last)] = [points.first(), points.last()] else { return String::new() };
    let mut path = SmoothPath::begun_at((first.0, level));
    path.line(*first);
    path.follow(points);
    path.line((last.0, level));
    path.text + "z"
}

/// A path in the making; places in tenths, each told from the one before it.
struct SmoothPath {
    text: String,
    at: [i64; 2],
    /// The letter of the last step, which need not be written again.
    letter: char,
}

impl SmoothPath {
    fn begun_at((x, y): (f64, f64)) -> Self {
        let at = [x, y].map(rounded);
        Self { text: format!("M{}", numbers(&at)), at, letter: 'M' }
    }

    fn follow(&mut self, points: &[(f64, f64)]) {
        let mut left = points;
        while left.len() > 1 {
            let reached = (2..left.len()).take_while(|n| parabola(&left[..=*n]).is_some()).last();
            let piece = &left[..=reached.unwrap_or(1)];
            match (is_straight(piece), parabola(piece)) {
                (false, Some(via)) => self.bend(via, piece[piece.len() - 1]),
                _ => self.line(piece[piece.len() - 1]),
            }
            left = &left[piece.len() - 1..];
        }
    }

    fn line(&mut self, (x, y): (f64, f64)) {
        let to = [x, y].map(rounded);
        let step = [to[0] - self.at[0], to[1] - self.at[1]];
        if step != [0, 0] {
            self.step('l', &step);
        }
        self.at = to;
    }

    /// A parabola to a place, whose tangents at both ends meet in `via`.
    fn bend(&mut self, via: (f64, f64), (x, y): (f64, f64)) {
        let (via, to) = ([via.0, via.1].map(rounded), [x, y].map(rounded));
        let [from_x, from_y] = self.at;
        self.step('q', &[via[0] - from_x, via[1] - from_y, to[0] - from_x, to[1] - from_y]);
        self.at = to;
    }

    fn step(&mut self, letter: char, step: &[i64]) {
        match (self.letter == letter, step[0] < 0) {
            (false, _) => self.text.push(letter),
            (true, false) => self.text.push(' '),
            (true, true) => {}
        }
        self.text.push_str(&numbers(step));
        self.letter = letter;
    }
}

/// Numbers, parted by a blank or by their signs.
fn numbers(all: &[i64]) -> String {
    let mut text = String::new();
    for number in all {
        if !text.is_empty() && *number >= 0 {
            text.push(' ');
        }
        text.push_str(&tenths(*number));
    }
    text
}

/// Whether all points lie beside a straight line between the ends.
fn is_straight(points: &[(f64, f64)]) -> bool {
    let [first, .., last] = points else { return true };
    let between = |u: f64| first.1 + u * (last.1 - first.1);
    points.iter().all(|p| (p.1 - between(along(first, last, p))).abs() < BESIDE)
}

/// Where the tangents of the parabola meet that goes from the first to the last point and, by least squares, as
/// near as it can past the others; none where it passes too far beside one of them.
fn parabola(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let [first, .., last] = points else { return None };
    let weight = |u: f64| 2.0 * u * (1.0 - u);
    let ends = |u: f64| (1.0 - u) * (1.0 - u) * first.1 + u * u * last.1;
    let (mut product, mut square) = (0.0, 0.0);
    for point in points {
        let u = along(first, last, point);
        product += weight(u) * (point.1 - ends(u));
        square += weight(u) * weight(u);
    }
    let via = if square > 0.0 { product / square } else { f64::midpoint(first.1, last.1) };
    let is_near = |p: &(f64, f64)| {
        let u = along(first, last, p);
        (p.1 - ends(u) - weight(u) * via).abs() < BESIDE
    };
    points.iter().all(is_near).then_some((f64::midpoint(first.0, last.0), via))
}

/// How far along from the first point to the last one a point lies, as a fraction.
fn along(first: &(f64, f64), last: &(f64, f64), point: &(f64, f64)) -> f64 {
    let length = last.0 - first.0;
    if length > 0.0 { (point.0 - first.0) / length } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a line, a parabola y = x²/10 whose tangents at 0 and 10 meet at (5, 0), and a corner.
    #[test]
    fn lines_and_parabolas_are_told_as_such() {
        let line: Vec<_> = (0..50).map(|n| (f64::from(n), 0.5 * f64::from(n) + 1.0)).collect();
        assert_eq!(curve(&line), "M0 1l49 24.5");
        let mut bent: Vec<_> = (0..=10).map(|n| (f64::from(n), f64::from(n * n) / 10.0)).collect();
        assert_eq!(curve(&bent), "M0 0q5 0 10 10");
        bent.extend([(11.0, 2.0), (12.0, -6.0)]);
        assert_eq!(curve(&bent), "M0 0q5 0 10 10l2-16");
        assert_eq!(curve(&[]), "");
        assert_eq!(area(&[(0.0, 3.0), (4.0, 1.0)], 5.0), "M0 5l0-2 4-2 0 4z");
    }

    /// A sine of the height of a row: the path takes few pieces, and each stays beside the points.
    #[test]
    fn a_sine_takes_few_pieces() {
        let places = (0..=180).map(f64::from);
        let sine: Vec<_> = places.map(|x| (x, 33.0 * libm::sin(x / 57.3))).collect();
        let text = curve(&sine);
        assert!(text.len() < 80, "{text}");
        assert!(parabola(&sine).is_none() && parabola(&sine[..25]).is_some());
    }
}
