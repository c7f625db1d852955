//! Waveforms of a converter on one time axis, from top to bottom: the currents of every phase, what the
//! rectifiers deliver, the bridge voltages, and every flying capacitor.

mod curve_path;
mod line_labels;
mod panels;
mod phase_rows;

use maud::{Markup, html};

use self::panels::{bridge, flying, flying_rows, rectified};
use self::phase_rows::phase_rows;
use super::{Axis, Ends, Name, drawing, px, short};
use crate::report::format::numbers;
use crate::solver::waveforms::{PhaseWaveforms, WaveformPoint};

/// Width of the drawing, and ends of its plots.
const WIDTH: f64 = 420.0;
const ACROSS: Ends = Ends { from: 56.0, to: WIDTH - 4.0 };
/// Height of the row of a phase; where there are many, of a lower one.
const ROW: f64 = 76.0;
const LOW_ROW: f64 = 54.0;
/// More phases than this have low rows.
const FEW: usize = 6;
/// Height of a panel that holds all phases, of the heading above it, and of the row of a flying capacitor.
const PANEL: f64 = 84.0;
const HEADING: f64 = 22.0;
const FLYING_ROW: f64 = 38.0;

/// The waveforms of a converter in one arrangement.
pub(in crate::report) struct Waveforms<'a> {
    /// The class of the arrangement.
    pub class: &'a str,
    /// At least one.
    pub phases: &'a [PhaseWaveforms],
    /// What the drawings beside it share.
    pub scales: &'a WaveformScales,
}

/// Scales that several drawings share.
pub(in crate::report) struct WaveformScales {
    /// The largest tank current.
    current: f64,
    /// The largest rectified current.
    rectified: f64,
    /// The lowest and the highest bridge voltage while a leg drives.
    bridge: Ends,
}

impl WaveformScales {
    /// Of converters that are drawn beside each other.
    pub(in crate::report) fn of<'a>(all: impl Iterator<Item = &'a [PhaseWaveforms]>) -> Self {
        let points: Vec<&WaveformPoint> = all.flatten().flat_map(|phase| &phase.points).collect();
        let most = |value: fn(&WaveformPoint) -> f64| {
            points.iter().map(|point| value(point)).fold(0.0, f64::max)
        };
        let highest = most(|point| point.bridge_voltage.0.abs());
        let driven = points.iter().map(|p| p.bridge_voltage.0.abs()).filter(|v| *v > 0.5 * highest);
        Self {
            current: most(|point| point.tank_current.0.abs()),
            rectified: most(|point| point.rectified_current.0),
            bridge: Ends { from: driven.fold(highest, f64::min), to: highest },
        }
    }
}

/// Where the panels stand.
struct Layout {
    row: f64,
    rectified: f64,
    bridge: f64,
    flying: f64,
    bottom: f64,
}

impl Layout {
    fn of(waveforms: &Waveforms<'_>) -> Self {
        let phases = waveforms.phases.len();
        let row = if phases > FEW { LOW_ROW } else { ROW };
        let rectified = 4.0 + row * phases as f64 + HEADING;
        let bridge = rectified + PANEL + HEADING;
        let flying = bridge + PANEL;
        let rows = flying_rows(waveforms) as f64;
        let heading = if rows > 0.0 { HEADING } else { 0.0 };
        Self {
            row,
            rectified,
            bridge,
            flying: flying + heading,
            bottom: flying + heading + FLYING_ROW * rows,
        }
    }
}

/// All waveforms of a converter over a period; the charge of every phase's own half period is shaded.
pub(in crate::report) fn waveforms(name: &Name, waveforms: &Waveforms<'_>) -> Markup {
    let period = waveforms.phases.first().and_then(|p| p.points.last()).map_or(1.0, |p| p.time.0);
    let x = Axis::linear(0.0, 1e6 * period, ACROSS);
    let layout = Layout::of(waveforms);
    let ticks = x.ticks();
    let grid: Vec<String> =
        ticks.iter().map(|tick| format!("M{} 4V{}", px(x.at(*tick)), px(layout.bottom))).collect();
    let grid = html! { path class="grid" d=(grid.concat()) {} };
    let axis_name = format!("time, µs; one period of {} µs", numbers::three(1e6 * period));
    let inside = html! {
        (phase_rows(waveforms, &x, layout.row, &grid))
        (rectified(waveforms, &x, layout.rectified))
        (bridge(waveforms, &x, layout.bridge))
        (flying(waveforms, &x, layout.flying))
        @for tick in &ticks {
            text x=(px(x.at(*tick))) y=(px(layout.bottom + 15.0)) text-anchor="middle" { (short(*tick)) }
        }
        text class="name" x=(px(f64::midpoint(ACROSS.from, ACROSS.to))) y=(px(layout.bottom + 31.0))
            text-anchor="middle" { (axis_name) }
    };
    drawing(name, WIDTH, layout.bottom + 36.0, &inside)
}

/// Microseconds, in which the time axis counts.
fn microseconds(point: &WaveformPoint) -> f64 {
    1e6 * point.time.0
}

/// The numbers at the ends of an upright axis, left of it.
fn end_ticks(y: &Axis) -> Markup {
    let ticks = y.ticks();
    let ends = [ticks.first(), ticks.last().filter(|_| ticks.len() > 1)];
    html! {
        @for tick in ends.into_iter().flatten() {
            text x=(px(ACROSS.from - 4.0)) y=(px(y.at(*tick) + 4.0)) text-anchor="end" { (short(*tick)) }
        }
    }
}
