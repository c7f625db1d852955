//! Waveforms: a row a phase on one time axis and one scale of currents.

use maud::{Markup, html};

use super::{Axis, Ends, Name, drawing, px, short};
use crate::report::format::numbers;
use crate::solver::waveforms::{PhaseWaveforms, WaveformPoint};

/// Width of the drawing, ends of its plot, height of a row.
const WIDTH: f64 = 420.0;
const ACROSS: Ends = Ends { from: 34.0, to: WIDTH - 8.0 };
const ROW: f64 = 86.0;
const TOP: f64 = 18.0;

/// The largest current of these phases, which scales of several drawings share.
pub(in crate::report) fn largest_current(phases: &[PhaseWaveforms]) -> f64 {
    let points = phases.iter().flat_map(|phase| &phase.points);
    points.map(|p| p.tank_current.0.abs()).fold(0.0, f64::max)
}

/// Tank and magnetising current of every phase over a period, and the charge of its own half period shaded.
pub(in crate::report) fn waveforms(
    name: &Name,
    class: &str,
    phases: &[PhaseWaveforms],
    largest: f64,
) -> Markup {
    let period = phases.first().and_then(|p| p.points.last()).map_or(1.0, |p| p.time.0);
    let x = Axis::linear(0.0, 1e6 * period, ACROSS);
    let bottom = TOP + ROW * phases.len() as f64;
    let inside = html! {
        text class="name" x="0" y="12" { "A" }
        @for tick in x.ticks() {
            @let at = px(x.at(tick));
            line class="grid" x1=(at) x2=(at) y1=(px(TOP)) y2=(px(bottom)) {}
            text x=(at) y=(px(bottom + 15.0)) text-anchor="middle" { (short(tick)) }
        }
        text class="name" x=(px(WIDTH / 2.0)) y=(px(bottom + 31.0)) text-anchor="middle" { "time, µs" }
        @for (k, phase) in phases.iter().enumerate() {
            (one_phase(&x, &PhaseRow { number: k + 1, top: TOP + ROW * k as f64, largest, class, phase }))
        }
    };
    drawing(name, WIDTH, bottom + 36.0, &inside)
}

/// A row of the drawing.
struct PhaseRow<'a> {
    /// Counted from 1.
    number: usize,
    top: f64,
    largest: f64,
    class: &'a str,
    phase: &'a PhaseWaveforms,
}

fn one_phase(x: &Axis, row: &PhaseRow) -> Markup {
    let PhaseRow { number, top, largest, class, phase } = *row;
    let y = Axis::linear(-largest, largest, Ends { from: top + ROW - 6.0, to: top + 14.0 });
    let at = |time: f64, current: f64| (x.at(1e6 * time), y.at(current));
    let tank: Vec<_> = phase.points.iter().map(|p| at(p.time.0, p.tank_current.0)).collect();
    let magnetising: Vec<_> =
        phase.points.iter().map(|p| at(p.time.0, p.magnetising_current.0)).collect();
    let zero = y.at(0.0);
    let half = 0.5 * phase.points.last().map_or(0.0, |p| p.time.0);
    let own = |p: &&WaveformPoint| if phase.is_late { p.time.0 >= half } else { p.time.0 <= half };
    let high: Vec<_> =
        phase.points.iter().filter(own).map(|p| at(p.time.0, p.tank_current.0)).collect();
    let [from, to] = [high.first(), high.last()].map(|end| end.map_or(0.0, |end| end.0));
    let charge = numbers::three(1e6 * phase.charge);
    html! {
        path class=(format!("{class} shaded")) d=(format!("{}L{to:.1} {zero:.1}L{from:.1} {zero:.1}Z", relative(&high))) {}
        line class="base" x1=(px(x.drawn.from)) x2=(px(x.drawn.to)) y1=(px(zero)) y2=(px(zero)) {}
        path class="magnetising" d=(relative(&magnetising)) {}
        path class=(format!("{class} curve")) d=(relative(&tank)) {}
        @for value in y.ticks() {
            text x=(px(x.drawn.from - 4.0)) y=(px(y.at(value) + 4.0)) text-anchor="end" { (short(value)) }
        }
        text class="label" x=(px(x.drawn.from + 4.0)) y=(px(top + 11.0)) { "phase " (number) }
        text class=(format!("{class} value")) x=(px(f64::midpoint(from, to))) y=(px(zero + if phase.charge > 0.0 { 16.0 } else { -6.0 }))
            text-anchor="middle" { (charge) " µC" }
    }
}

/// The points that a line through them needs: what is left out lies within a tenth of it.
fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let [first, .., last] = points else { return points.to_vec() };
    let (along_x, along_y) = (last.0 - first.0, last.1 - first.1);
    let length = (along_x * along_x + along_y * along_y).sqrt().max(1e-9);
    let beside =
        |p: &(f64, f64)| ((p.0 - first.0) * along_y - (p.1 - first.1) * along_x).abs() / length;
    let (farthest, most) = (points.iter().enumerate())
        .map(|(n, point)| (n, beside(point)))
        .fold((0, 0.0), |most, next| if next.1 > most.1 { next } else { most });
    if most < 0.1 {
        return vec![*first, *last];
    }
    let mut kept = thinned(&points[..=farthest]);
    kept.extend(thinned(&points[farthest..]).into_iter().skip(1));
    kept
}

/// A path through points in steps of tenths, each from the last one: a third shorter than by places.
fn relative(points: &[(f64, f64)]) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "places in a drawing")]
    let tenths = |v: f64| (10.0 * v).round() as i64;
    let points = thinned(points);
    let Some(first) = points.first() else { return String::new() };
    let (mut x, mut y) = (tenths(first.0), tenths(first.1));
    let number = |n: i64| short(n as f64 / 10.0).replace('−', "-");
    let mut text = vec![format!("M{} {}", number(x), number(y))];
    for (next_x, next_y) in points.iter().skip(1).map(|(a, b)| (tenths(*a), tenths(*b))) {
        if (next_x, next_y) != (x, y) {
            text.push(format!("l{} {}", number(next_x - x), number(next_y - y)));
            (x, y) = (next_x, next_y);
        }
    }
    text.concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_end_where_the_points_are() {
        let text = relative(&[(10.04, 5.0), (12.0, 5.0), (12.01, 5.0), (11.0, 7.55)]);
        assert_eq!(text, "M10 5l2 0l-1 2.6");
        let line: Vec<_> = (0..50).map(|n| (f64::from(n), 0.5 * f64::from(n) + 0.05)).collect();
        assert_eq!(relative(&line), "M0 0.1l49 24.5");
        assert_eq!(relative(&[]), "");
    }
}
