//! A leg on its way through the dead time, and which of its diodes conduct.

use super::groups::{BitSet, Groups};
use super::nodes::{LegNodes, PerNode, PerSwitch};
use super::response::{LegResponse, dot};
use crate::converter::MAX_PHASES;

/// A voltage that counts as zero, relative to the interval voltage.
pub(super) const TOUCHES: f64 = 1e-9;
/// Voltage below zero that counts as none, relative to the interval voltage.
pub(super) const NO_VOLTAGE: f64 = 1e-10;
/// A current that counts as zero, relative to the largest tank current.
pub(super) const NO_CURRENT: f64 = 1e-10;
/// Rounds in which all diodes with a wrong sign change their state; then one does at a time.
const AT_ONCE: usize = 10;
/// Rounds after which the search for the conducting diodes ends.
const MOST_ROUNDS: usize = 1000;

/// A leg on its way.
#[derive(Debug, Clone)]
pub(super) struct MovingLeg<const ROOM: usize = MAX_PHASES> {
    pub(super) circuit: LegNodes<ROOM>,
    /// How the tank currents leave the leg's nodes: 1 in the driven leg, −1 in the return leg.
    pub(super) direction: f64,
    /// S.
    pub(super) nodes: PerNode<ROOM>,
    /// Switches whose diodes conduct.
    pub(super) conducting: BitSet,
    /// Through each switch's diode since it last began to conduct, in coulomb.
    pub(super) carried: PerSwitch<ROOM>,
    /// Current through each switch's diode.
    pub(super) diode_currents: PerSwitch<ROOM>,
    /// Highest voltage across each switch so far.
    pub(super) highest: PerSwitch<ROOM>,
    /// How the leg answers to currents while the same diodes conduct.
    pub(super) response: LegResponse<ROOM>,
    /// What the diodes tie together.
    groups: Groups<ROOM>,
}

impl<const ROOM: usize> MovingLeg<ROOM> {
    /// A leg whose nodes stand there.
    pub(super) fn new(circuit: LegNodes<ROOM>, direction: f64, nodes: PerNode<ROOM>) -> Self {
        let groups = Groups::new(&circuit, BitSet::default());
        let mut leg = Self {
            circuit,
            direction,
            nodes,
            conducting: BitSet::default(),
            carried: PerSwitch::ZERO,
            diode_currents: PerSwitch::ZERO,
            highest: PerSwitch::ZERO,
            response: LegResponse::NONE,
            groups,
        };
        leg.note_highest();
        leg
    }

    /// What the leg adds to a tank's source voltage.
    pub(super) fn source(&self, k: usize) -> f64 {
        self.direction * self.nodes[k]
    }

    /// All switches.
    pub(super) fn switches(&self) -> impl Iterator<Item = usize> + use<ROOM> {
        self.circuit.switches()
    }

    /// Voltage across a switch.
    pub(super) fn voltage(&self, switch: usize) -> f64 {
        self.circuit.voltage(switch, &self.nodes)
    }

    /// By how much a switch's voltage changes for a coulomb that each tank moves.
    pub(super) fn row(&self, switch: usize) -> PerNode<ROOM> {
        let nodes = &self.response.nodes;
        let row = match switch.checked_sub(ROOM) {
            None => nodes[switch],
            Some(k) if self.circuit.joins_previous(k) => {
                let mut row = nodes[k - 1];
                row.iter_mut().zip(&nodes[k]).for_each(|(a, b)| *a -= b);
                row
            }
            Some(k) => nodes[k].map(|number| -number),
        };
        row.map(|number| self.direction * number)
    }

    /// Whether a switch's diode does not conduct.
    pub(super) fn is_off(&self, switch: usize) -> bool {
        !self.conducting.holds(switch)
    }

    /// S′ of every node while the tanks carry these currents; the change of every node while they move
    /// these charges.
    pub(super) fn velocities(&self, tanks: &PerNode<ROOM>) -> PerNode<ROOM> {
        self.response.velocities(&self.drawn(tanks))
    }

    /// Counts what the conducting diodes carry while the tanks move these charges, with these currents at
    /// the end.
    pub(super) fn carry(&mut self, charges: &PerNode<ROOM>, currents: &PerNode<ROOM>) {
        for switch in self.conducting.members() {
            let row = self.response.diode(switch);
            self.carried[switch] += self.direction * dot(row, charges);
            self.diode_currents[switch] = self.direction * dot(row, currents);
        }
    }

    /// Puts tied nodes to exactly where their diodes hold them.
    pub(super) fn tie(&mut self) {
        self.groups.tie(&self.circuit, &mut self.nodes);
    }

    /// The currents that leave the nodes.
    fn drawn(&self, tanks: &PerNode<ROOM>) -> PerNode<ROOM> {
        tanks.map(|current| self.direction * current)
    }

    /// A voltage so far below zero counts as zero.
    pub(super) fn no_voltage(&self) -> f64 {
        NO_VOLTAGE * self.circuit.interval(0).abs()
    }

    /// A voltage that counts as zero.
    pub(super) fn touches(&self) -> f64 {
        TOUCHES * self.circuit.interval(0).abs()
    }

    /// Keeps the highest voltages across the switches so far.
    pub(super) fn note_highest(&mut self) {
        let voltages = self.circuit.voltages(&self.nodes);
        self.highest = self.highest.with(&voltages, |a, b| if b > a { b } else { a });
    }

    /// Finds the diodes that conduct while the tanks carry these currents, among those whose
    /// voltage is zero: no diode current is below zero, and no voltage would fall below zero.
    ///
    /// These conditions have one solution, as M⁻¹ is positive definite. Diodes with a wrong sign change
    /// their state, all at once in the first rounds, then the last one alone: that ends (Murty
    /// 1974).
    pub(super) fn settle(&mut self, tanks: &PerNode<ROOM>) {
        let drawn = self.drawn(tanks);
        let largest = drawn.iter().fold(0.0_f64, |most, current| most.max(current.abs()));
        let negligible = NO_CURRENT * largest;
        let before = self.conducting;
        let touching = BitSet::of_all(self.switches(), |switch| {
            before.holds(switch) || self.voltage(switch) <= self.touches()
        });
        for round in 0..MOST_ROUNDS {
            self.respond();
            let wrong = self.wrong(touching, &drawn, negligible);
            if wrong.is_empty() {
                break;
            }
            let changed = if round < AT_ONCE { wrong } else { wrong.last() };
            self.conducting = self.conducting.toggled(changed);
        }
        self.tie();
        for switch in self.switches().filter(|switch| !self.conducting.holds(*switch)) {
            self.carried[switch] = 0.0;
            self.diode_currents[switch] = 0.0;
        }
    }

    /// Touching switches whose diodes should change their state.
    fn wrong(&self, touching: BitSet, drawn: &PerNode<ROOM>, negligible: f64) -> BitSet {
        let leg = &self.circuit;
        let velocities = self.response.velocities(drawn);
        BitSet::of_all(leg.switches(), |switch| {
            let capacitance = leg.node_capacitance(switch % ROOM);
            touching.holds(switch)
                && if self.conducting.holds(switch) {
                    dot(self.response.diode(switch), drawn) < -negligible
                } else {
                    leg.across(switch, &velocities) * capacitance < -negligible
                }
        })
    }

    /// Keeps what the diodes tie together now, and how the leg answers then.
    fn respond(&mut self) {
        self.groups = Groups::new(&self.circuit, self.conducting);
        self.response.set(&self.circuit, &self.groups);
    }

    /// Lets a diode go that carries nothing any more.
    pub(super) fn release(&mut self, switch: usize) {
        self.conducting = self.conducting.without(switch);
        self.respond();
        self.carried[switch] = 0.0;
        self.diode_currents[switch] = 0.0;
    }
}
