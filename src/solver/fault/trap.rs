//! Where a slow controller ends that goes on from the frequency before a fault.
//!
//! It lowers the frequency while the current is too small. That leads to the output on the inductive side
//! alone. An aged flying capacitor moves the resonance up. Where it passes the healthy frequency, the
//! controller is on the capacitive side, and ends at the lower end of the band.

use super::case::FaultCase;
use super::clamped::ClampedChain;
use super::effect::Effect;
use super::group::{GroupAtFrequencies, GroupStart, RegulatedPoint, as_told};
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
        let may_trap = self.may_trap(healthy, found);
        may_trap.then(|| self.end_of_way(converter, healthy, |_| None))?
    }

    /// The same, sooner: nothing is followed where the steady state is known. There is but one at a frequency:
    /// what tells two states apart is only lost.
    pub fn trap_if_short(
        &self,
        solver: &Solver,
        converter: &Converter,
        healthy: Hertz,
        found: &FaultedState,
    ) -> Option<Trap> {
        if !self.may_trap(healthy, found) {
            return None;
        }
        let under_condition = converter.at(&self.point.condition);
        let Effect::Passes(legs) = Effect::of(&self.fault, &under_condition, self.point.drive)
        else {
            return self.trap(converter, healthy, found);
        };
        let chain = RemainingChain::new(self, &legs);
        let aged = self.fault.aged(&under_condition);
        let asked = RegulatedPoint { with_stress: false, ..self.asked() };
        let group =
            chain.plans().whole.map(|plan| plan.group(&aged, asked, &GroupStart::default()));
        let mut group = group.as_ref().map(GroupAtFrequencies::new);
        self.end_of_way(converter, healthy, |frequency| {
            let state = group.as_mut()?.state(solver, frequency)?;
            // Of body diodes the steady state knows nothing.
            let current = || state.phases.iter().map(|phase| phase.output_current.0).sum();
            (!chain.reaches_diodes(&state)).then(|| Ampere(current()))
        })
    }

    fn may_trap(&self, healthy: Hertz, found: &FaultedState) -> bool {
        let is_aged = matches!(self.fault.failure, FailureMode::FlyingCapacitorAged(_));
        let rises = found.state.switching_frequency.0 > RISE * healthy.0;
        is_aged && rises && self.arrangement == Arrangement::Chain
    }

    /// Where the way down ends, unless the output is found on it. The current is followed at frequencies of which
    /// it is not known.
    fn end_of_way(
        &self,
        converter: &Converter,
        healthy: Hertz,
        mut known: impl FnMut(Hertz) -> Option<Ampere>,
    ) -> Option<Trap> {
        let converter = converter.at(&self.point.condition);
        let aged = self.fault.aged(&converter);
        let case = Case::new(self.point.clone(), self.band, self.arrangement);
        let aged = as_told(&aged, &case);
        let mut chain = ClampedChain::new(self, &aged);
        let (mut frequency, lowest) = (healthy, self.band.minimum);
        let is_short = |current: Ampere| current < self.point.output_current;
        let mut periods = FROM_REST;
        loop {
            let steady = known(frequency);
            let mut current = steady.unwrap_or_else(|| chain.follow(frequency, periods));
            periods = if steady.is_some() { FROM_REST } else { FROM_NEIGHBOUR };
            let is_end = frequency <= lowest;
            if is_end && steady.is_none() && is_short(current) {
                current = chain.follow(frequency, FROM_REST);
            }
            if is_end || !is_short(current) {
                return is_short(current).then_some(Trap { frequency, current });
            }
            frequency = Hertz((frequency.0 / STRIDE).max(lowest.0));
        }
    }
}
