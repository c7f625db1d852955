//! What the currents of a converter will be after a step of Newton's iteration, before it is followed there.

use super::cycle::PhaseUnknowns;
use super::start::Base;
use super::system::{ConverterUnknowns, HalfPeriod, Linear, NewtonStep, PerUnitConverter, Source};
use crate::solver::{PhaseState, SteadyState, TankState};
use crate::units::{Ampere, Volt};

/// A step that changes an output current by more than this, of an equal share, tells little of where it leads.
const LARGEST_CHANGE: f64 = 0.5;

/// The same as a ratio, of a phase with little of its own.
const LARGEST_RATIO: f64 = 2.0;

/// A step from a point that was followed.
pub(super) struct ExpectedStep<'a> {
    at: &'a ConverterUnknowns,
    linear: &'a Linear,
    step: NewtonStep,
    /// By how much it changes an output current at most, of an equal share.
    pub(super) change: f64,
}

impl PerUnitConverter<'_> {
    /// The step from a point that was followed; none where it tells too little of where it leads.
    pub(super) fn expected_step<'a>(
        &self,
        at: &'a ConverterUnknowns,
        linear: &'a Linear,
    ) -> Option<ExpectedStep<'a>> {
        let step = self.step(at, linear, HalfPeriod::Regulated)?;
        let share = self.output_current / self.phases.len() as f64;
        let now_and_then = linear.periods.iter().zip(&linear.trends);
        let changes =
            now_and_then.map(|(now, then)| (step.leads_to(&then.output) - now.output).abs());
        let change = changes.fold(0.0, f64::max) / share;
        (change <= LARGEST_CHANGE).then_some(ExpectedStep { at, linear, step, change })
    }

    /// Takes the currents at the point of a step to where it leads: RMS currents roughly, and the tanks of
    /// paralleled phases at the switching instants to first order.
    pub(super) fn expect(&self, expected: &ExpectedStep, state: &mut SteadyState, base: &Base) {
        let ExpectedStep { at, linear, step, .. } = expected;
        for (k, phase) in state.phases.iter_mut().enumerate() {
            let (now, then) = (linear.periods[k].output, step.leads_to(&linear.trends[k].output));
            phase.expect_output(then / now);
        }
        if let Source::Paralleled { amplitude } = self.source {
            let mut then = (*at).clone();
            then.advance(linear, step, step.trusted(at));
            for (phase, z) in state.phases.iter_mut().zip(&then.z) {
                phase.expect_tank(z, amplitude, base);
            }
        }
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
        let (tank, rectifier) = (self.rms_current.0, self.rectified_rms_current().0);
        let more = rectifier * rectifier * (ratio * ratio - 1.0);
        let of_tank = (1.0 + more / (tank * tank)).max(0.0).sqrt();
        times(&mut self.output_current, ratio);
        for own in &mut self.half_waves {
            times(&mut own.mean, ratio);
            times(&mut own.rms, ratio);
        }
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
