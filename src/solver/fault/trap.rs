//! Where a slow controller ends that goes on from the frequency before a fault.
//!
//! It lowers the frequency while the current is too small. That leads to the output on the inductive side
//! alone. An aged flying capacitor moves the resonance up. Where it passes the healthy frequency, the
//! controller is on the capacitive side, and ends at the lower end of the band.

use super::case::FaultCase;
use super::clamped::ClampedChain;
use super::effect::Effect;
use super::group::{GroupAtFrequencies, GroupStart, as_told};
use super::outcome::{FaultedState, Trap};
use super::remaining_chain::RemainingChain;
use crate::converter::{Arrangement, Converter, FailureMode};
use crate::solver::Solver;
use crate::solver::case::Case;
use crate::units::{Ampere, Hertz};

/// Ratio of neighbouring frequencies on the way down.
const STRIDE: f64 = 1.02;
/// Periods that a chain takes to settle at a frequency: from rest, and from the frequency before.
const FROM_REST: usize = 400;
const FROM_NEIGHBOUR: usize = 40;
/// Current at the healthy frequency, over the wanted one, from which on the controller raises the frequency: the
/// steady state there tells it without following.
const ENOUGH: f64 = 1.05;
/// By how much the frequency must rise before a trap is looked for. Tolerances shift it as far.
const RISE: f64 = 1.005;

impl FaultCase {
    /// Where the controller ends that starts from the healthy frequency: none where it finds the output. Other
    /// faults than aged capacitors leave less to the input or take it away: they do not trap.
    pub fn trap(
        &self,
        converter: &Converter,
        healthy: Hertz,
        found: &FaultedState,
    ) -> Option<Trap> {
        if !self.may_trap(healthy, found) {
            return None;
        }
        let converter = converter.at(&self.point.condition);
        let aged = self.fault.aged(&converter);
        let case = Case::new(self.point.clone(), self.band, self.arrangement);
        let aged = as_told(&aged, &case);
        let mut chain = ClampedChain::new(self, &aged);
        let (mut frequency, lowest) = (healthy, self.band.minimum);
        let mut current = chain.follow(frequency, FROM_REST);
        while current < self.point.output_current && frequency > lowest {
            frequency = Hertz((frequency.0 / STRIDE).max(lowest.0));
            current = chain.follow(frequency, FROM_NEIGHBOUR);
        }
        let is_short = |current: Ampere| current < self.point.output_current;
        if !is_short(current) {
            return None;
        }
        let current = chain.follow(frequency, FROM_REST);
        is_short(current).then_some(Trap { frequency, current })
    }

    /// The same, sooner: nothing is followed where the steady state at the healthy frequency delivers clearly
    /// more than is wanted.
    pub fn trap_if_short(
        &self,
        solver: &Solver,
        converter: &Converter,
        healthy: Hertz,
        found: &FaultedState,
    ) -> Option<Trap> {
        let may_trap =
            self.may_trap(healthy, found) && !self.delivers_enough(solver, converter, healthy);
        may_trap.then(|| self.trap(converter, healthy, found))?
    }

    fn may_trap(&self, healthy: Hertz, found: &FaultedState) -> bool {
        let is_aged = matches!(self.fault.failure, FailureMode::FlyingCapacitorAged(_));
        let rises = found.state.switching_frequency.0 > RISE * healthy.0;
        is_aged && rises && self.arrangement == Arrangement::Chain
    }

    /// Whether the steady state at the healthy frequency delivers clearly more than is wanted, without the
    /// body diodes, of which it knows nothing.
    fn delivers_enough(&self, solver: &Solver, converter: &Converter, healthy: Hertz) -> bool {
        let converter = converter.at(&self.point.condition);
        let Effect::Passes(legs) = Effect::of(&self.fault, &converter, self.point.drive) else {
            return false;
        };
        let chain = RemainingChain::new(self, &legs);
        let Some(plan) = chain.plans().whole else { return false };
        let aged = self.fault.aged(&converter);
        let group = plan.group(&aged, self.asked(), &GroupStart::default());
        let state = GroupAtFrequencies::new(&group).state(solver, healthy);
        state.is_some_and(|state| {
            let current: f64 = state.phases.iter().map(|phase| phase.output_current.0).sum();
            current > ENOUGH * self.point.output_current.0 && !chain.reaches_diodes(&state)
        })
    }
}
