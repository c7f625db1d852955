//! How a leg answers to the currents that leave its nodes, as long as the same diodes conduct.
//!
//! Node voltages are linear in the charge drawn, and diode currents in the currents drawn. A row of
//! numbers, one for each node drawn from, tells how. The rows of all nodes follow from the groups
//! as single voltages would.

use super::groups::{Anchor, Groups};
use super::nodes::{LegNodes, PerNode};

/// The rows of a leg.
#[derive(Debug, Clone)]
pub(super) struct LegResponse<const ROOM: usize> {
    /// By how much each node's voltage changes for a coulomb drawn from each node: −M⁻¹ of the groups,
    /// in 1/F. It is symmetric.
    pub(super) nodes: [PerNode<ROOM>; ROOM],
    /// Current of each conducting diode for an ampere drawn from each node. Rows of others are of no use.
    diodes: [[PerNode<ROOM>; ROOM]; 2],
}

impl<const ROOM: usize> LegResponse<ROOM> {
    /// All zero.
    pub(super) const NONE: Self =
        Self { nodes: [[0.0; ROOM]; ROOM], diodes: [[[0.0; ROOM]; ROOM]; 2] };

    /// Current of a conducting diode for an ampere drawn from each node.
    pub(super) fn diode(&self, switch: usize) -> &PerNode<ROOM> {
        &self.diodes.as_flattened()[switch]
    }

    /// S′ of every node when these currents leave the nodes.
    pub(super) fn velocities(&self, drawn: &PerNode<ROOM>) -> PerNode<ROOM> {
        times(&self.nodes, drawn)
    }

    /// Takes that of a leg whose nodes are in these groups.
    pub(super) fn set(&mut self, leg: &LegNodes<ROOM>, groups: &Groups<ROOM>) {
        self.set_nodes(leg, groups);
        if groups.has_diodes() {
            self.set_diodes(leg, groups);
        }
    }

    /// Elimination from the first group to the last, and back.
    fn set_nodes(&mut self, leg: &LegNodes<ROOM>, groups: &Groups<ROOM>) {
        let mut sums = [[0.0; ROOM]; ROOM];
        for (n, group) in groups.all().iter().enumerate() {
            sums[n][group.first..=group.last].fill(-1.0);
            if let Some(coupling) = groups.coupling(leg, n) {
                let before = sums[n - 1];
                add(&mut sums[n], coupling / groups.all()[n - 1].pivot, &before);
            }
        }
        let mut next = [0.0; ROOM];
        for (n, group) in groups.all().iter().enumerate().rev() {
            if group.anchor == Anchor::None {
                if let Some(coupling) = groups.coupling(leg, n + 1) {
                    add(&mut sums[n], coupling, &next);
                }
                next = sums[n].map(|sum| sum / group.pivot);
            } else {
                next = [0.0; ROOM];
            }
            self.nodes[group.first..=group.last].fill(next);
        }
    }

    /// What a node lacks comes through the diodes, from the free ends of each group towards its anchor.
    fn set_diodes(&mut self, leg: &LegNodes<ROOM>, groups: &Groups<ROOM>) {
        let high = LegNodes::<ROOM>::high_switch;
        for group in groups.all().iter().filter(|group| groups.has_diodes_in(group)) {
            let (first, last) = (group.first, group.last);
            // Nodes before `end` pass it on to the next one, nodes from `begin` on to the one before.
            let (end, begin) = match group.anchor {
                Anchor::None => (last, last + 1),
                Anchor::Above => (first, first),
                Anchor::Node(k) => (k, k + 1),
            };
            let (mut passed, mut returned) = ([0.0; ROOM], [0.0; ROOM]);
            for k in first..end {
                add(&mut passed, 1.0, &self.lacks(leg, k));
                self.diodes.as_flattened_mut()[high(k + 1)] = passed;
            }
            for k in (begin..=last).rev() {
                add(&mut returned, -1.0, &self.lacks(leg, k));
                self.diodes.as_flattened_mut()[high(k)] = returned;
            }
            if let Anchor::Node(k) = group.anchor {
                let mut through = self.lacks(leg, k);
                add(&mut through, 1.0, &passed);
                add(&mut through, -1.0, &returned);
                self.diodes.as_flattened_mut()[k] = through;
            }
        }
    }

    /// M S′ of a node and what is drawn from it: the current that its capacitances do not take.
    fn lacks(&self, leg: &LegNodes<ROOM>, k: usize) -> PerNode<ROOM> {
        let mut lacks = [0.0; ROOM];
        lacks[k] = 1.0;
        add(&mut lacks, leg.node_capacitance(k), &self.nodes[k]);
        if leg.joins_previous(k) {
            add(&mut lacks, -leg.high(k), &self.nodes[k - 1]);
        }
        if leg.joins_previous(k + 1) {
            add(&mut lacks, -leg.next_high(k), &self.nodes[k + 1]);
        }
        lacks
    }
}

/// Adds a multiple of a row to another.
fn add<const ROOM: usize>(sum: &mut PerNode<ROOM>, factor: f64, row: &PerNode<ROOM>) {
    for (sum, number) in sum.iter_mut().zip(row) {
        *sum += factor * number;
    }
}

/// A symmetric matrix times a vector.
pub(super) fn times<const ROOM: usize>(
    matrix: &[PerNode<ROOM>; ROOM],
    vector: &PerNode<ROOM>,
) -> PerNode<ROOM> {
    let mut product = [0.0; ROOM];
    matrix.iter().zip(vector).for_each(|(row, factor)| add(&mut product, *factor, row));
    product
}

/// Σ a(k) b(k).
pub(super) fn dot<const ROOM: usize>(a: &PerNode<ROOM>, b: &PerNode<ROOM>) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
