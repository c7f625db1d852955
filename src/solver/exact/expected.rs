//! What the currents of a converter will be after a step of Newton's iteration, before it is followed there.

use super::cycle::PhaseUnknowns;
use super::start::Base;
use super::system::{ConverterUnknowns, HalfPeriod, Linear, PerUnitConverter, Source};
use crate::solver::{PhaseState, SteadyState, TankState};
use crate::units::{Ampere, Volt};

/// A step that changes an output current by more than this, of an equal share, tells little of where it leads.
const LARGEST_CHANGE: f64 = 0.5;

/// The same as a ratio, of a phase with little of its own.
const LARGEST_RATIO: f64 = 2.0;

/// Currents after a step.
pub(super) struct Expected {
    pub(super) state: SteadyState,
    /// By how much the step changes an output current at most, of an equal share.
    pub(super) change: f64,
}

impl PerUnitConverter<'_> {
    /// Takes `state`, the currents at a point that was followed, to where its step leads: RMS currents roughly,
    /// and the tanks of paralleled phases at the switching instants to first order. None where the step tells too
    /// little.
    pub(super) fn expected(
        &self,
        at: &ConverterUnknowns,
        linear: &Linear,
        base: &Base,
        state: impl FnOnce() -> SteadyState,
    ) -> Option<Expected> {
        let step = self.step(at, linear, HalfPeriod::Regulated)?;
        let now_and_then =
            |k: usize| (linear.periods[k].output, step.leads_to(&linear.trends[k].output));
        let changes =
            (0..self.phases.len()).map(now_and_then).map(|(now, then)| (then - now).abs());
        let share = self.output_current / self.phases.len() as f64;
        let change = changes.fold(0.0, f64::max) / share;
        if change.is_nan() || change > LARGEST_CHANGE {
            return None;
        }
        let mut state = state();
        for (k, phase) in state.phases.iter_mut().enumerate() {
            let (now, then) = now_and_then(k);
            phase.expect_output(then / now);
        }
        if let Source::Paralleled { amplitude } = self.source {
            let mut then = at.clone();
            then.advance(linear, &step, step.trusted(at));
            for (phase, z) in state.phases.iter_mut().zip(&then.z) {
                phase.expect_tank(z, amplitude, base);
            }
        }
        Some(Expected { state, change })
    }
}

impl PhaseState {
    /// So many times the output current. What the rectifier carries changes as much, and the magnetising
    /// current stays, whose square adds to that of the rectifier's in the tank.
    fn expect_output(&mut self, ratio: f64) {
        if !(0.0..=LARGEST_RATIO).contains(&ratio) {
            return;
        }
        let times = |own: &mut Ampere, factor: f64| own.0 *= factor;
        let (tank, rectifier) = (self.rms_current.0, self.rectified_rms_current.0);
        let more = rectifier * rectifier * (ratio * ratio - 1.0);
        let of_tank = (1.0 + more / (tank * tank)).max(0.0).sqrt();
        times(&mut self.output_current, ratio);
        times(&mut self.rectified_rms_current, ratio);
        times(&mut self.rms_current, of_tank);
        let switches = &mut self.switches;
        for own in [
            &mut switches.high,
            &mut switches.low,
            &mut switches.return_high,
            &mut switches.return_low,
        ] {
            times(&mut own.rms, of_tank);
        }
    }

    /// A paralleled tank with these unknowns, whose halves mirror each other: half a period later its currents
    /// are reversed, and the charge `2 C (e − W)` has passed.
    fn expect_tank(&mut self, z: &PhaseUnknowns, amplitude: f64, base: &Base) {
        let [d, im, e] = [z[0], z[1], z[2]];
        let ampere = |x: f64| Ampere(x * base.ampere());
        let source = self.start_voltage.0;
        let tank = |sign: f64, voltage: f64| TankState {
            tank_current: ampere(sign * (d + im)),
            magnetising_current: ampere(sign * im),
            capacitor_voltage: Volt(source + voltage * base.volt),
        };
        self.start = Some(tank(1.0, -e));
        self.middle = Some(tank(-1.0, e - 2.0 * amplitude));
    }
}
