//! Paths of curves that take few bytes.

use crate::report::format::figures::short;

/// How far a path may pass beside its points, in the view box: less than anybody sees.
const BESIDE: f64 = 0.12;

/// A path through points in steps of tenths, each from the last one: a third shorter than by places.
pub(super) fn curve(points: &[(f64, f64)]) -> String {
    let points = thinned(points);
    let Some(first) = points.first() else { return String::new() };
    let (mut x, mut y) = (tenths(first.0), tenths(first.1));
    let mut text = format!("M{}{}", number(x), further(y));
    let mut pen = "l";
    for (next_x, next_y) in points.iter().skip(1).map(|(a, b)| (tenths(*a), tenths(*b))) {
        if (next_x, next_y) != (x, y) {
            let along = if pen.is_empty() { further(next_x - x) } else { number(next_x - x) };
            text.extend([pen, &along, &further(next_y - y)]);
            (x, y, pen) = (next_x, next_y, "");
        }
    }
    text
}

/// The same, closed along a level line.
pub(super) fn area(points: &[(f64, f64)], level: f64) -> String {
    let [Some(first), Some(last)] = [points.first(), points.last()] else { return String::new() };
    let closed: Vec<_> = [(first.0, level)]
        .into_iter()
        .chain(points.iter().copied())
        .chain([(last.0, level)])
        .collect();
    curve(&closed) + "z"
}

#[expect(clippy::cast_possible_truncation, reason = "places in a drawing")]
fn tenths(place: f64) -> i64 {
    (10.0 * place).round() as i64
}

fn number(tenths: i64) -> String {
    let text = short(tenths as f64 / 10.0).replace('−', "-");
    match text.strip_prefix("0.").or_else(|| text.strip_prefix("-0.")) {
        Some(part) if tenths < 0 => format!("-.{part}"),
        Some(part) => format!(".{part}"),
        None => text,
    }
}

/// A number after another one: its sign parts them, if it has one.
fn further(tenths: i64) -> String {
    let separator = if tenths < 0 { "" } else { " " };
    format!("{separator}{}", number(tenths))
}

/// The points that a line through them needs: what is left out lies within [`BESIDE`] of it.
fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let [first, .., last] = points else { return points.to_vec() };
    let (along_x, along_y) = (last.0 - first.0, last.1 - first.1);
    let length = (along_x * along_x + along_y * along_y).sqrt().max(1e-9);
    let beside =
        |p: &(f64, f64)| ((p.0 - first.0) * along_y - (p.1 - first.1) * along_x).abs() / length;
    let (farthest, most) = (points.iter().enumerate())
        .map(|(n, point)| (n, beside(point)))
        .fold((0, 0.0), |most, next| if next.1 > most.1 { next } else { most });
    if most < BESIDE {
        return vec![*first, *last];
    }
    let mut kept = thinned(&points[..=farthest]);
    kept.extend(thinned(&points[farthest..]).into_iter().skip(1));
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_end_where_the_points_are() {
        let text = curve(&[(10.04, 5.0), (12.0, 5.0), (12.01, 5.0), (11.0, 7.55)]);
        assert_eq!(text, "M10 5l2 0-1 2.6");
        assert_eq!(curve(&[(0.0, 3.0), (0.4, 1.0), (5.0, 0.5)]), "M0 3l.4-2 4.6-.5");
        let line: Vec<_> = (0..50).map(|n| (f64::from(n), 0.5 * f64::from(n) + 0.05)).collect();
        assert_eq!(curve(&line), "M0 .1l49 24.5");
        assert_eq!(curve(&[]), "");
        assert_eq!(area(&[(0.0, 3.0), (4.0, 1.0)], 5.0), "M0 5l0-2 4-2 0 4z");
    }
}
