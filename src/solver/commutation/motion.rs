//! Tanks and nodes together during the dead time, and what an event changes.

use arrayvec::ArrayVec;

use super::leg::MovingLeg;
use super::nodes::PerNode;
use super::tank::{HeldTank, TankCurrents};
use crate::converter::MAX_PHASES;

/// What ends a stretch.
#[derive(Debug, Clone, Copy)]
pub(super) enum Event {
    /// A switch voltage is zero: its diode begins to conduct.
    Hit { leg: usize, switch: usize },
    /// A diode current is zero.
    Release { leg: usize, switch: usize },
    /// A rectifier changes its state.
    Rectifier(usize),
}

/// Tanks and legs during the dead time.
#[derive(Debug, Clone)]
pub(super) struct Motion<const ROOM: usize = MAX_PHASES> {
    pub(super) tanks: ArrayVec<HeldTank, ROOM>,
    pub(super) currents: ArrayVec<TankCurrents, ROOM>,
    pub(super) legs: ArrayVec<MovingLeg<ROOM>, 2>,
}

impl<const ROOM: usize> Motion<ROOM> {
    pub(super) fn new(
        tanks: ArrayVec<HeldTank, ROOM>,
        currents: ArrayVec<TankCurrents, ROOM>,
        legs: ArrayVec<MovingLeg<ROOM>, 2>,
    ) -> Self {
        let mut motion = Self { tanks, currents, legs };
        motion.settle();
        motion
    }

    /// Finds the conducting diodes anew, as after a change of what holds nodes.
    pub(super) fn settle(&mut self) {
        let currents = self.tank_currents();
        for leg in &mut self.legs {
            leg.settle(&currents);
        }
    }

    pub(super) fn tank_currents(&self) -> PerNode<ROOM> {
        let mut currents = [0.0; ROOM];
        currents.iter_mut().zip(&self.currents).for_each(|(slot, c)| *slot = c.tank);
        currents
    }

    /// Source voltage of a tank.
    pub(super) fn source(&self, k: usize) -> f64 {
        self.legs.iter().map(|leg| leg.source(k)).sum()
    }

    /// Goes over an event.
    pub(super) fn pass(&mut self, event: Event) {
        match event {
            Event::Hit { leg, switch } => {
                let currents = self.tank_currents();
                let leg = &mut self.legs[leg];
                leg.conducting = leg.conducting.with(switch);
                leg.settle(&currents);
            }
            Event::Release { leg, switch } => self.legs[leg].release(switch),
            Event::Rectifier(k) => {
                let source = self.source(k);
                self.tanks[k].change_state(&mut self.currents[k], source);
            }
        }
        self.legs.iter_mut().for_each(MovingLeg::tie);
    }
}
