//! The dead time of one switching instant: all phases together, or the falling ones first.

use super::case::CommutationCase;
use super::instant::{Ready, SwitchingInstant};
use super::motion::Motion;
use super::nodes::PerNode;
use super::transition::{Swing, Transition};
use crate::converter::{Arrangement, Leg, MAX_PHASES, SwitchSpecification, SwitchTiming};
use crate::units::{Ampere, Volt};

/// The dead time of one instant.
pub(super) struct DeadTime<'a> {
    motion: Motion,
    instant: SwitchingInstant,
    legs: &'a [Leg],
    case: CommutationCase<'a>,
}

impl<'a> DeadTime<'a> {
    /// At its begin; none where the steady state does not hold the tanks' currents.
    pub(super) fn new(
        ready: &Ready<'_>,
        instant: SwitchingInstant,
        case: &CommutationCase<'a>,
    ) -> Option<Self> {
        let motion = ready.motion(instant)?;
        Some(Self { motion, instant, legs: ready.legs(), case: *case })
    }

    fn phases(&self) -> usize {
        self.motion.tanks.len()
    }

    fn falls(&self, leg: usize, phase: usize) -> bool {
        self.instant.falls(phase, self.legs[leg])
    }

    /// Lets all nodes move for a time; none where that takes too many stretches.
    pub(super) fn advance(&mut self, time: f64) -> Option<()> {
        self.motion.advance(time)
    }

    /// Goes through the dead time, adds what became of every node, and gives the energy lost. None
    /// where that takes too many stretches.
    pub(super) fn pass(
        &mut self,
        switch: &SwitchSpecification,
        transitions: &mut Vec<Transition>,
    ) -> Option<f64> {
        match switch.timing {
            SwitchTiming::Together => {
                let turn_off = self.turn_off_currents();
                self.advance(switch.dead_time.0)?;
                self.add(transitions, &turn_off, |_| true);
                Some(self.energy())
            }
            SwitchTiming::FallingFirst => self.pass_falling_first(switch.dead_time.0, transitions),
        }
    }

    /// The falling phases swing while the low switches of the others stay on. Then these turn off,
    /// and the low switches of the falling phases are on.
    fn pass_falling_first(&mut self, time: f64, transitions: &mut Vec<Transition>) -> Option<f64> {
        let turn_off = self.turn_off_currents();
        self.hold(|falls| !falls);
        self.advance(time)?;
        self.add(transitions, &turn_off, |swing| swing == Swing::HighToLow);
        let lost = self.energy_of(|falls| falls);
        let alone: Vec<PerNode> = self.legs.iter().map(|_| self.tank_currents()).collect();
        self.hold(|falls| falls);
        self.advance(time)?;
        self.add(transitions, &alone, |swing| swing == Swing::LowToHigh);
        Some(lost + self.energy_of(|falls| !falls))
    }

    /// Holds the nodes of phases that fall, or of those that do not.
    fn hold(&mut self, is_held: impl Fn(bool) -> bool) {
        for (moving, leg) in self.motion.legs.iter_mut().zip(self.legs) {
            moving.hold(|k| is_held(self.instant.falls(k, *leg)));
        }
        self.motion.settle();
    }

    fn tank_currents(&self) -> PerNode {
        let mut currents = [0.0; MAX_PHASES];
        for (current, tank) in currents.iter_mut().zip(&self.motion.currents) {
            *current = tank.tank.abs();
        }
        currents
    }

    /// What the switches carry that turn off, leg by leg. A high switch carries its tank's current,
    /// a low one of a chain that of the next phase too.
    fn turn_off_currents(&self) -> Vec<PerNode> {
        let phases = self.phases();
        let shares_nodes = self.case.arrangement == Arrangement::Chain;
        let tank = |k: usize| self.motion.currents.get(k).map_or(0.0, |c| c.tank);
        let of_leg = |leg: usize| {
            let mut currents = [0.0; MAX_PHASES];
            for (k, current) in currents.iter_mut().enumerate().take(phases) {
                let next = shares_nodes && !self.falls(leg, k);
                *current = if next { tank(k) + tank(k + 1) } else { tank(k) }.abs();
            }
            currents
        };
        (0..self.legs.len()).map(of_leg).collect()
    }

    /// The switch of a phase that turns on.
    fn next_on(&self, leg: usize, phase: usize) -> usize {
        if self.falls(leg, phase) { phase } else { self.phases() + phase }
    }

    /// Highest turn-on voltage as a share of the interval voltage, if the switches turned on now.
    pub(super) fn highest_turn_on_share(&self) -> f64 {
        let legs = self.motion.legs.iter().enumerate();
        let shares = legs.flat_map(|(leg, moving)| {
            let share = move |k: usize| {
                moving.voltage(self.next_on(leg, k)).max(0.0) / moving.circuit.interval(k)
            };
            (0..self.phases()).map(share)
        });
        shares.fold(0.0, f64::max)
    }

    /// Energy lost if all switches turned on now.
    pub(super) fn energy(&self) -> f64 {
        self.energy_of(|_| true)
    }

    /// Energy lost if the switches of phases that fall, or of those that do not, turned on now.
    fn energy_of(&self, counts: impl Fn(bool) -> bool) -> f64 {
        let legs = self.motion.legs.iter().enumerate();
        let energy = legs.map(|(leg, moving)| {
            let mut off_target = [0.0; MAX_PHASES];
            for (k, off) in off_target.iter_mut().enumerate().take(self.phases()) {
                let falls = self.falls(leg, k);
                let target = if falls { 0.0 } else { moving.circuit.interval(k) };
                *off = if counts(falls) { moving.nodes[k] - target } else { 0.0 };
            }
            moving.circuit.energy(&off_target)
        });
        energy.sum()
    }

    /// Adds what became of the nodes that swing this way.
    fn add(
        &self,
        transitions: &mut Vec<Transition>,
        turn_off: &[PerNode],
        counts: impl Fn(Swing) -> bool,
    ) {
        for (leg, turn_off) in turn_off.iter().enumerate() {
            let all = (0..self.phases()).map(|k| self.transition(leg, k, turn_off[k]));
            transitions.extend(all.filter(|t| counts(t.swing)));
        }
    }

    fn transition(&self, leg: usize, phase: usize, turn_off: f64) -> Transition {
        let (moving, switch) = (&self.motion.legs[leg], self.next_on(leg, phase));
        // The switches of rescaled tanks stand at N times the voltage and carry an N-th.
        let scale = match self.case.arrangement {
            Arrangement::Chain => 1.0,
            Arrangement::Paralleled => self.phases() as f64,
        };
        let volt = |v: f64| Volt(v * scale);
        let interval = moving.circuit.interval(phase);
        let swing_charge = moving.circuit.node_capacitance(phase) * interval;
        let at_last = moving.diode_currents[switch] * self.case.switch.dead_time.0;
        Transition {
            leg: self.legs[leg],
            phase,
            swing: if self.falls(leg, phase) { Swing::HighToLow } else { Swing::LowToHigh },
            interval_voltage: volt(interval),
            turn_on_voltage: volt(moving.voltage(switch).max(0.0)),
            spare: moving.carried[switch].min(at_last).max(0.0) / swing_charge,
            turn_off_current: Ampere(turn_off / scale),
            highest_low: volt(moving.highest[phase]),
            highest_high: volt(moving.highest[self.phases() + phase]),
        }
    }
}
