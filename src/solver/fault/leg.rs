//! One driven leg of a chain in which a part may have failed.
//!
//! Node n stands between phases n and n + 1 (counted from 1): the input is node 0, the ground node N.
//! The phase before charges it with the elastance `before`, the phase behind discharges it with the
//! elastance `behind`. Between both the node rises by its `jump` times the charge.
//!
//! | failed | nodes |
//! |---|---|
//! | nothing | node n: `before = behind = jump = 1/C(n)` |
//! | C(k) shorted | node k is ground: phases behind it receive nothing |
//! | high 1 shorted | node 1 is the input: phase 1 receives nothing |
//! | high k ≥ 2 shorted | nodes k − 2 and k are joined while phase k − 1 is high: C(k−2) is charged alone, C(k−2) and C(k) are discharged together; phases k − 1 and k receive nothing |
//! | low k shorted, or held on | nodes k − 1 and k are joined while phase k is high: C(k−1) is charged, C(k) discharged, and both are level again; phase k receives nothing |

use std::ops::{Range, RangeInclusive};

use arrayvec::ArrayVec;

use crate::converter::{FailureMode, MAX_PHASES};
use crate::units::Farad;

/// What a leg does to its phases.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LegRemainder {
    /// Which phases still receive voltage.
    pub(super) fed: ArrayVec<bool, MAX_PHASES>,
    /// Elastance of flying capacitors that each of them sees, in 1/farad; zero without voltage, where
    /// body diodes hold a phase at zero.
    pub(super) elastances: ArrayVec<f64, MAX_PHASES>,
    /// By how much the node after each phase rises with the charge before the next phase begins, in
    /// 1/farad.
    pub(super) jumps: ArrayVec<f64, MAX_PHASES>,
    /// By how much the node before each phase falls with the charge of that phase, in 1/farad.
    pub(super) behind: ArrayVec<f64, MAX_PHASES>,
    /// By how much the node after each phase falls with the charge before it is joined with the one before that
    /// phase, in 1/farad.
    pub(super) dips: ArrayVec<f64, MAX_PHASES>,
    /// Capacitors that stay between phases without voltage.
    pub(super) idle: IdleCapacitors,
    /// Of every node: the one that stands for all those it is joined with. Where that is the input or the
    /// ground, the voltage of the node is given.
    joined: ArrayVec<usize, { MAX_PHASES + 1 }>,
}

/// Capacitors of a damaged leg between phases that receive no voltage: where these phases carry current, it
/// makes ripple that body diodes hold.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct IdleCapacitors {
    /// Elastance that each phase sees, in 1/farad; zero of phases that receive voltage.
    pub(super) elastances: ArrayVec<f64, MAX_PHASES>,
    /// By how much the voltages at the ends of all intervals sum to less than zero with the charge, in
    /// 1/farad.
    pub(super) total: f64,
    /// Whether more than these capacitors decides.
    pub(super) is_open: bool,
}

impl IdleCapacitors {
    /// Of a leg with these elastances of the nodes 0 to N, in which a part of this phase, counted from 0,
    /// has failed.
    fn new(nodes: &[f64], failure: FailureMode, k: usize) -> Self {
        let mut elastances: ArrayVec<f64, MAX_PHASES> = nodes[1..].iter().map(|_| 0.0).collect();
        let (total, is_open) = match failure {
            FailureMode::FlyingCapacitorShort => {
                let inner = |node: usize| if node > k + 1 { nodes[node] } else { 0.0 };
                for (phase, own) in elastances.iter_mut().enumerate().skip(k + 1) {
                    *own = inner(phase) + inner(phase + 1);
                }
                (nodes[k + 2..].iter().sum(), false)
            }
            FailureMode::HighSwitchShort => {
                // Each period the node behind is joined again to the one before.
                elastances[k] = nodes[k] + nodes[k + 1];
                if k > 0 {
                    elastances[k - 1] = nodes[k];
                }
                (nodes[k] + nodes[k + 1], k > 1)
            }
            _ => (0.0, false),
        };
        Self { elastances, total, is_open }
    }
}

/// The nodes of a leg, with the input and the ground; index n is node n.
struct Nodes {
    before: ArrayVec<f64, { MAX_PHASES + 1 }>,
    behind: ArrayVec<f64, { MAX_PHASES + 1 }>,
    jump: ArrayVec<f64, { MAX_PHASES + 1 }>,
    dip: ArrayVec<f64, { MAX_PHASES + 1 }>,
    fed: ArrayVec<bool, MAX_PHASES>,
    joined: ArrayVec<usize, { MAX_PHASES + 1 }>,
}

impl LegRemainder {
    /// A leg with these flying capacitors, whose parts all work or in which one of this phase (counted
    /// from 0) has failed. Failures that leave no chain leave the leg as it is.
    pub(super) fn new(flying: &[Farad], failed: Option<(FailureMode, usize)>) -> Self {
        let mut nodes = Nodes::working(flying);
        let mut idle = IdleCapacitors::default();
        if let Some((failure, phase)) = failed {
            idle = IdleCapacitors::new(&nodes.jump, failure, phase);
            nodes.fail(failure, phase);
        }
        let phases = nodes.fed.len();
        let seen = |k: usize| {
            if nodes.fed[k] { nodes.behind[k] + nodes.before[k + 1] } else { 0.0 }
        };
        Self {
            elastances: (0..phases).map(seen).collect(),
            jumps: nodes.jump[1..].iter().copied().collect(),
            behind: nodes.behind[..phases].iter().copied().collect(),
            dips: nodes.dip[1..].iter().copied().collect(),
            fed: nodes.fed,
            idle,
            joined: nodes.joined,
        }
    }

    /// The ends of a switch over these phases that have a voltage of their own, which may drift: none where both
    /// ends are joined. Each with all nodes that are joined to it.
    pub(super) fn free_ends(
        &self,
        phases: &Range<usize>,
    ) -> impl Iterator<Item = ArrayVec<usize, { MAX_PHASES + 1 }>> {
        let last = self.joined.len() - 1;
        let ends = [self.joined[phases.start], self.joined[phases.end]];
        let is_free = move |node: &usize| ends[0] != ends[1] && *node != 0 && *node != last;
        let joined =
            move |end: usize| (0..=last).filter(|node| self.joined[*node] == end).collect();
        ends.into_iter().filter(is_free).map(joined)
    }

    /// Whether a diode of the other leg takes what flows back through it: there are two phases, of which the first
    /// alone receives voltage in this leg. While the second is high, the diode of the first high switch joins the
    /// capacitor between them to the input. Nothing holds it the other way round.
    pub(super) fn has_back_flow_taken(&self) -> bool {
        self.fed[..] == [true, false]
    }

    /// Number of phases that receive voltage.
    pub(super) fn fed_phases(&self) -> usize {
        self.fed.iter().filter(|fed| **fed).count()
    }
}

impl Nodes {
    fn working(flying: &[Farad]) -> Self {
        let inner = flying.iter().map(|c| 1.0 / c.0);
        let all: ArrayVec<f64, { MAX_PHASES + 1 }> =
            std::iter::once(0.0).chain(inner).chain(std::iter::once(0.0)).collect();
        let fed = flying.iter().map(|_| true).chain(std::iter::once(true)).collect();
        let joined = (0..all.len()).collect();
        let dip = all.iter().map(|_| 0.0).collect();
        Self { before: all.clone(), behind: all.clone(), jump: all, dip, fed, joined }
    }

    /// A part of phase `k`, counted from 0, fails. Its capacitor is at node k + 1.
    fn fail(&mut self, failure: FailureMode, k: usize) {
        match failure {
            FailureMode::FlyingCapacitorShort => self.ground_from(k + 1),
            FailureMode::FlyingCapacitorAged(share) => {
                for row in [&mut self.before, &mut self.behind, &mut self.jump] {
                    row[k + 1] /= share;
                }
            }
            FailureMode::HighSwitchShort if k == 0 => self.join_input(),
            FailureMode::HighSwitchShort => self.join_around(k),
            FailureMode::LowSwitchShort | FailureMode::Bypassed => {
                self.fed[k] = false;
                self.dip[k + 1] = self.behind[k + 1];
                (self.jump[k], self.jump[k + 1]) = (0.0, 0.0);
                self.join(k..=k + 1);
            }
            _ => {}
        }
    }

    fn ground_from(&mut self, node: usize) {
        for row in [&mut self.before, &mut self.behind, &mut self.jump] {
            row[node..].fill(0.0);
        }
        self.fed[node..].fill(false);
        self.join(node..=self.fed.len());
    }

    /// These nodes have one voltage: that of the ground if it is one of them, else of the first.
    fn join(&mut self, nodes: RangeInclusive<usize>) {
        let ground = self.fed.len();
        let all = if *nodes.end() == ground { ground } else { *nodes.start() };
        self.joined[nodes].fill(all);
    }

    fn join_input(&mut self) {
        for row in [&mut self.before, &mut self.behind, &mut self.jump] {
            row[1] = 0.0;
        }
        self.fed[0] = false;
        self.join(0..=1);
    }

    /// Joins the nodes k − 1 and k + 1 where phases k and k + 1 (counted from 1: the high switch of
    /// phase k + 1 is shorted) lie between them.
    fn join_around(&mut self, k: usize) {
        let (upper, lower) = (k - 1, k + 1);
        self.join(upper..=lower);
        (self.fed[k - 1], self.fed[k]) = (false, false);
        let phases = self.fed.len();
        let together = if upper == 0 || lower == phases {
            0.0
        } else {
            1.0 / (1.0 / self.before[upper] + 1.0 / self.before[lower])
        };
        self.behind[lower] = together;
        (self.jump[upper], self.jump[k], self.jump[lower]) = (0.0, 0.0, together);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Capacitors of 1, 1/2, 1/4 and 1/8 F: elastances of 1, 2, 4 and 8.
    fn five_phases(failure: FailureMode, phase: usize) -> LegRemainder {
        let flying = [1.0, 0.5, 0.25, 0.125].map(Farad);
        LegRemainder::new(&flying, Some((failure, phase)))
    }

    /// By hand from the table of this file.
    #[test]
    fn elastances_by_hand() {
        let short = five_phases(FailureMode::FlyingCapacitorShort, 1);
        assert_eq!(short.elastances[..], [1.0, 1.0, 0.0, 0.0, 0.0]);
        assert_eq!((short.fed_phases(), &short.jumps[..]), (2, &[1.0, 0.0, 0.0, 0.0, 0.0][..]));
        let low = five_phases(FailureMode::LowSwitchShort, 2);
        assert_eq!(low.elastances[..], [1.0, 3.0, 0.0, 12.0, 8.0]);
        assert_eq!(low.jumps[..], [1.0, 0.0, 0.0, 8.0, 0.0]);
        assert_eq!(low.dips[..], [0.0, 0.0, 4.0, 0.0, 0.0]);
        // C(1) and C(3), of 1 and 1/4 F, are discharged together.
        let high = five_phases(FailureMode::HighSwitchShort, 2);
        assert_eq!(high.elastances[..], [1.0, 0.0, 0.0, 8.8, 8.0]);
        assert_eq!(high.jumps[..], [0.0, 0.0, 0.8, 8.0, 0.0]);
        let first = five_phases(FailureMode::HighSwitchShort, 0);
        assert_eq!(first.elastances[..], [0.0, 2.0, 6.0, 12.0, 8.0]);
        let last = five_phases(FailureMode::HighSwitchShort, 4);
        assert_eq!(last.elastances[..], [1.0, 3.0, 6.0, 0.0, 0.0]);
        assert_eq!(last.jumps[..], [1.0, 2.0, 0.0, 0.0, 0.0]);
        let aged = five_phases(FailureMode::FlyingCapacitorAged(0.5), 0);
        assert_eq!(aged.elastances[..], [2.0, 4.0, 6.0, 12.0, 8.0]);
    }

    /// By hand from the table of this file. Phases are counted from 0; the switch of one phase lies over
    /// that phase, a high switch over its own phase and the one before.
    #[test]
    fn joined_nodes_do_not_drift_apart() {
        let ends = |failure, phase, over: Range<usize>| {
            five_phases(failure, phase).free_ends(&over).count()
        };
        // The first phase is held at zero: its node is the input.
        assert_eq!(ends(FailureMode::Bypassed, 0, 0..1), 0);
        assert_eq!(ends(FailureMode::Bypassed, 0, 0..2), 1);
        assert_eq!(ends(FailureMode::Bypassed, 0, 1..3), 1);
        assert_eq!(ends(FailureMode::Bypassed, 0, 2..4), 2);
        assert_eq!(ends(FailureMode::LowSwitchShort, 4, 3..4), 1);
        assert_eq!(ends(FailureMode::LowSwitchShort, 2, 2..3), 0);
        assert_eq!(ends(FailureMode::LowSwitchShort, 2, 1..3), 2);
        assert_eq!(ends(FailureMode::FlyingCapacitorShort, 1, 1..2), 1);
        assert_eq!(ends(FailureMode::FlyingCapacitorShort, 1, 3..5), 0);
        assert_eq!(ends(FailureMode::HighSwitchShort, 0, 0..2), 1);
        assert_eq!(ends(FailureMode::HighSwitchShort, 2, 1..2), 0);
        assert_eq!(ends(FailureMode::HighSwitchShort, 2, 2..4), 2);
        assert_eq!(ends(FailureMode::HighSwitchShort, 4, 2..4), 1);
        assert_eq!(ends(FailureMode::FlyingCapacitorAged(0.5), 1, 1..3), 2);
    }
}
