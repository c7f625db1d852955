//! A row a phase: tank and magnetising current, and the charge of its own half period.

use maud::{Markup, html};

use super::curve_path::{DrawnPoint, area, curve};
use super::frame::{ACROSS, Waveforms, end_ticks, microseconds};
use crate::report::format::figures::{Axis, Ends, px};
use crate::report::format::numbers;
use crate::solver::waveforms::{PhaseWaveforms, WaveformPoint};

/// All rows, one below the other, on a grid. Each kind of curve is one path for all phases.
pub(super) fn phase_rows(
    waveforms: &Waveforms<'_>,
    x: &Axis,
    height: f64,
    grid: &Markup,
) -> Markup {
    let phases = waveforms.phases.iter().enumerate();
    let rows: Vec<PhaseRow<'_>> = phases
        .map(|(k, phase)| {
            let top = 4.0 + height * k as f64;
            let drawn = Ends { from: top + height - 6.0, to: top + 6.0 };
            let y = Axis::linear(-waveforms.scales.current, waveforms.scales.current, drawn);
            PhaseRow { k, phase, top, height, x, y }
        })
        .collect();
    let (tank, magnetising): (Value, Value) =
        (|point| point.tank_current.0, |point| point.magnetising_current.0);
    let class = waveforms.class;
    html! {
        path class="own-half" d=(joined(&rows, PhaseRow::field)) {}
        (grid)
        path class=(format!("{class} shaded")) d=(joined(&rows, PhaseRow::charge)) {}
        path class="base" d=(joined(&rows, PhaseRow::zero)) {}
        path class="magnetising" d=(joined(&rows, |row| row.current(magnetising))) {}
        path class=(format!("{class} curve")) d=(joined(&rows, |row| row.current(tank))) {}
        @for row in &rows { (row.labels(class, waveforms.has_many())) }
        @if let Some(row) = rows.first() { (row.names(class)) }
    }
}

/// What a curve draws of a point.
type Value = fn(&WaveformPoint) -> f64;

/// The paths of all rows as one.
fn joined<'a>(rows: &[PhaseRow<'a>], path: impl Fn(&PhaseRow<'a>) -> String) -> String {
    rows.iter().map(path).collect()
}

/// A row of the drawing.
struct PhaseRow<'a> {
    k: usize,
    phase: &'a PhaseWaveforms,
    top: f64,
    height: f64,
    x: &'a Axis,
    y: Axis,
}

impl PhaseRow<'_> {
    fn places(&self, points: &[WaveformPoint], value: Value) -> Vec<DrawnPoint> {
        let place = |p| DrawnPoint { x: self.x.at(microseconds(p)), y: self.y.at(value(p)) };
        points.iter().map(place).collect()
    }

    /// From where to where the phase's own half period lies.
    fn own_ends(&self) -> Ends {
        let half = self.phase.own_half();
        let at = |point: Option<&WaveformPoint>| point.map_or(0.0, |p| self.x.at(microseconds(p)));
        Ends { from: at(half.first()), to: at(half.last()) }
    }

    /// The field behind it.
    fn field(&self) -> String {
        let Ends { from, to } = self.own_ends();
        let height = px(self.height - 4.0);
        format!("M{} {}H{}v{height}H{}z", px(from), px(self.top + 2.0), px(to), px(from))
    }

    fn charge(&self) -> String {
        area(&self.places(self.phase.own_half(), |p| p.tank_current.0), self.y.at(0.0))
    }

    fn zero(&self) -> String {
        format!("M{} {}H{}", px(ACROSS.from), px(self.y.at(0.0)), px(ACROSS.to))
    }

    fn current(&self, value: Value) -> String {
        curve(&self.places(&self.phase.points, value))
    }

    /// The phase, the charge of its half period and, where that has no label of its own below, the mean of what
    /// its rectifier delivers.
    fn labels(&self, class: &str, with_mean: bool) -> Markup {
        let (zero, own) = (self.y.at(0.0), self.own_ends());
        let charge = self.phase.charge;
        let below = if charge > 0.0 { 15.0 } else { -6.0 };
        html! {
            (end_ticks(&self.y))
            text class="label" x="0" y=(px(zero + 4.0)) { "phase " (self.k + 1) }
            text class=(format!("{class} value")) x=(px(f64::midpoint(own.from, own.to))) y=(px(zero + below))
                text-anchor="middle" {
                (numbers::three(1e6 * charge)) " µC"
                @if with_mean { ", mean out " (numbers::three(self.phase.output_current.0)) " A" }
            }
        }
    }

    /// What the curves are, beside those of the first phase: in its second half the tank current falls, and
    /// room is left above and below it.
    fn names(&self, class: &str) -> Markup {
        let zero = self.y.at(0.0);
        let middle = f64::midpoint(ACROSS.from, ACROSS.to);
        html! {
            text x=(px(ACROSS.to - 2.0)) y=(px(zero - 8.0)) text-anchor="end" { "magnetising current, A" }
            text class=(format!("{class} value halo")) x=(px(middle + 4.0)) y=(px(zero + 26.0)) {
                "tank current, A"
            }
        }
    }
}
