//! Currents of all phases over output power: predictions as lines, measured values as marks.

use maud::{Markup, html};

use crate::report::format::numbers::three;

use super::spaced::{SpacedLabel, spaced};
use super::{Axis, Ends, HEIGHT, Name, UPWARDS, WIDTH, across, figure, path, px, short};

/// Kinds of stroke and of marks that tell phases apart; further phases begin anew.
const KINDS: usize = 4;
/// Left and right end of the plot, with room for names at the ends of lines.
const ACROSS: Ends = Ends { from: 52.0, to: WIDTH - 56.0 };
/// Height of such a name, and where names may stand.
const NAME_HEIGHT: f64 = 12.0;
const NAMES: Ends = Ends { from: 18.0, to: UPWARDS.from + 6.0 };
/// Half the width of a mark.
const MARK: f64 = 4.0;

/// Ends of the axes, which figures to be compared have in common; both begin at zero.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct OverLoadAxes {
    /// Highest output power, W.
    pub power: f64,
    /// Highest current, A.
    pub current: f64,
}

/// A current of one phase.
#[derive(Debug, Clone, Default)]
pub(in crate::report) struct PhaseCurrents {
    /// Unbroken pieces of the prediction: output power in W, current in A.
    pub pieces: Vec<Vec<(f64, f64)>>,
    /// Measured values.
    pub measured: Vec<(f64, f64)>,
}

/// One current of all phases over output power; `class` is that of the arrangement.
pub(in crate::report) fn over_load(
    name: &Name,
    class: &str,
    axes: OverLoadAxes,
    phases: &[PhaseCurrents],
) -> Markup {
    let top = |end: f64| if end > 0.0 { 1.04 * end } else { 1.0 };
    let x = Axis::linear(0.0, top(axes.power), ACROSS);
    let y = Axis::linear(0.0, top(axes.current), UPWARDS);
    let line = |piece: &[(f64, f64)]| path(piece.iter().map(|(p, i)| (x.at(*p), y.at(*i))));
    let inside = html! {
        @for tick in y.ticks() {
            @let level = y.at(tick);
            line class="grid" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(level)) y2=(px(level)) {}
            text x=(px(ACROSS.from - 6.0)) y=(px(level + 4.0)) text-anchor="end" { (y.tick_text(tick)) }
        }
        text class="name" x="2" y="13" { "current, A" }
        (across(&x, UPWARDS, "output power, W", short))
        @for (k, phase) in phases.iter().enumerate() {
            @for piece in &phase.pieces {
                path class=(format!("{class} line {}", stroke(k))) d=(line(piece)) {
                    title { "phase " (k + 1) ": " (predicted(piece)) }
                }
            }
        }
        @for (k, phase) in phases.iter().enumerate() {
            @for (power, current) in &phase.measured {
                path class="reading" d=(mark(k, x.at(*power), y.at(*current))) {
                    title { "phase " (k + 1) ", measured: " (three(*current)) " A at " (short(*power)) " W" }
                }
            }
        }
        (names(&x, &y, phases))
    };
    figure(name, HEIGHT, &inside)
}

/// Both ends of a prediction.
fn predicted(piece: &[(f64, f64)]) -> String {
    let end =
        |(power, current): &(f64, f64)| format!("{} A at {} W", three(*current), short(*power));
    let ends = [piece.first(), piece.last()].map(|own| own.map_or_else(String::new, end));
    ends.join(" to ")
}

/// The names of the phases at the ends of their lines, moved apart where lines meet.
fn names(x: &Axis, y: &Axis, phases: &[PhaseCurrents]) -> Markup {
    let end = |phase: &PhaseCurrents| phase.pieces.last()?.last().copied();
    let mut ends: Vec<(usize, f64, f64)> = phases
        .iter()
        .enumerate()
        .filter_map(|(k, phase)| end(phase).map(|(p, i)| (k, x.at(p), y.at(i))))
        .collect();
    ends.sort_by(|a, b| a.2.total_cmp(&b.2));
    let wanted: Vec<SpacedLabel> =
        ends.iter().map(|(.., up)| SpacedLabel { at: *up, room: NAME_HEIGHT }).collect();
    html! {
        @for ((k, across, _), up) in ends.iter().zip(spaced(&wanted, NAMES)) {
            text class="limit-label" x=(px(across + 7.0)) y=(px(up + 4.0)) { "phase " (k + 1) }
        }
    }
}

fn stroke(phase: usize) -> String {
    format!("phase-{}", phase % KINDS + 1)
}

/// A circle, a square, a triangle or a diamond about a place.
fn mark(phase: usize, x: f64, y: f64) -> String {
    let polygon = |corners: &[(f64, f64)]| {
        path(corners.iter().map(|(a, b)| (x + MARK * a, y + MARK * b))) + "Z"
    };
    match phase % KINDS {
        0 => format!("M{:.1} {y:.1}a{MARK} {MARK} 0 1 0 8 0a{MARK} {MARK} 0 1 0 -8 0Z", x - MARK),
        1 => polygon(&[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)]),
        2 => polygon(&[(0.0, -1.1), (1.1, 0.9), (-1.1, 0.9)]),
        _ => polygon(&[(0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_marks_stand_where_their_values_are() {
        let name = Name { id: "a".into(), title: "<b>".into(), description: "c".into() };
        let axes = OverLoadAxes { power: 100.0, current: 10.0 };
        let straight = PhaseCurrents {
            pieces: vec![vec![(10.0, 1.0), (100.0, 10.0)]],
            measured: vec![(50.0, 5.0)],
        };
        let text = over_load(&name, "chain", axes, &[straight.clone(), straight]).0;
        let (x, y) = (Axis::linear(0.0, 104.0, ACROSS), Axis::linear(0.0, 10.4, UPWARDS));
        let line = path([(x.at(10.0), y.at(1.0)), (x.at(100.0), y.at(10.0))].into_iter());
        assert_eq!(text.matches(&format!("d=\"{line}\"")).count(), 2, "{text}");
        let circle = format!("d=\"M{:.1} {:.1}a", x.at(50.0) - MARK, y.at(5.0));
        assert!(text.contains(&circle) && text.contains("&lt;b&gt;"), "{text}");
        assert_eq!(text.matches("class=\"reading\"").count(), 2);
        let labels = text.split("class=\"limit-label\"").skip(1);
        let heights: Vec<f64> = labels
            .map(|label| label.split("y=\"").nth(1).unwrap().split('"').next().unwrap())
            .map(|height| height.parse().unwrap())
            .collect();
        assert!((heights[1] - heights[0] - NAME_HEIGHT).abs() < 0.11, "apart: {heights:?}");
        assert!(text.contains(">phase 1<") && text.contains(">phase 2<"), "{text}");
    }
}
