//! A leg on its way through the dead time, and which of its diodes conduct.

use super::groups::{BitSet, Groups};
use super::nodes::{LegNodes, MAX_SWITCHES, PerNode, PerSwitch};
use crate::converter::MAX_PHASES;

/// A voltage that counts as zero, relative to the interval voltage.
const TOUCHES: f64 = 1e-9;
/// A current that counts as zero, relative to the largest tank current.
pub(super) const NO_CURRENT: f64 = 1e-10;
/// Rounds in which all diodes with a wrong sign change their state; then one does at a time.
const AT_ONCE: usize = 10;
/// Rounds after which the search for the conducting diodes ends.
const MOST_ROUNDS: usize = 1000;

/// A leg on its way.
#[derive(Debug, Clone)]
pub(super) struct MovingLeg {
    pub(super) circuit: LegNodes,
    /// How the tank currents leave the leg's nodes: 1 in the driven leg, −1 in the return leg.
    pub(super) direction: f64,
    /// S.
    pub(super) nodes: PerNode,
    /// Switches whose diodes conduct.
    pub(super) conducting: BitSet,
    /// Nodes that a low switch holds at zero.
    held: BitSet,
    /// Through each switch's diode since it last began to conduct, in coulomb.
    pub(super) carried: PerSwitch,
    /// Current through each switch's diode.
    pub(super) diode_currents: PerSwitch,
    /// Highest voltage across each switch so far.
    pub(super) highest: PerSwitch,
}

impl MovingLeg {
    /// A leg whose nodes stand there.
    pub(super) fn new(circuit: LegNodes, direction: f64, nodes: PerNode) -> Self {
        let mut leg = Self {
            circuit,
            direction,
            nodes,
            conducting: BitSet::default(),
            held: BitSet::default(),
            carried: [0.0; MAX_SWITCHES],
            diode_currents: [0.0; MAX_SWITCHES],
            highest: [0.0; MAX_SWITCHES],
        };
        leg.note_highest(&nodes);
        leg
    }

    /// All switches.
    pub(super) fn switches(&self) -> std::ops::Range<usize> {
        0..2 * self.circuit.phases()
    }

    /// Voltage across a switch.
    pub(super) fn voltage(&self, switch: usize) -> f64 {
        self.circuit.voltage(switch, &self.nodes)
    }

    /// Whether a switch is on, and so no diode.
    pub(super) fn is_on(&self, switch: usize) -> bool {
        switch < self.circuit.phases() && self.held.holds(switch)
    }

    /// The nodes as the conducting diodes tie them.
    pub(super) fn groups(&self) -> Groups {
        Groups::new(&self.circuit, self.conducting, self.held)
    }

    /// The currents that leave the nodes.
    pub(super) fn drawn(&self, tanks: &PerNode) -> PerNode {
        tanks.map(|current| self.direction * current)
    }

    /// Holds these nodes at zero from now on, by low switches that are on, and no others. Nothing
    /// counts as carried before.
    pub(super) fn hold(&mut self, is_held: impl Fn(usize) -> bool) {
        self.held = BitSet::of_all(self.circuit.phases(), is_held);
        self.conducting = BitSet::default();
        self.carried = [0.0; MAX_SWITCHES];
        self.diode_currents = [0.0; MAX_SWITCHES];
        for k in 0..MAX_PHASES {
            self.nodes[k] = if self.held.holds(k) { 0.0 } else { self.nodes[k] };
        }
    }

    /// A voltage that counts as zero.
    pub(super) fn touches(&self) -> f64 {
        TOUCHES * self.circuit.interval(0).abs()
    }

    /// Keeps the highest voltages across the switches, if the nodes are there.
    pub(super) fn note_highest(&mut self, nodes: &PerNode) {
        for switch in self.switches() {
            let voltage = self.circuit.voltage(switch, nodes);
            self.highest[switch] = self.highest[switch].max(voltage);
        }
    }

    /// Finds the diodes that conduct while the tanks carry these currents, among those whose
    /// voltage is zero: no diode current is below zero, and no voltage would fall below zero.
    ///
    /// These conditions have one solution, as M⁻¹ is positive definite. Diodes with a wrong sign change
    /// their state, all at once in the first rounds, then the last one alone: that ends (Murty
    /// 1974).
    pub(super) fn settle(&mut self, tanks: &PerNode) {
        let drawn = self.drawn(tanks);
        let largest = drawn.iter().fold(0.0_f64, |most, current| most.max(current.abs()));
        let negligible = NO_CURRENT * largest;
        let before = self.conducting;
        let touching = BitSet::of_all(2 * self.circuit.phases(), |switch| {
            !self.is_on(switch) && (before.holds(switch) || self.voltage(switch) <= self.touches())
        });
        self.conducting = touching;
        for round in 0..MOST_ROUNDS {
            let wrong = self.wrong(touching, &drawn, negligible);
            if wrong.is_empty() {
                break;
            }
            let changed = if round < AT_ONCE { wrong } else { wrong.last() };
            self.conducting = self.conducting.toggled(changed);
        }
        for switch in self.switches().filter(|switch| !self.conducting.holds(*switch)) {
            self.carried[switch] = 0.0;
            self.diode_currents[switch] = 0.0;
        }
    }

    /// Touching switches whose diodes should change their state.
    fn wrong(&self, touching: BitSet, drawn: &PerNode, negligible: f64) -> BitSet {
        let (leg, groups) = (&self.circuit, self.groups());
        let velocities = groups.velocities(leg, drawn);
        let currents = groups.diode_currents(leg, &velocities, drawn);
        BitSet::of_all(2 * leg.phases(), |switch| {
            let capacitance = leg.node_capacitance(switch % leg.phases());
            touching.holds(switch)
                && if self.conducting.holds(switch) {
                    currents[switch] < -negligible
                } else {
                    leg.across(switch, &velocities) * capacitance < -negligible
                }
        })
    }

    /// Lets a diode go that carries nothing any more.
    pub(super) fn release(&mut self, switch: usize) {
        self.conducting = self.conducting.without(switch);
        self.carried[switch] = 0.0;
        self.diode_currents[switch] = 0.0;
    }
}
