//! Voltages after a disturbance, period after period.

use maud::{Markup, html};

use super::{ACROSS, Axis, Ends, HEIGHT, Name, UPWARDS, across, figure, path, px, short};

/// Kinds of stroke that tell lines apart; further lines begin anew.
const KINDS: usize = 4;

/// A voltage over time.
#[derive(Debug)]
pub(in crate::report) struct DecayLine {
    /// The label where it is largest.
    pub label: String,
    /// Switching periods and share of the disturbance.
    pub points: Vec<(f64, f64)>,
}

/// Shares of a disturbance over switching periods; `level` is the share that counts as settled.
pub(in crate::report) fn decay(name: &Name, lines: &[DecayLine], level: f64) -> Markup {
    let all = || lines.iter().flat_map(|line| &line.points);
    let last = all().map(|(periods, _)| *periods).fold(0.0, f64::max);
    let low = all().map(|(_, share)| *share).fold(0.0, f64::min);
    let x = Axis::linear(0.0, if last > 0.0 { last } else { 1.0 }, ACROSS);
    let y = Axis::linear((1.1 * low).max(-1.1), 1.08, UPWARDS);
    let inside = html! {
        @for tick in y.ticks() {
            @let at = y.at(tick);
            line class="grid" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(at)) y2=(px(at)) {}
            text x=(px(ACROSS.from - 6.0)) y=(px(at + 4.0)) text-anchor="end" { (short(100.0 * tick)) }
        }
        text class="name" x="2" y="13" { "% of the disturbance" }
        (across(&x, UPWARDS, "switching periods", short))
        rect class="beyond-limit" x=(px(ACROSS.from)) width=(px(ACROSS.to - ACROSS.from))
            y=(px(y.at(level))) height=(px((y.at(-level) - y.at(level)).max(1.0))) {}
        @for (k, line) in lines.iter().enumerate() {
            path class=(format!("chain line phase-{}", k % KINDS + 1))
                d=(path(line.points.iter().map(|(t, v)| (x.at(*t), y.at(*v))))) {}
        }
        @for line in lines { (label(&x, &y, line)) }
    };
    figure(name, HEIGHT, &inside)
}

/// The label of a line beside its largest value.
fn label(x: &Axis, y: &Axis, line: &DecayLine) -> Markup {
    let peak = line.points.iter().reduce(|a, b| if b.1.abs() > a.1.abs() { b } else { a });
    html! {
        @if let Some((periods, share)) = peak {
            @let Ends { from, to } = ACROSS;
            @let along = x.at(*periods).clamp(from, to - 20.0) + 5.0;
            text class="limit-label" x=(px(along)) y=(px(y.at(*share) + 4.0)) { (line.label) }
        }
    }
}
