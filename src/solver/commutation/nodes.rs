//! One switching leg while all of its switches are off: its nodes, capacitances and body diodes.
//!
//! Phases count from 0 here. `S(k)` is the voltage of phase k's switching node. The flying capacitor
//! ties it to the node above, so that both move together and one equation holds for them:
//!
//! ```text
//! M S' = −i + diode currents       M(k,k) = CL(k) + CH(k) + CH(k+1)       M(k,k−1) = −CH(k)
//! ```
//!
//! Every switch has a body diode, which keeps its voltage from falling below zero:
//!
//! ```text
//! low switch k:  S(k) ≥ 0          high switch k:  h(k) = S(k−1) − S(k) + E(k) ≥ 0
//! ```

use crate::converter::MAX_PHASES;

/// Body diodes of a leg: of the low switches first, then of the high ones.
pub(super) const MAX_SWITCHES: usize = 2 * MAX_PHASES;

/// A number for each node of a leg.
pub(super) type PerNode = [f64; MAX_PHASES];
/// A number for each switch of a leg: the low ones first, `n` of them, then the high ones.
pub(super) type PerSwitch = [f64; MAX_SWITCHES];

/// Rounds over all diodes after which a projection ends even if it has not settled.
const MOST_ROUNDS: usize = 2000;
/// Charge at which it has settled, relative to that of the largest node's swing.
const SETTLED: f64 = 1e-12;

/// Output capacitances of a leg's switches in farad, one a phase.
#[derive(Debug, Clone, Copy)]
pub(super) struct LegCapacitances {
    /// Of the low switches.
    pub(super) low: PerNode,
    /// Of the high switches.
    pub(super) high: PerNode,
}

/// The circuit of a leg's nodes.
#[derive(Debug, Clone)]
pub(super) struct LegNodes {
    phases: usize,
    capacitances: LegCapacitances,
    /// Whether the switches of neighbouring phases share nodes.
    is_chain: bool,
    /// E(k), interval voltages.
    intervals: PerNode,
    /// M⁻¹ of the nodes that may move; zero in the rows and columns of those held.
    inverse: [PerNode; MAX_PHASES],
    /// M⁻¹ a of each switch's diode.
    pull: [PerNode; MAX_SWITCHES],
    /// 1/(aᵀ M⁻¹ a) of each: the capacitance that the diode sees. Zero where its nodes are held.
    seen: PerSwitch,
    /// Charge that counts as none.
    settled: f64,
}

impl LegNodes {
    /// A leg of a chain, whose nodes couple through the high switches.
    pub(super) fn chain(phases: usize, capacitances: LegCapacitances, intervals: PerNode) -> Self {
        Self::new(phases, capacitances, intervals, true)
    }

    /// The legs of paralleled phases: each phase's node by itself, between rails.
    pub(super) fn alone(phases: usize, capacitances: LegCapacitances, intervals: PerNode) -> Self {
        Self::new(phases, capacitances, intervals, false)
    }

    fn new(
        phases: usize,
        capacitances: LegCapacitances,
        intervals: PerNode,
        is_chain: bool,
    ) -> Self {
        let mut leg = Self {
            phases,
            capacitances,
            is_chain,
            intervals,
            inverse: [[0.0; MAX_PHASES]; MAX_PHASES],
            pull: [[0.0; MAX_PHASES]; MAX_SWITCHES],
            seen: [0.0; MAX_SWITCHES],
            settled: 0.0,
        };
        let swing = |k: usize| leg.node_capacitance(k) * intervals[k].abs();
        leg.settled = SETTLED * (0..phases).map(swing).fold(0.0, f64::max);
        leg.hold(|_| false);
        leg
    }

    /// Number of phases.
    pub(super) fn phases(&self) -> usize {
        self.phases
    }

    /// Interval voltage of phase `k`.
    pub(super) fn interval(&self, k: usize) -> f64 {
        self.intervals[k]
    }

    /// CL(k) + CH(k) + CH(k+1): what moves when node `k` moves alone.
    pub(super) fn node_capacitance(&self, k: usize) -> f64 {
        let LegCapacitances { low, high } = &self.capacitances;
        let next = if self.is_chain && k + 1 < self.phases { high[k + 1] } else { 0.0 };
        low[k] + high[k] + next
    }

    /// Capacitance between the nodes `k` − 1 and `k`.
    fn coupling(&self, k: usize) -> f64 {
        if self.is_chain && k > 0 { self.capacitances.high[k] } else { 0.0 }
    }

    /// Holds these nodes where they are, by a switch that is on; all others may move.
    pub(super) fn hold(&mut self, is_held: impl Fn(usize) -> bool) {
        let phases = self.phases;
        self.inverse = [[0.0; MAX_PHASES]; MAX_PHASES];
        for column in (0..phases).filter(|k| !is_held(*k)) {
            self.inverse[column] = self.moved_by(column, &is_held);
        }
        for k in 0..phases {
            self.pull[k] = self.inverse[k];
            let high = &mut self.pull[phases + k];
            *high = self.inverse[k].map(|x| -x);
            if self.is_chain && k > 0 {
                let above = &self.inverse[k - 1];
                high.iter_mut().zip(above).for_each(|(x, above)| *x += above);
            }
            for switch in [k, phases + k] {
                let compliance = self.across(switch, &self.pull[switch], 0.0);
                self.seen[switch] = if compliance > 0.0 { 1.0 / compliance } else { 0.0 };
            }
        }
    }

    /// What a charge of one into node `column` moves: a column of M⁻¹, by elimination of the
    /// tridiagonal matrix.
    fn moved_by(&self, column: usize, is_held: &impl Fn(usize) -> bool) -> PerNode {
        let (mut pivots, mut moved) = ([0.0; MAX_PHASES], [0.0; MAX_PHASES]);
        let coupled = |k: usize| if is_held(k) || is_held(k - 1) { 0.0 } else { self.coupling(k) };
        for k in 0..self.phases {
            pivots[k] = self.node_capacitance(k);
            moved[k] = if k == column { 1.0 } else { 0.0 };
            if k > 0 {
                let factor = coupled(k) / pivots[k - 1];
                pivots[k] -= factor * coupled(k);
                moved[k] += factor * moved[k - 1];
            }
        }
        for k in (0..self.phases).rev() {
            let below = if k + 1 < self.phases { coupled(k + 1) * moved[k + 1] } else { 0.0 };
            moved[k] = (moved[k] + below) / pivots[k];
        }
        moved
    }

    /// aᵀS + c of a switch; with the interval voltage for c of the high ones, its voltage.
    fn across(&self, switch: usize, nodes: &PerNode, interval: f64) -> f64 {
        match switch.checked_sub(self.phases) {
            None => nodes[switch],
            Some(k) => {
                let above = if self.is_chain && k > 0 { nodes[k - 1] } else { 0.0 };
                above - nodes[k] + interval
            }
        }
    }

    /// Voltage across a switch.
    pub(super) fn voltage(&self, switch: usize, nodes: &PerNode) -> f64 {
        let interval = switch.checked_sub(self.phases).map_or(0.0, |k| self.intervals[k]);
        self.across(switch, nodes, interval)
    }

    /// Moves the nodes as charges drawn from them would without the diodes.
    pub(super) fn draw(&self, nodes: &mut PerNode, charges: &PerNode) {
        for (charge, column) in charges.iter().zip(&self.inverse).take(self.phases) {
            for (node, moved) in nodes.iter_mut().zip(column).take(self.phases) {
                *node -= charge * moved;
            }
        }
    }

    /// Lets the diodes bring the nodes back to where no switch voltage is below zero: the nearest
    /// such point in the metric M. `charges` are those through the diodes. They start from a guess
    /// whose effect the nodes hold already.
    ///
    /// The dual problem, one diode after the other (Hildreth 1957). It is convex, so that whatever
    /// the guess one point results.
    pub(super) fn conduct(&self, nodes: &mut PerNode, charges: &mut PerSwitch) {
        for _ in 0..MOST_ROUNDS {
            let mut largest = 0.0_f64;
            for (switch, charge) in charges.iter_mut().enumerate().take(2 * self.phases) {
                let wanted = -self.voltage(switch, nodes) * self.seen[switch];
                let added = wanted.max(-*charge);
                if added != 0.0 {
                    *charge += added;
                    self.push(nodes, switch, added);
                    largest = largest.max(added.abs());
                }
            }
            if largest <= self.settled {
                return;
            }
        }
    }

    /// Moves the nodes by a charge through a switch's diode.
    pub(super) fn push(&self, nodes: &mut PerNode, switch: usize, charge: f64) {
        let pull = &self.pull[switch];
        nodes
            .iter_mut()
            .zip(pull)
            .take(self.phases)
            .for_each(|(node, pull)| *node += charge * pull);
    }

    /// Energy lost where nodes stand so far from their targets when the switches turn on:
    /// `W = ½ rᵀ M r = ½ Σ CL(k) r(k)² + ½ Σ CH(k) (r(k−1) − r(k))²`, in joule.
    pub(super) fn energy(&self, off_target: &PerNode) -> f64 {
        let LegCapacitances { low, high } = &self.capacitances;
        let square = |switch: usize, c: f64| {
            let r = self.across(switch, off_target, 0.0);
            0.5 * c * r * r
        };
        (0..self.phases).map(|k| square(k, low[k]) + square(self.phases + k, high[k])).sum()
    }
}
