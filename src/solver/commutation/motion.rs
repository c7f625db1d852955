//! Tanks and nodes together over the dead time, from event to event.

use arrayvec::ArrayVec;

use super::leg::MovingLeg;
use super::nodes::PerNode;
use super::stretch::{Event, Stretch};
use super::tank::{HeldTank, TankCurrents};
use crate::converter::MAX_PHASES;

/// Stretches after which a dead time is given up: hundreds of times as many as any has taken.
const MOST_STRETCHES: usize = 5000;
/// How much longer than the last one a stretch is tried.
const LONGER: f64 = 1.5;

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

    /// Goes on for a time. None where that takes too many stretches: nothing is known then.
    pub(super) fn advance(&mut self, time: f64) -> Option<()> {
        self.advance_in_steps(time, 1, |_, _| ())
    }

    /// Goes on for some equal steps of time, and shows itself after each, which count from 0. None where
    /// that takes too many stretches: nothing is known then.
    pub(super) fn advance_in_steps(
        &mut self,
        step: f64,
        steps: usize,
        mut show: impl FnMut(usize, &Self),
    ) -> Option<()> {
        let time = step * steps as f64;
        let (mut passed, mut length, mut next) = (0.0, time, 0);
        let mut stretch = Stretch::NONE;
        for _ in 0..MOST_STRETCHES {
            let left = time - passed;
            if left <= 1e-12 * time {
                (next..steps).for_each(|n| show(n, self));
                return Some(());
            }
            stretch.begin(self, f64::min(length, left));
            let end = stretch.end(self);
            while next < steps {
                let u = ((next + 1) as f64 * step - passed) / stretch.length();
                if u >= end.u {
                    break;
                }
                stretch.go(self, u);
                show(next, self);
                next += 1;
            }
            stretch.go(self, end.u);
            passed += end.u * stretch.length();
            match end.event {
                Some(event) => self.pass(event),
                None => self.legs.iter_mut().for_each(MovingLeg::tie),
            }
            length = f64::max(LONGER * stretch.accurate() * stretch.length(), 1e-6 * time);
        }
        None
    }

    /// Goes over an event.
    fn pass(&mut self, event: Event) {
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
