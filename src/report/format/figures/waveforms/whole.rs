//! All rows and panels, one below the other.

use maud::{Markup, html};

use super::frame::{ACROSS, FLYING_ROW, HEADING, LOW_ROW, PANEL, ROW, WIDTH, Waveforms};
use super::panels::{bridge, flying, flying_rows, rectified, resonant};
use super::phase_rows::phase_rows;
use crate::report::format::figures::{Axis, Name, drawing, px};
use crate::report::format::numbers;

/// Where the panels stand.
struct Layout {
    row: f64,
    rectified: f64,
    bridge: f64,
    resonant: f64,
    flying: f64,
    bottom: f64,
}

impl Layout {
    fn of(waveforms: &Waveforms<'_>) -> Self {
        let phases = waveforms.phases.len();
        let row = if waveforms.has_many() { LOW_ROW } else { ROW };
        let rectified = 4.0 + row * phases as f64 + HEADING;
        let bridge = rectified + PANEL + HEADING;
        let resonant = bridge + PANEL + HEADING;
        let flying = resonant + PANEL;
        let rows = flying_rows(waveforms) as f64;
        let heading = if rows > 0.0 { HEADING } else { 0.0 };
        Self {
            row,
            rectified,
            bridge,
            resonant,
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
        (resonant(waveforms, &x, layout.resonant))
        (flying(waveforms, &x, layout.flying))
        g text-anchor="middle" {
            @for tick in &ticks {
                text x=(px(x.at(*tick))) y=(px(layout.bottom + 15.0)) { (x.tick_text(*tick)) }
            }
        }
        text class="name" x=(px(f64::midpoint(ACROSS.from, ACROSS.to))) y=(px(layout.bottom + 31.0))
            text-anchor="middle" { (axis_name) }
    };
    drawing(name, WIDTH, layout.bottom + 36.0, &inside)
}
