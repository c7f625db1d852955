//! Paths of smooth curves that take few bytes: lines and parabolas (quadratic Bézier curves; W3C, Scalable
//! Vector Graphics 2, section 9.3.7), each as long as it stays beside the points.

use crate::report::format::figures::pen::{rounded, tenths};

/// How far a path may pass beside its points, in the view box: less than anybody sees.
const BESIDE: f64 = 0.15;

/// A point of a curve in the view box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DrawnPoint {
    pub(super) x: f64,
    pub(super) y: f64,
}

/// A path through points from left to right.
pub(super) fn curve(points: &[DrawnPoint]) -> String {
    let Some(first) = points.first() else { return String::new() };
    let mut path = SmoothPath::begun_at(*first);
    path.follow(points);
    path.text
}

/// The same, closed along a level line.
pub(super) fn area(points: &[DrawnPoint], level: f64) -> String {
    let [Some(first), Some(last)] = [points.first(), points.last()] else { return String::new() };
    let mut path = SmoothPath::begun_at(DrawnPoint { y: level, ..*first });
    path.line(*first);
    path.follow(points);
    path.line(DrawnPoint { y: level, ..*last });
    path.text + "z"
}

impl DrawnPoint {
    fn tenths(self) -> [i64; 2] {
        [self.x, self.y].map(rounded)
    }

    fn half_way(self, to: Self) -> Self {
        Self { x: f64::midpoint(self.x, to.x), y: f64::midpoint(self.y, to.y) }
    }
}

/// A path in the making; places in tenths, each told from the one before it.
struct SmoothPath {
    text: String,
    at: [i64; 2],
    /// The letter of the last step, which need not be written again.
    letter: char,
}

impl SmoothPath {
    fn begun_at(point: DrawnPoint) -> Self {
        let at = point.tenths();
        Self { text: format!("M{}", numbers(&at)), at, letter: 'M' }
    }

    fn follow(&mut self, points: &[DrawnPoint]) {
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

    fn line(&mut self, point: DrawnPoint) {
        let to = point.tenths();
        let step = [to[0] - self.at[0], to[1] - self.at[1]];
        if step != [0, 0] {
            self.step('l', &step);
        }
        self.at = to;
    }

    /// A parabola to a place, whose tangents at both ends meet in `via`.
    fn bend(&mut self, via: DrawnPoint, point: DrawnPoint) {
        let (via, to) = (via.tenths(), point.tenths());
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
fn is_straight(points: &[DrawnPoint]) -> bool {
    let [first, .., last] = points else { return true };
    let between = |u: f64| first.y + u * (last.y - first.y);
    points.iter().all(|p| (p.y - between(along(first, last, p))).abs() < BESIDE)
}

/// Where the tangents of the parabola meet that goes from the first to the last point and, by least squares, as
/// near as it can past the others; none where it passes too far beside one of them.
fn parabola(points: &[DrawnPoint]) -> Option<DrawnPoint> {
    let [first, .., last] = points else { return None };
    let weight = |u: f64| 2.0 * u * (1.0 - u);
    let ends = |u: f64| (1.0 - u) * (1.0 - u) * first.y + u * u * last.y;
    let (mut product, mut square) = (0.0, 0.0);
    for point in points {
        let u = along(first, last, point);
        product += weight(u) * (point.y - ends(u));
        square += weight(u) * weight(u);
    }
    let via = if square > 0.0 { product / square } else { f64::midpoint(first.y, last.y) };
    let is_near = |p: &DrawnPoint| {
        let u = along(first, last, p);
        (p.y - ends(u) - weight(u) * via).abs() < BESIDE
    };
    // Half-way between points too: a parabola passes through any three, even about a corner.
    let mut middles = points.windows(2).map(|p| p[0].half_way(p[1]));
    let is_near_all = points.iter().all(is_near) && middles.all(|p| is_near(&p));
    is_near_all.then_some(DrawnPoint { x: first.half_way(*last).x, y: via })
}

/// How far along from the first point to the last one a point lies, as a fraction.
fn along(first: &DrawnPoint, last: &DrawnPoint, point: &DrawnPoint) -> f64 {
    let length = last.x - first.x;
    if length > 0.0 { (point.x - first.x) / length } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(places: impl IntoIterator<Item = (f64, f64)>) -> Vec<DrawnPoint> {
        places.into_iter().map(|(x, y)| DrawnPoint { x, y }).collect()
    }

    /// By hand: a line, a parabola y = x²/10 whose tangents at 0 and 10 meet at (5, 0), and corners.
    #[test]
    fn lines_and_parabolas_are_told_as_such() {
        let line = points((0..50).map(f64::from).map(|x| (x, 0.5 * x + 1.0)));
        assert_eq!(curve(&line), "M0 1l49 24.5");
        let mut bent = points((0..=10).map(f64::from).map(|x| (x, x * x / 10.0)));
        assert_eq!(curve(&bent), "M0 0q5 0 10 10");
        bent.extend(points([(11.0, 2.0), (12.0, -6.0)]));
        assert_eq!(curve(&bent), "M0 0q5 0 10 10l2-16");
        let corner = points([(0.0, 0.0), (10.0, 9.0), (30.0, 8.0)]);
        assert_eq!(curve(&corner), "M0 0l10 9 20-1", "a corner stays");
        assert_eq!(curve(&[]), "");
        assert_eq!(area(&points([(0.0, 3.0), (4.0, 1.0)]), 5.0), "M0 5l0-2 4-2 0 4z");
    }

    /// A sine of the height of a row: the path takes few pieces, and each stays beside the points.
    #[test]
    fn a_sine_takes_few_pieces() {
        let sine = points((0..=180).map(f64::from).map(|x| (x, 33.0 * libm::sin(x / 57.3))));
        let text = curve(&sine);
        assert!(text.len() < 80, "{text}");
        assert!(parabola(&sine).is_none() && parabola(&sine[..25]).is_some());
    }
}
