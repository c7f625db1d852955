//! Nodes that conducting diodes tie together: each group moves as one, or rests.
//!
//! The diode of a high switch ties its node to the node of the phase before. That of a low switch,
//! or of a high switch without a node before it, lets the group rest at a rail. A group has one such
//! anchor at most: any two would need different voltages.

use super::nodes::{LegNodes, PerNode};

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

    /// Those of some numbers for which something holds.
    pub(super) fn of_all(
        numbers: impl Iterator<Item = usize>,
        holds: impl Fn(usize) -> bool,
    ) -> Self {
        numbers.filter(|n| holds(*n)).fold(Self::default(), Self::with)
    }

    /// Those in it.
    pub(super) fn members(self) -> impl Iterator<Item = usize> {
        std::iter::successors(Some(self.0), |left| Some(left & left.wrapping_sub(1)))
            .take_while(|left| *left != 0)
            .map(|left| left.trailing_zeros() as usize)
    }
}

/// What keeps a group from moving.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// Nothing: it floats.
    None,
    /// The rail above its first node.
    Above,
    /// This node, which stands still.
    Node(usize),
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Group {
    pub(super) first: usize,
    pub(super) last: usize,
    pub(super) anchor: Anchor,
    /// Pivot of the tridiagonal matrix of groups that float; unused where it rests.
    pub(super) pivot: f64,
}

/// The groups of a leg's nodes while these diodes conduct.
#[derive(Debug, Clone, Copy)]
pub(super) struct Groups<const ROOM: usize> {
    all: [Group; ROOM],
    count: usize,
    conducting: BitSet,
}

impl<const ROOM: usize> Groups<ROOM> {
    pub(super) fn new(leg: &LegNodes<ROOM>, conducting: BitSet) -> Self {
        let none = Group { first: 0, last: 0, anchor: Anchor::None, pivot: 0.0 };
        let mut groups = Self { all: [none; ROOM], count: 0, conducting };
        let phases = leg.phases();
        for k in 0..phases {
            let is_high_on = conducting.holds(LegNodes::<ROOM>::high_switch(k));
            if !(is_high_on && leg.joins_previous(k)) {
                let anchor = if is_high_on { Anchor::Above } else { Anchor::None };
                groups.all[groups.count] = Group { first: k, last: k, anchor, pivot: 0.0 };
                groups.count += 1;
            }
            let group = &mut groups.all[groups.count - 1];
            group.last = k;
            if conducting.holds(k) {
                group.anchor = Anchor::Node(k);
            }
        }
        groups.eliminate(leg);
        groups
    }

    /// Pivots of the matrix of the groups. The capacitance between two nodes of a group does not
    /// count, as they move alike.
    fn eliminate(&mut self, leg: &LegNodes<ROOM>) {
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
    pub(super) fn coupling(&self, leg: &LegNodes<ROOM>, n: usize) -> Option<f64> {
        let floats = |n: usize| n < self.count && self.all[n].anchor == Anchor::None;
        let couple = n > 0 && floats(n) && floats(n - 1) && leg.joins_previous(self.all[n].first);
        couple.then(|| leg.high(self.all[n].first))
    }

    /// Whether any diode conducts.
    pub(super) fn has_diodes(&self) -> bool {
        !self.conducting.is_empty()
    }

    /// The groups.
    pub(super) fn all(&self) -> &[Group] {
        &self.all[..self.count]
    }

    /// Whether any diode of a group conducts.
    pub(super) fn has_diodes_in(&self, group: &Group) -> bool {
        let high = LegNodes::<ROOM>::high_switch;
        let mut nodes = group.first..=group.last;
        nodes.any(|k| self.conducting.holds(k) || self.conducting.holds(high(k)))
    }

    /// Puts tied nodes to exactly where their diodes hold them.
    pub(super) fn tie(&self, leg: &LegNodes<ROOM>, nodes: &mut PerNode<ROOM>) {
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
