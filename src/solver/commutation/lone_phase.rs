//! One phase of a chain whose falling phases go first.
//!
//! While a node swings, low switches hold the nodes beside it at zero. So it moves by itself, with
//! CL(k) + CH(k) + CH(k+1), between zero and E(k). The diode of high switch k + 1 never conducts, as its voltage
//! is S(k) + E(k+1). Nor does a tank know of the others. In full bridge its two nodes swing one after the
//! other, and the one that does not is held at zero.

use arrayvec::ArrayVec;

use super::commutated::{CommutatedPhases, Steps, TurnOnNow};
use super::instant::{CoupledPhases, Ready, SwitchingInstant};
use super::leg::MovingLeg;
use super::motion::Motion;
use super::tank::{HeldTank, TankCurrents};
use super::transition::{HELD_CURRENTS, HeldLoad, Swing, Transition};
use crate::converter::Leg;

/// Both dead times of one phase at an instant: the falling phases' and that of the rising ones.
pub(super) struct LonePhase<'a> {
    ready: &'a Ready<'a>,
    instant: SwitchingInstant,
    phase: usize,
    tank: HeldTank,
    /// The tank's currents when the first dead time begins.
    currents: TankCurrents,
    /// What swings in the first dead time, and in the second one.
    swings: [Option<LoneSwing>; 2],
}

/// A node that swings by itself.
#[derive(Clone)]
struct LoneSwing {
    leg: Leg,
    /// At its start.
    moving: MovingLeg<1>,
}

impl<'a> LonePhase<'a> {
    /// At the begin of the first dead time; none where the steady state does not hold the tank's currents,
    /// and where the phase has no voltage to swing over.
    pub(super) fn new(
        ready: &'a Ready<'a>,
        instant: SwitchingInstant,
        phase: usize,
    ) -> Option<Self> {
        let mut swings = [None, None];
        for leg in ready.legs() {
            let moving = ready.lone_leg(*leg, instant, phase)?;
            let falls = instant.falls(phase, *leg);
            swings[usize::from(!falls)] = Some(LoneSwing { leg: *leg, moving });
        }
        let source = swings[0].as_ref().map_or(0.0, |swing| swing.moving.source(0));
        let (tank, currents) = ready.tank(phase, instant, source)?;
        Some(Self { ready, instant, phase, tank, currents, swings })
    }

    /// The tank with the node that swings in a dead time, at its begin.
    fn motion(&self, swing: Option<&LoneSwing>, currents: TankCurrents) -> Motion<1> {
        let legs = swing.map(|swing| swing.moving.clone()).into_iter().collect();
        Motion::new(ArrayVec::from([self.tank]), ArrayVec::from([currents]), legs)
    }

    fn commutated(&self, swing: &LoneSwing) -> CommutatedPhases<'a> {
        let coupled = CoupledPhases { first: self.phase, count: 1 };
        let legs = match swing.leg {
            Leg::Driven => &Leg::ALL[..1],
            Leg::Return => &Leg::ALL[1..],
        };
        CommutatedPhases { instant: self.instant, coupled, legs, case: self.ready.case() }
    }

    /// Goes through both dead times, and adds what became of the nodes. None where that takes too many
    /// stretches.
    pub(super) fn pass(&self, passed: &mut Vec<Transition>) -> Option<()> {
        let time = self.ready.case().switch.dead_time.0;
        let (mut currents, mut held) = (self.currents, [None; 2]);
        let first = passed.len();
        for (swing, held) in self.swings.iter().zip(&mut held) {
            let mut motion = self.motion(swing.as_ref(), currents);
            let mut tank = [currents.tank; HELD_CURRENTS];
            let steps = HELD_CURRENTS - 1;
            motion.advance_in_steps(time / steps as f64, steps, |n, motion| {
                tank[n + 1] = motion.currents[0].tank;
            })?;
            if let Some(swing) = swing {
                let turn_off = [[currents.tank.abs()]; 2];
                self.commutated(swing).add(&motion, &turn_off, passed);
            }
            *held = Some(HeldLoad::over(&tank));
            currents = motion.currents[0];
        }
        // Its low switch is on in the dead time in which a node does not swing.
        for transition in &mut passed[first..] {
            transition.held = held[usize::from(transition.swing == Swing::HighToLow)];
        }
        Some(())
    }

    /// Adds how the switches would turn on after equal steps of dead time. None where that takes too many
    /// stretches.
    pub(super) fn pass_in_steps(&self, steps: Steps, seen: &mut [TurnOnNow]) -> Option<()> {
        let [falling, rising] = self.swings.each_ref().map(Option::as_ref);
        let seen = steps.open(seen);
        let mut passed = Vec::with_capacity(seen.len());
        let mut first = self.motion(falling, self.currents);
        first.advance_in_steps(steps.step, seen.len(), |n, motion| {
            if let Some(swing) = falling {
                seen[n].add(self.commutated(swing).turn_on(motion, steps, n));
            }
            passed.push(motion.currents[0]);
        })?;
        let Some(swing) = rising else { return Some(()) };
        // The second dead time begins elsewhere after each first one.
        for ((n, currents), now) in passed.into_iter().enumerate().zip(seen) {
            if !steps.is_done(now) {
                let mut then = self.motion(rising, currents);
                then.advance(steps.time(n))?;
                now.add(self.commutated(swing).turn_on(&then, steps, n));
            }
        }
        Some(())
    }
}
