//! Nodes that conducting diodes tie together: each group moves as one, or rests.
//!
//! The diode of a high switch ties its node to the node of the phase before. That of a low switch,
//! or of a high switch without a node before it, lets the group rest at a rail. A switch that is on
//! holds a node likewise. A group has one such anchor at most: any two would need different voltages.

use super::nodes::{LegNodes, PerNode, PerSwitch};
use crate::converter::MAX_PHASES;

/// A set of switches or nodes, one bit each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct BitSet(u32);

impl BitSet {
    pub(super) fn holds(self, n: usize) -> bool {
        self.0 >> n & 1 == 1
    }

    #[must_use]
    pub(super) fn with(self, n: usize) -> Self {
        Self(self.0 | 1 << n)
    }

    #[must_use]
    pub(super) fn without(self, n: usize) -> Self {
        Self(self.0 & !(1 << n))
    }

    /// With those in that are not, and without those that are.
    #[must_use]
    pub(super) fn toggled(self, others: Self) -> Self {
        Self(self.0 ^ others.0)
    }

    /// The last one alone.
    #[must_use]
    pub(super) fn last(self) -> Self {
        self.0.checked_ilog2().map_or(self, |n| Self(1 << n))
    }

    pub(super) fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Those below a number for which something holds.
    pub(super) fn of_all(end: usize, holds: impl Fn(usize) -> bool) -> Self {
        (0..end).filter(|n| holds(*n)).fold(Self::default(), Self::with)
    }
}

/// What keeps a group from moving.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Anchor {
    /// Nothing: it floats.
    None,
    /// The rail above its first node.
    Above,
    /// This node, which stands still.
    Node(usize),
}

#[derive(Debug, Clone, Copy)]
struct Group {
    first: usize,
    last: usize,
    anchor: Anchor,
    /// Pivot of the tridiagonal matrix of groups that float; unused where it rests.
    pivot: f64,
}

/// The groups of a leg's nodes while these diodes conduct and these nodes are held.
#[derive(Debug, Clone, Copy)]
pub(super) struct Groups {
    all: [Group; MAX_PHASES],
    count: usize,
    conducting: BitSet,
}

impl Groups {
    pub(super) fn new(leg: &LegNodes, conducting: BitSet, held: BitSet) -> Self {
        let none = Group { first: 0, last: 0, anchor: Anchor::None, pivot: 0.0 };
        let mut groups = Self { all: [none; MAX_PHASES], count: 0, conducting };
        let phases = leg.phases();
        for k in 0..phases {
            let is_high_on = conducting.holds(phases + k);
            if !(is_high_on && leg.joins_previous(k)) {
                let anchor = if is_high_on { Anchor::Above } else { Anchor::None };
                groups.all[groups.count] = Group { first: k, last: k, anchor, pivot: 0.0 };
                groups.count += 1;
            }
            let group = &mut groups.all[groups.count - 1];
            group.last = k;
            if conducting.holds(k) || held.holds(k) {
                group.anchor = Anchor::Node(k);
            }
        }
        groups.eliminate(leg);
        groups
    }

    /// Pivots of the matrix of the groups. The capacitance between two nodes of a group does not
    /// count, as they move alike.
    fn eliminate(&mut self, leg: &LegNodes) {
        for n in 0..self.count {
            let Group { first, last, .. } = self.all[n];
            let inside: f64 = (first..=last).map(|k| leg.low(k)).sum();
            let mut pivot = leg.high(first) + inside + leg.next_high(last);
            if let Some(coupling) = self.coupling(leg, n) {
                pivot -= coupling * coupling / self.all[n - 1].pivot;
            }
            self.all[n].pivot = pivot;
        }
    }

    /// Capacitance between a group and the one before, if both float.
    fn coupling(&self, leg: &LegNodes, n: usize) -> Option<f64> {
        let floats = |n: usize| n < self.count && self.all[n].anchor == Anchor::None;
        let couple = n > 0 && floats(n) && floats(n - 1) && leg.joins_previous(self.all[n].first);
        couple.then(|| leg.high(self.all[n].first))
    }

    /// S′ of every node when these currents leave the nodes.
    pub(super) fn velocities(&self, leg: &LegNodes, drawn: &PerNode) -> PerNode {
        let (mut sums, mut velocities) = ([0.0; MAX_PHASES], [0.0; MAX_PHASES]);
        for n in 0..self.count {
            let Group { first, last, .. } = self.all[n];
            sums[n] = -drawn[first..=last].iter().sum::<f64>();
            if let Some(coupling) = self.coupling(leg, n) {
                sums[n] += coupling / self.all[n - 1].pivot * sums[n - 1];
            }
        }
        let mut next = 0.0;
        for n in (0..self.count).rev() {
            let Group { first, last, anchor, pivot } = self.all[n];
            let coupled = self.coupling(leg, n + 1).map_or(0.0, |coupling| coupling * next);
            next = if anchor == Anchor::None { (sums[n] + coupled) / pivot } else { 0.0 };
            velocities[first..=last].fill(next);
        }
        velocities
    }

    /// Currents through the conducting diodes while the nodes move so. What a node lacks comes
    /// through them, from the free ends of each group towards its anchor.
    pub(super) fn diode_currents(
        &self,
        leg: &LegNodes,
        velocities: &PerNode,
        drawn: &PerNode,
    ) -> PerSwitch {
        let mut currents = PerSwitch::default();
        let phases = leg.phases();
        let lacks = |k: usize| leg.charge(k, velocities) + drawn[k];
        for group in &self.all[..self.count] {
            let Group { first, last, anchor, .. } = *group;
            // Nodes before `end` pass it on to the next one, nodes from `begin` on to the one before.
            let (end, begin) = match anchor {
                Anchor::None => (last, last + 1),
                Anchor::Above => (first, first),
                Anchor::Node(k) => (k, k + 1),
            };
            let (mut passed, mut returned) = (0.0, 0.0);
            for k in first..end {
                passed += lacks(k);
                currents[phases + k + 1] = passed;
            }
            for k in (begin..=last).rev() {
                returned -= lacks(k);
                currents[phases + k] = returned;
            }
            if let Anchor::Node(k) = anchor
                && self.conducting.holds(k)
            {
                currents[k] = lacks(k) + passed - returned;
            }
        }
        currents
    }

    /// Puts tied nodes to exactly where their diodes hold them.
    pub(super) fn tie(&self, leg: &LegNodes, nodes: &mut PerNode) {
        for group in &self.all[..self.count] {
            let Group { first, last, anchor, .. } = *group;
            let from = match anchor {
                Anchor::None => first,
                Anchor::Above => {
                    nodes[first] = leg.interval(first);
                    first
                }
                Anchor::Node(k) => {
                    nodes[k] = 0.0;
                    k
                }
            };
            for k in from..last {
                nodes[k + 1] = nodes[k] + leg.interval(k + 1);
            }
            for k in (first..from).rev() {
                nodes[k] = nodes[k + 1] - leg.interval(k + 1);
            }
        }
    }
}
