//! Phases that switch at an instant: how their switches turn on, and what that costs.

use arrayvec::ArrayVec;

use super::case::CommutationCase;
use super::instant::SwitchingInstant;
use super::leg::MovingLeg;
use super::motion::Motion;
use super::nodes::{LegNodes, PerNode};
use super::steps::{Steps, TurnOnNow};
use super::transition::{Swing, Transition};
use crate::converter::Leg;
use crate::units::{Ampere, Joule, Volt};

/// All phases of a chain, which switch together at an instant.
#[derive(Clone, Copy)]
pub(super) struct CommutatedPhases<'a> {
    pub(super) instant: SwitchingInstant,
    /// Legs that switch, in the order of the moving ones.
    pub(super) legs: &'a [Leg],
    pub(super) case: CommutationCase<'a>,
}

impl CommutatedPhases<'_> {
    fn swing(&self, leg: usize, phase: usize) -> Swing {
        let falls = self.instant.falls(phase, self.legs[leg]);
        if falls { Swing::HighToLow } else { Swing::LowToHigh }
    }

    /// All legs and phases.
    fn nodes(&self) -> impl Iterator<Item = (usize, usize)> {
        let phases = self.case.converter.phases();
        (0..self.legs.len()).flat_map(move |leg| (0..phases).map(move |phase| (leg, phase)))
    }

    /// What the switches carry that turn off, leg by leg. A high switch carries its tank's current,
    /// a low one that of the next phase too.
    pub(super) fn turn_off_currents<const ROOM: usize>(
        &self,
        motion: &Motion<ROOM>,
    ) -> [PerNode<ROOM>; 2] {
        let tank = |k: usize| motion.currents.get(k).map_or(0.0, |c| c.tank);
        let mut currents = [[0.0; ROOM]; 2];
        for (leg, k) in self.nodes() {
            let next = self.swing(leg, k) == Swing::LowToHigh;
            currents[leg][k] = if next { tank(k) + tank(k + 1) } else { tank(k) }.abs();
        }
        currents
    }

    /// The switch of a phase that turns on.
    fn next_on<const ROOM: usize>(&self, leg: usize, phase: usize) -> usize {
        match self.swing(leg, phase) {
            Swing::HighToLow => phase,
            Swing::LowToHigh => LegNodes::<ROOM>::high_switch(phase),
        }
    }

    /// How the switches turn on after the dead time of a place.
    pub(super) fn turn_on<const ROOM: usize>(
        &self,
        motion: &Motion<ROOM>,
        steps: Steps,
        place: usize,
    ) -> TurnOnNow {
        let (mut all, time) = (TurnOnNow::NONE, steps.time(place));
        for (leg, k) in self.nodes() {
            let share = self.turn_on_voltage(motion, leg, k) / motion.legs[leg].circuit.interval(k);
            let shortfall = share - self.spare(motion, leg, k, time);
            all.add(TurnOnNow { shortfall, energy: 0.0 });
        }
        if steps.with_energy {
            all.energy = self.energy(motion);
        }
        all
    }

    fn turn_on_voltage<const ROOM: usize>(
        &self,
        motion: &Motion<ROOM>,
        leg: usize,
        k: usize,
    ) -> f64 {
        motion.legs[leg].voltage(self.next_on::<ROOM>(leg, k)).max(0.0)
    }

    /// By how much farther a node could have swung, as a share of its interval voltage.
    fn spare<const ROOM: usize>(
        &self,
        motion: &Motion<ROOM>,
        leg: usize,
        k: usize,
        time: f64,
    ) -> f64 {
        let (moving, switch) = (&motion.legs[leg], self.next_on::<ROOM>(leg, k));
        let swing_charge = moving.circuit.node_capacitance(k) * moving.circuit.interval(k);
        let at_last = moving.diode_currents[switch] * time;
        moving.carried[switch].min(at_last).max(0.0) / swing_charge
    }

    /// Energy lost if the switches turned on now.
    fn energy<const ROOM: usize>(&self, motion: &Motion<ROOM>) -> f64 {
        let legs = motion.legs.iter().enumerate();
        legs.map(|(n, leg)| leg.circuit.energy(&self.off_target(n, leg))).sum()
    }

    /// How far the nodes stand from where their switches take them.
    fn off_target<const ROOM: usize>(&self, leg: usize, moving: &MovingLeg<ROOM>) -> PerNode<ROOM> {
        let mut off_target = [0.0; ROOM];
        for (k, off) in off_target.iter_mut().enumerate().take(self.case.converter.phases()) {
            let target = match self.swing(leg, k) {
                Swing::HighToLow => 0.0,
                Swing::LowToHigh => moving.circuit.interval(k),
            };
            *off = moving.nodes[k] - target;
        }
        off_target
    }

    /// Energy lost in the switch that turns on for each node of a leg.
    fn energies<const ROOM: usize>(&self, leg: usize, moving: &MovingLeg<ROOM>) -> PerNode<ROOM> {
        let off_target = self.off_target(leg, moving);
        moving.circuit.energies(&off_target, |k| self.next_on::<ROOM>(leg, k))
    }

    /// Adds what became of the nodes.
    pub(super) fn add<const ROOM: usize>(
        &self,
        motion: &Motion<ROOM>,
        turn_off: &[PerNode<ROOM>; 2],
        passed: &mut Vec<Transition>,
    ) {
        let legs = motion.legs.iter().enumerate();
        let energies: ArrayVec<PerNode<ROOM>, 2> =
            legs.map(|(n, leg)| self.energies(n, leg)).collect();
        for (leg, k) in self.nodes() {
            let turn_off_current = Ampere(turn_off[leg][k]);
            let energy = Joule(energies[leg][k]);
            passed.push(Transition { turn_off_current, energy, ..self.transition(motion, leg, k) });
        }
    }

    /// What became of a node, but for the current that is turned off and the energy lost.
    fn transition<const ROOM: usize>(
        &self,
        motion: &Motion<ROOM>,
        leg: usize,
        k: usize,
    ) -> Transition {
        let moving = &motion.legs[leg];
        Transition {
            leg: self.legs[leg],
            phase: k,
            swing: self.swing(leg, k),
            interval_voltage: Volt(moving.circuit.interval(k)),
            turn_on_voltage: Volt(self.turn_on_voltage(motion, leg, k)),
            spare: self.spare(motion, leg, k, self.case.switch.dead_time.0),
            turn_off_current: Ampere(0.0),
            energy: Joule(0.0),
            highest_low: Volt(moving.highest[k]),
            highest_high: Volt(moving.highest[LegNodes::<ROOM>::high_switch(k)]),
            held: None,
        }
    }
}
