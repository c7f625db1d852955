//! Tanks and nodes together over the dead time, in steps of second order.
//!
//! A step lets the tanks go on for half of it, moves the nodes by the tanks' charge, lets the diodes
//! bring them back, and lets the tanks go on for the other half (Strang 1968). Where a diode or a
//! rectifier changes its state the step is taken again, an eighth as long.

use arrayvec::ArrayVec;

use super::nodes::{LegNodes, MAX_SWITCHES, PerNode, PerSwitch};
use super::tank::{HeldTank, TankCurrents};
use crate::converter::MAX_PHASES;

/// By how much a step gets shorter where a state changes, and how often.
const SHORTER: f64 = 8.0;
const SHORTENINGS: i32 = 3;
/// Quiet steps before a step gets longer.
const QUIET: u32 = 2;

/// A leg on its way.
#[derive(Debug, Clone)]
pub(super) struct MovingLeg {
    pub(super) circuit: LegNodes,
    /// How the tank currents leave the leg's nodes: 1 in the driven leg, −1 in the return leg.
    pub(super) direction: f64,
    /// S.
    pub(super) nodes: PerNode,
    /// Through each switch's diode in the last step, in coulomb.
    charges: PerSwitch,
    /// Through each diode since the voltage of its switch last came down to zero, in coulomb.
    pub(super) carried: PerSwitch,
    /// Highest voltage across each switch so far.
    pub(super) highest: PerSwitch,
}

/// Tanks and legs during the dead time.
#[derive(Debug, Clone)]
pub(super) struct Motion {
    pub(super) tanks: ArrayVec<HeldTank, MAX_PHASES>,
    pub(super) currents: ArrayVec<TankCurrents, MAX_PHASES>,
    pub(super) legs: ArrayVec<MovingLeg, 2>,
    /// Length of the last step.
    step: f64,
}

/// What a step changes: taken back where it was too long.
struct Before {
    currents: ArrayVec<TankCurrents, MAX_PHASES>,
    legs: ArrayVec<(PerNode, PerSwitch), 2>,
    step: f64,
}

impl MovingLeg {
    /// A leg whose nodes stand there.
    pub(super) fn new(circuit: LegNodes, direction: f64, nodes: PerNode) -> Self {
        let mut moving = Self {
            circuit,
            direction,
            nodes,
            charges: [0.0; MAX_SWITCHES],
            carried: [0.0; MAX_SWITCHES],
            highest: [0.0; MAX_SWITCHES],
        };
        moving.note(0.0);
        moving
    }

    /// Voltage across a switch.
    pub(super) fn voltage(&self, switch: usize) -> f64 {
        self.circuit.voltage(switch, &self.nodes)
    }

    fn conducting(&self) -> u32 {
        let switches = self.charges.iter().take(2 * self.circuit.phases());
        switches.fold(0, |set, charge| set << 1 | u32::from(*charge > 0.0))
    }

    /// Moves the nodes by the tanks' charges. `longer` is the step in lengths of the last one: so
    /// much charge the diodes are expected to carry.
    fn drift(&mut self, currents: &[TankCurrents], step: f64, longer: f64) {
        let mut drawn = [0.0; MAX_PHASES];
        for (drawn, current) in drawn.iter_mut().zip(currents) {
            *drawn = self.direction * current.tank * step;
        }
        self.circuit.draw(&mut self.nodes, &drawn);
        for switch in 0..2 * self.circuit.phases() {
            let expected = self.charges[switch] * longer;
            self.charges[switch] = expected;
            if expected > 0.0 {
                self.circuit.push(&mut self.nodes, switch, expected);
            }
        }
        self.circuit.conduct(&mut self.nodes, &mut self.charges);
    }

    /// Notes what counts of a step: charges carried and highest voltages.
    fn note(&mut self, negligible: f64) {
        for switch in 0..2 * self.circuit.phases() {
            let voltage = self.voltage(switch);
            self.highest[switch] = self.highest[switch].max(voltage);
            if self.charges[switch] > 0.0 {
                self.carried[switch] += self.charges[switch];
            } else if voltage > negligible {
                self.carried[switch] = 0.0;
            }
        }
    }

    /// Goes on from here with nothing carried: other switches are on from now.
    pub(super) fn begin(&mut self) {
        self.charges = [0.0; MAX_SWITCHES];
        self.carried = [0.0; MAX_SWITCHES];
    }
}

impl Motion {
    pub(super) fn new(
        tanks: ArrayVec<HeldTank, MAX_PHASES>,
        currents: ArrayVec<TankCurrents, MAX_PHASES>,
        legs: ArrayVec<MovingLeg, 2>,
    ) -> Self {
        Self { tanks, currents, legs, step: 1.0 }
    }

    /// Source voltage of a tank.
    fn source(&self, k: usize) -> f64 {
        self.legs.iter().map(|leg| leg.direction * leg.nodes[k]).sum()
    }

    /// Current through a switch's diode in the last step.
    pub(super) fn diode_current(&self, leg: usize, switch: usize) -> f64 {
        self.legs[leg].charges[switch] / self.step
    }

    /// Goes on for a time, in steps no longer than `longest`.
    pub(super) fn advance(&mut self, time: f64, longest: f64) {
        let shortest = longest / SHORTER.powi(SHORTENINGS);
        let negligible =
            1e-9 * self.legs.iter().map(|leg| leg.circuit.interval(0)).fold(0.0, f64::max);
        let (mut left, mut step, mut quiet) = (time, longest, 0);
        while left > 1e-9 * time {
            let taken = step.min(left);
            let before = self.before();
            let changed = self.take_step(taken);
            if changed && taken > 1.5 * shortest {
                self.restore(before);
                step = taken / SHORTER;
                quiet = 0;
                continue;
            }
            left -= taken;
            self.legs.iter_mut().for_each(|leg| leg.note(negligible));
            quiet = if changed { 0 } else { quiet + 1 };
            if quiet >= QUIET && step < longest {
                (step, quiet) = ((2.0 * step).min(longest), 0);
            }
        }
    }

    /// One step; whether a diode or a rectifier has another state after it.
    fn take_step(&mut self, step: f64) -> bool {
        let longer = step / self.step;
        let states = |motion: &Self| {
            let diodes: ArrayVec<u32, 2> = motion.legs.iter().map(MovingLeg::conducting).collect();
            let rectifiers: ArrayVec<i8, MAX_PHASES> =
                motion.currents.iter().map(|c| c.rectifier).collect();
            (diodes, rectifiers)
        };
        let before = states(self);
        self.advance_tanks(0.5 * step);
        for leg in &mut self.legs {
            leg.drift(&self.currents, step, longer);
        }
        self.advance_tanks(0.5 * step);
        self.step = step;
        states(self) != before
    }

    fn advance_tanks(&mut self, time: f64) {
        for k in 0..self.tanks.len() {
            let source = self.source(k);
            self.tanks[k].advance(&mut self.currents[k], source, time);
        }
    }

    fn before(&self) -> Before {
        let legs = self.legs.iter().map(|leg| (leg.nodes, leg.charges)).collect();
        Before { currents: self.currents.clone(), legs, step: self.step }
    }

    fn restore(&mut self, before: Before) {
        self.currents = before.currents;
        self.step = before.step;
        for (leg, (nodes, charges)) in self.legs.iter_mut().zip(before.legs) {
            (leg.nodes, leg.charges) = (nodes, charges);
        }
    }
}
