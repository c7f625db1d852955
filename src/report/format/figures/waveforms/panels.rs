//! Panels of all phases: rectified currents, bridge voltages, resonant and flying capacitors.

use maud::{Markup, html};

use super::curve_path::{DrawnPoint, curve};
use super::frame::{ACROSS, FLYING_ROW, PANEL, Waveforms, end_ticks, microseconds};
use super::line_labels::{LabelledLine, common_label, line_labels};
use crate::report::format::figures::{Axis, Ends, px};
use crate::report::format::numbers;
use crate::solver::waveforms::{PhaseWaveforms, WaveformPoint};

/// Height of the words above the line of a flying capacitor.
const WORDS: f64 = 13.0;

/// What the rectifiers deliver, with the mean of each.
pub(super) fn rectified(waveforms: &Waveforms<'_>, x: &Axis, top: f64) -> Markup {
    let y = Axis::linear(
        0.0,
        waveforms.scales.rectified,
        Ends { from: top + PANEL - 4.0, to: top + 14.0 },
    );
    let value: Value = |point| point.rectified_current.0;
    let line = |phase: &PhaseWaveforms| curve(&places(&phase.points, x, &y, value));
    let label = |k: usize, phase: &PhaseWaveforms| {
        let own = phase.own_half();
        let peak = own.iter().map(value).fold(0.0, f64::max);
        LabelledLine { phase: k + 1, y: y.at(peak), value: phase.output_current.0 }
    };
    html! {
        text class="name" x="0" y=(px(top - 4.0)) {
            @if waveforms.has_many() { "rectified currents on the output side, A; means in the rows above" }
            @else { "rectified current on the output side and its mean, A" }
        }
        (end_ticks(&y))
        path class="base" d=(level(&y, 0.0)) {}
        path class=(format!("{} thin curve", waveforms.class)) d=(waveforms.phases.iter().map(line).collect::<String>()) {}
        (labels(waveforms, top, |phase| phase.is_late, label, "A"))
    }
}

/// The bridge voltages while a leg drives, on a scale that shows how they differ.
pub(super) fn bridge(waveforms: &Waveforms<'_>, x: &Axis, top: f64) -> Markup {
    let Ends { from: lowest, to: highest } = waveforms.scales.bridge;
    let y = Axis::linear(lowest, highest, Ends { from: top + PANEL - 8.0, to: top + 18.0 });
    let value: Value = |point| point.bridge_voltage.0.abs();
    let is_driven = |half: &&[WaveformPoint]| half.iter().all(|p| value(p) > 0.5 * highest);
    let line = |phase: &PhaseWaveforms| {
        let driven = phase.halves().into_iter().filter(is_driven);
        driven.map(|half| curve(&places(half, x, &y, value))).collect::<String>()
    };
    let label = |k: usize, phase: &PhaseWaveforms| {
        let own = phase.own_half();
        let highest = own.iter().map(value).fold(0.0, f64::max);
        LabelledLine { phase: k + 1, y: y.at(highest), value: own.first().map_or(0.0, value) }
    };
    html! {
        text class="name" x="0" y=(px(top - 4.0)) { "bridge voltage without its sign, and its first value, V" }
        (end_ticks(&y))
        path class=(format!("{} thin curve", waveforms.class)) d=(waveforms.phases.iter().map(line).collect::<String>()) {}
        (labels(waveforms, top, |phase| phase.is_late, label, "V"))
    }
}

/// The voltages of the resonant capacitors, with the peak of each.
pub(super) fn resonant(waveforms: &Waveforms<'_>, x: &Axis, top: f64) -> Markup {
    let Ends { from: lowest, to: highest } = waveforms.scales.capacitor;
    let y = Axis::linear(lowest, highest, Ends { from: top + PANEL - 4.0, to: top + 18.0 });
    let value: Value = |point| point.capacitor_voltage.0;
    let line = |phase: &PhaseWaveforms| curve(&places(&phase.points, x, &y, value));
    let label = |k: usize, phase: &PhaseWaveforms| {
        let all = phase.points.iter().map(value);
        let peak = all.clone().map(f64::abs).fold(0.0, f64::max);
        LabelledLine { phase: k + 1, y: y.at(all.fold(lowest, f64::max)), value: peak }
    };
    html! {
        text class="name" x="0" y=(px(top - 4.0)) { "resonant-capacitor voltage and its peak, V" }
        (end_ticks(&y))
        path class=(format!("{} thin curve", waveforms.class)) d=(waveforms.phases.iter().map(line).collect::<String>()) {}
        // The voltage peaks after the own half period, when the current has come to zero.
        (labels(waveforms, top, |phase| !phase.is_late, label, "V"))
    }
}

/// Rows of flying capacitors.
pub(super) fn flying_rows(waveforms: &Waveforms<'_>) -> usize {
    waveforms.phases.iter().filter(|phase| swing(phase, 0).is_some()).count()
}

/// The voltage of every flying capacitor about its mean, all on one scale.
pub(super) fn flying(waveforms: &Waveforms<'_>, x: &Axis, top: f64) -> Markup {
    let swings = waveforms.phases.iter().flat_map(|phase| [0, 1].map(|leg| swing(phase, leg)));
    let largest = swings.flatten().map(|ends| ends.to - ends.from).fold(0.0, f64::max);
    let rows = waveforms.phases.iter().filter_map(|phase| Some((phase, swing(phase, 0)?)));
    let has_return = waveforms.phases.iter().any(|phase| swing(phase, 1).is_some());
    html! {
        @if largest > 0.0 {
            text class="name" x="0" y=(px(top - 4.0)) {
                "flying-capacitor voltages, one scale" @if has_return { "; dashed: return leg" }
            }
            @for (n, (phase, ends)) in rows.enumerate() {
                @let row = top + FLYING_ROW * n as f64;
                @let middle = f64::midpoint(ends.from, ends.to);
                @let drawn = Ends { from: row + FLYING_ROW - 2.0, to: row + WORDS + 2.0 };
                @let y = Axis::linear(middle - 0.5 * largest, middle + 0.5 * largest, drawn);
                text class="label" x="0" y=(px(row + 28.0)) { "C" (n + 1) }
                @for leg in [0, 1] {
                    @let line = flying_line(phase, leg, x, &y);
                    @if !line.is_empty() { path class=(format!("{} {}", waveforms.class, STROKES[leg])) d=(line) {} }
                }
                text x=(px(ACROSS.from + 4.0)) y=(px(row + 12.0)) {
                    (numbers::three(middle)) " V, ripple " (numbers::three(ends.to - ends.from)) " V"
                }
            }
        }
    }
}

/// Classes of the lines of the driven and of the return leg.
const STROKES: [&str; 2] = ["thin curve", "thin curve returned"];

fn flying_line(phase: &PhaseWaveforms, leg: usize, x: &Axis, y: &Axis) -> String {
    let place = |p: &WaveformPoint| {
        Some(DrawnPoint { x: x.at(microseconds(p)), y: y.at(p.flying_voltages[leg]?.0) })
    };
    curve(&phase.points.iter().filter_map(place).collect::<Vec<_>>())
}

/// Lowest and highest voltage of the flying capacitor after a phase, if it has one in the leg.
fn swing(phase: &PhaseWaveforms, leg: usize) -> Option<Ends> {
    let voltages = phase.points.iter().filter_map(|point| Some(point.flying_voltages[leg]?.0));
    voltages
        .map(|v| Ends { from: v, to: v })
        .reduce(|a, b| Ends { from: a.from.min(b.from), to: a.to.max(b.to) })
}

/// What a panel draws of a point.
type Value = fn(&WaveformPoint) -> f64;

fn places(points: &[WaveformPoint], x: &Axis, y: &Axis, value: Value) -> Vec<DrawnPoint> {
    points.iter().map(|p| DrawnPoint { x: x.at(microseconds(p)), y: y.at(value(p)) }).collect()
}

fn level(y: &Axis, value: f64) -> String {
    format!("M{} {}H{}", px(ACROSS.from), px(y.at(value)), px(ACROSS.to))
}

/// Labels in the middle of a half period: of phases 1, 3, … in one, of the others in the other. `in_second` tells
/// whose are in the second half. Of many phases one label above all lines.
fn labels(
    waveforms: &Waveforms<'_>,
    top: f64,
    in_second: fn(&PhaseWaveforms) -> bool,
    label: impl Fn(usize, &PhaseWaveforms) -> LabelledLine,
    unit: &str,
) -> Markup {
    let quarter = 0.25 * (ACROSS.to - ACROSS.from);
    let of_half = |is_late: bool| {
        let phases =
            waveforms.phases.iter().enumerate().filter(|(_, phase)| in_second(phase) == is_late);
        line_labels(phases.map(|(k, phase)| label(k, phase)).collect(), unit)
    };
    let class = format!("{} value halo", waveforms.class);
    if waveforms.has_many() {
        let phases = waveforms.phases.iter().enumerate();
        let lines: Vec<LabelledLine> = phases.map(|(k, phase)| label(k, phase)).collect();
        return html! {
            text class=(class) x=(px(ACROSS.to)) y=(px(top + 9.0)) text-anchor="end" { (common_label(&lines, unit)) }
        };
    }
    html! {
        @for (is_late, middle) in [(false, ACROSS.from + quarter), (true, ACROSS.to - quarter)] {
            @for label in of_half(is_late) {
                text class=(class) x=(px(middle)) y=(px(label.y - 4.0))
                    text-anchor="middle" { (label.text) }
            }
        }
    }
}
