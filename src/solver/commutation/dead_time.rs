//! The dead time of one switching instant of a chain whose phases all switch together.

use super::commutated::CommutatedPhases;
use super::instant::{Ready, SwitchingInstant};
use super::motion::Motion;
use super::steps::{Steps, TurnOnNow};
use super::transition::Transition;

/// The dead time of one instant.
pub(super) struct DeadTime<'a, const ROOM: usize> {
    motion: Motion<ROOM>,
    commutated: CommutatedPhases<'a>,
}

impl<'a, const ROOM: usize> DeadTime<'a, ROOM> {
    /// At its begin; none where the steady state does not hold the tanks' currents.
    pub(super) fn new(ready: &Ready<'a>, instant: SwitchingInstant) -> Option<Self> {
        let motion = ready.motion(instant)?;
        let commutated = CommutatedPhases { instant, legs: ready.legs(), case: ready.case() };
        Some(Self { motion, commutated })
    }

    /// Goes through the dead time, and adds what became of every node. None where that takes too many
    /// stretches.
    pub(super) fn pass(&mut self, passed: &mut Vec<Transition>) -> Option<()> {
        let Self { motion, commutated } = self;
        let turn_off = commutated.turn_off_currents(motion);
        motion.advance(commutated.case.switch.dead_time.0)?;
        commutated.add(motion, &turn_off, passed);
        Some(())
    }

    /// Adds how the switches would turn on after equal steps of dead time. None where that takes too
    /// many stretches.
    pub(super) fn pass_in_steps(&mut self, steps: Steps, seen: &mut [TurnOnNow]) -> Option<()> {
        let Self { motion, commutated } = self;
        let seen = steps.open(seen);
        // A shorter dead time is the begin of a longer one.
        motion.advance_in_steps(steps.step, seen.len(), |n, motion| {
            seen[n].add(commutated.turn_on(motion, steps, n));
        })
    }
}
