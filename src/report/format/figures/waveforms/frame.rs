//! What is drawn, with sizes and scales.

use maud::{Markup, html};

use crate::report::format::figures::{Axis, Ends, px};
use crate::solver::waveforms::{PhaseWaveforms, WaveformPoint};

/// Width of the drawing, and ends of its plots.
pub(super) const WIDTH: f64 = 420.0;
pub(super) const ACROSS: Ends = Ends { from: 56.0, to: WIDTH - 4.0 };
/// Height of the row of a phase; where there are many, of a lower one.
pub(super) const ROW: f64 = 76.0;
pub(super) const LOW_ROW: f64 = 54.0;
/// More phases than this have low rows, and one label together.
pub(super) const FEW: usize = 6;
/// Height of a panel that holds all phases, of the heading above it, and of the row of a flying capacitor.
pub(super) const PANEL: f64 = 84.0;
pub(super) const HEADING: f64 = 22.0;
pub(super) const FLYING_ROW: f64 = 38.0;

/// The waveforms of a converter in one arrangement.
pub(in crate::report) struct Waveforms<'a> {
    /// The class of the arrangement.
    pub class: &'a str,
    /// At least one.
    pub phases: &'a [PhaseWaveforms],
    /// What the drawings beside it share.
    pub scales: &'a WaveformScales,
}

impl Waveforms<'_> {
    /// Whether the phases are so many that their lines cannot be named one by one.
    pub(super) fn has_many(&self) -> bool {
        self.phases.len() > FEW
    }
}

/// Scales that several drawings share.
pub(in crate::report) struct WaveformScales {
    /// The largest tank current.
    pub(super) current: f64,
    /// The largest rectified current.
    pub(super) rectified: f64,
    /// The lowest and the highest bridge voltage while a leg drives.
    pub(super) bridge: Ends,
    /// The lowest and the highest voltage of a resonant capacitor.
    pub(super) capacitor: Ends,
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
        let capacitor = points.iter().map(|point| point.capacitor_voltage.0);
        Self {
            capacitor: Ends {
                from: capacitor.clone().fold(f64::INFINITY, f64::min),
                to: capacitor.fold(f64::NEG_INFINITY, f64::max),
            },
            current: most(|point| point.tank_current.0.abs()),
            rectified: most(|point| point.rectified_current.0),
            bridge: Ends { from: driven.fold(highest, f64::min), to: highest },
        }
    }
}

/// Microseconds, in which the time axis counts.
pub(super) fn microseconds(point: &WaveformPoint) -> f64 {
    1e6 * point.time.0
}

/// The numbers at the ends of an upright axis, left of it.
pub(super) fn end_ticks(y: &Axis) -> Markup {
    let ticks = y.ticks();
    let ends = [ticks.first(), ticks.last().filter(|_| ticks.len() > 1)];
    html! {
        @for tick in ends.into_iter().flatten() {
            text x=(px(ACROSS.from - 4.0)) y=(px(y.at(*tick) + 4.0)) text-anchor="end" { (y.tick_text(*tick)) }
        }
    }
}
