//! A chain whose ripple reaches the body diodes, step by step.
//!
//! Where a flying capacitor has aged so far that its ripple is as high as the voltage of a phase, body
//! diodes hold that voltage at −d and take over the current: the closed form of a half period does not
//! tell that. The chain is followed with the trapezoidal rule. While phase k is high its current alone
//! moves the capacitors beside it:
//!
//! ```text
//! conducting:  (L/h + R/2 + h K/4) i₁ = (L/h − R/2 − h K/4) i₀ + u₀ − v₀ − s Vp
//! ```
//!
//! with the source voltage u₀, the voltage v₀ of the resonant capacitor, K = 1/Cr + κ and the step h. At a
//! source of −d the diode holds it, and κ is left out.

use arrayvec::ArrayVec;

use super::case::FaultCase;
use crate::converter::{Converter, MAX_PHASES, neighbours};
use crate::units::{Ampere, Hertz};

/// Steps of a period.
const STEPS: usize = 400;

#[derive(Debug, Clone, Copy, Default)]
struct TankState {
    current: f64,
    capacitor: f64,
    magnetising: f64,
    /// +1 or −1: the rectifier conducts with this sign; 0: off.
    sign: f64,
    /// Rectified charge of this period.
    charge: f64,
}

/// A chain on its way through time.
pub(super) struct ClampedChain<'a> {
    case: &'a FaultCase,
    converter: &'a Converter,
    tanks: ArrayVec<TankState, MAX_PHASES>,
    /// Node voltages of each driven leg: the input, the flying capacitors, the ground.
    nodes: ArrayVec<ArrayVec<f64, { MAX_PHASES + 1 }>, 2>,
}

impl<'a> ClampedChain<'a> {
    /// A converter with the ideal voltages, without current.
    pub(super) fn new(case: &'a FaultCase, converter: &'a Converter) -> Self {
        let (phases, input) = (converter.phases(), case.point.input_voltage.0);
        let legs = case.point.drive.legs();
        let ideal = |k: usize| input * (phases - k) as f64 / phases as f64;
        let nodes = (0..legs).map(|_| (0..=phases).map(ideal).collect()).collect();
        let offset = if legs == 1 { 0.5 * input / phases as f64 } else { 0.0 };
        let tank = TankState { capacitor: offset, ..TankState::default() };
        Self { case, converter, tanks: std::iter::repeat_n(tank, phases).collect(), nodes }
    }

    /// Follows so many periods; gives the mean output current of the second half of them.
    pub(super) fn follow(&mut self, frequency: Hertz, periods: usize) -> Ampere {
        let mut charge = 0.0;
        for period in 0..periods {
            self.period(frequency);
            if 2 * period >= periods {
                charge += self.output_charge();
            }
        }
        let counted = periods - periods.div_ceil(2);
        Ampere(charge * frequency.0 / counted.max(1) as f64)
    }

    fn output_charge(&self) -> f64 {
        let gain = |n| self.case.point.rectifier.current_gain(n);
        let tanks = self.tanks.iter().zip(&self.converter.tanks);
        tanks.map(|(own, tank)| gain(tank.turns_ratio) * own.charge).sum()
    }

    fn period(&mut self, frequency: Hertz) {
        let h = 1.0 / (frequency.0 * STEPS as f64);
        self.tanks.iter_mut().for_each(|own| own.charge = 0.0);
        for step in 0..STEPS {
            let half = 2 * step / STEPS;
            for k in 0..self.tanks.len() {
                self.advance(k, half, h);
            }
        }
    }

    /// A step of phase `k`. In each half one leg is high, and in half bridge maybe none.
    fn advance(&mut self, k: usize, half: usize, h: f64) {
        let high = (k + half) % 2;
        let legs = [&self.converter.flying, &self.converter.flying_return];
        // The tank sees the voltage of the return leg with the opposite sign.
        let sign = if high == 0 { 1.0 } else { -1.0 };
        let Some(nodes) = self.nodes.get(high) else {
            self.tanks[k] = self.stepped(k, [0.0, 0.0], h);
            return;
        };
        let kappa = neighbours(legs[high], k);
        let voltage = nodes[k] - nodes[k + 1];
        let drop = self.case.assumed.diode_drop.0;
        let next = self.stepped(k, [sign * voltage, kappa], h);
        let charge = 0.5 * h * sign * (self.tanks[k].current + next.current);
        if voltage - kappa * charge < -drop {
            self.tanks[k] = self.stepped(k, [-sign * drop, 0.0], h);
            return;
        }
        self.tanks[k] = next;
        let flying = legs[high];
        if k > 0 {
            self.nodes[high][k] -= charge / flying[k - 1].0;
        }
        if let Some(own) = flying.get(k) {
            self.nodes[high][k + 1] += charge / own.0;
        }
    }

    /// The tank of phase `k` after a step from a source voltage that falls with an elastance.
    fn stepped(&self, k: usize, [source, kappa]: [f64; 2], h: f64) -> TankState {
        let (own, tank) = (self.tanks[k], &self.converter.tanks[k]);
        let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
        let (r, elastance) = (tank.series_resistance.0, 1.0 / tank.resonant_capacitance.0);
        let clamp = self.clamp(k);
        let is_off = own.sign == 0.0;
        let l = if is_off { lr + lm } else { lr };
        let damping = 0.5 * r + 0.25 * h * (elastance + kappa);
        let net = source - own.capacitor - own.sign * clamp;
        let current = ((l / h - damping) * own.current + net) / (l / h + damping);
        let mut next = own;
        next.capacitor += 0.5 * h * elastance * (own.current + current);
        next.current = current;
        if is_off {
            next.magnetising = current;
            let winding = lm / (lr + lm) * (source - r * current - next.capacitor);
            next.sign = if winding.abs() > clamp { winding.signum() } else { 0.0 };
            return next;
        }
        next.magnetising += h * own.sign * clamp / lm;
        let rectified = |state: &TankState| own.sign * (state.current - state.magnetising);
        next.charge += 0.5 * h * (rectified(&own) + rectified(&next).max(0.0));
        if rectified(&next) < 0.0 {
            (next.sign, next.current) = (0.0, next.magnetising);
        }
        next
    }

    fn clamp(&self, k: usize) -> f64 {
        let (tank, point) = (&self.converter.tanks[k], &self.case.point);
        point.rectifier.clamp_voltage(tank.turns_ratio, point.output_voltage, tank.rectifier_drop)
    }
}
