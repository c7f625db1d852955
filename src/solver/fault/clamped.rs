//! A chain whose ripple reaches the body diodes, step by step.
//!
//! Where a flying capacitor has aged so far that its ripple is as high as the voltage of a phase, body
//! diodes hold that voltage at −d and take over the current: the closed form of a half period does not
//! tell that. The chain is followed with the trapezoidal rule (`src/solver/fault/phase_steps.rs`). While phase
//! k is high its current alone moves the capacitors beside it.

use arrayvec::ArrayVec;

use super::case::FaultCase;
use super::phase_steps::{FollowedTank, PhaseSteps};
use crate::converter::{Converter, MAX_PHASES};
use crate::units::{Ampere, Hertz};

/// Steps of a period.
const STEPS: usize = 400;
/// By how much the state may change in a period that counts as settled, over its largest values. Another 400 such
/// periods would change it by less than a thousandth.
const STILL: f64 = 1e-6;

/// Node voltages of a leg: the input, the flying capacitors, the ground.
type Nodes = ArrayVec<f64, { MAX_PHASES + 1 }>;

/// A chain on its way through time.
pub(super) struct ClampedChain<'a> {
    case: &'a FaultCase,
    converter: &'a Converter,
    tanks: ArrayVec<FollowedTank, MAX_PHASES>,
    /// Those of each driven leg.
    nodes: ArrayVec<Nodes, 2>,
}

impl<'a> ClampedChain<'a> {
    /// A converter with the ideal voltages, without current.
    pub(super) fn new(case: &'a FaultCase, converter: &'a Converter) -> Self {
        let (phases, input) = (converter.phases(), case.point.input_voltage.0);
        let legs = case.point.drive.legs();
        let ideal = |k: usize| input * (phases - k) as f64 / phases as f64;
        let nodes = (0..legs).map(|_| (0..=phases).map(ideal).collect()).collect();
        let offset = if legs == 1 { 0.5 * input / phases as f64 } else { 0.0 };
        let tank = FollowedTank { capacitor: offset, ..FollowedTank::default() };
        Self { case, converter, tanks: std::iter::repeat_n(tank, phases).collect(), nodes }
    }

    /// Follows so many periods, or fewer if the chain settles; gives the mean output current of the second half
    /// of them, or of the last one.
    pub(super) fn follow(&mut self, frequency: Hertz, periods: usize) -> Ampere {
        let h = 1.0 / (frequency.0 * STEPS as f64);
        let steps: ArrayVec<PhaseSteps, MAX_PHASES> = (0..self.tanks.len())
            .map(|k| PhaseSteps::new(self.case, self.converter, k, h))
            .collect();
        let mut charge = 0.0;
        for period in 0..periods {
            let (tanks, nodes) = (self.tanks.clone(), self.nodes.clone());
            self.period(&steps);
            if self.change_since(&tanks, &nodes) < STILL {
                return Ampere(self.output_charge() * frequency.0);
            }
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

    /// The largest change of a current or a voltage, over the largest one.
    fn change_since(&self, tanks: &[FollowedTank], nodes: &[Nodes]) -> f64 {
        let pairs = || self.tanks.iter().zip(tanks);
        let current = relative_change(pairs().map(|(now, before)| [now.current, before.current]));
        let held = pairs().map(|(now, before)| [now.capacitor, before.capacitor]);
        let of_nodes = self.nodes.iter().flatten().zip(nodes.iter().flatten());
        let voltage = relative_change(held.chain(of_nodes.map(|(now, before)| [*now, *before])));
        current.max(voltage)
    }

    fn period(&mut self, steps: &[PhaseSteps]) {
        self.tanks.iter_mut().for_each(|own| own.charge = 0.0);
        for step in 0..STEPS {
            let half = 2 * step / STEPS;
            for (k, own) in steps.iter().enumerate() {
                self.advance(k, half, own);
            }
        }
    }

    /// A step of phase `k`. In each half one leg is high, and in half bridge maybe none.
    fn advance(&mut self, k: usize, half: usize, steps: &PhaseSteps) {
        let high = (k + half) % 2;
        // The tank sees the voltage of the return leg with the opposite sign.
        let sign = if high == 0 { 1.0 } else { -1.0 };
        let before = self.tanks[k];
        let Some(nodes) = self.nodes.get_mut(high) else {
            self.tanks[k] = steps.step(before, 0.0, &steps.held);
            return;
        };
        let leg = &steps.legs[high];
        let voltage = nodes[k] - nodes[k + 1];
        let next = steps.step(before, sign * voltage, &leg.laws);
        let charge = 0.5 * steps.h * sign * (before.current + next.current);
        if voltage - leg.elastance * charge < -steps.drop {
            self.tanks[k] = steps.step(before, -sign * steps.drop, &steps.held);
            return;
        }
        self.tanks[k] = next;
        let [above, below] = leg.elastances;
        nodes[k] -= above * charge;
        nodes[k + 1] += below * charge;
    }
}

/// The largest change among pairs of values, over the largest value.
fn relative_change(pairs: impl Iterator<Item = [f64; 2]> + Clone) -> f64 {
    let change = pairs.clone().map(|[now, before]| (now - before).abs()).fold(0.0, f64::max);
    let size = pairs.map(|[now, _]| now.abs()).fold(0.0, f64::max);
    if change == 0.0 { 0.0 } else { change / size }
}
