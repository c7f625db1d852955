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

/// Switches of a leg at most: the low ones first, one a phase, then the high ones.
pub(super) const MAX_SWITCHES: usize = 2 * MAX_PHASES;

/// A number for each node of a leg.
pub(super) type PerNode = [f64; MAX_PHASES];
/// A number for each switch of a leg.
pub(super) type PerSwitch = [f64; MAX_SWITCHES];

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
}

impl LegNodes {
    /// A leg of a chain, whose nodes couple through the high switches.
    pub(super) fn chain(phases: usize, capacitances: LegCapacitances, intervals: PerNode) -> Self {
        Self { phases, capacitances, is_chain: true, intervals }
    }

    /// The legs of paralleled phases: each phase's node by itself, between rails.
    pub(super) fn alone(phases: usize, capacitances: LegCapacitances, intervals: PerNode) -> Self {
        Self { phases, capacitances, is_chain: false, intervals }
    }

    /// Number of phases.
    pub(super) fn phases(&self) -> usize {
        self.phases
    }

    /// Interval voltage of phase `k`.
    pub(super) fn interval(&self, k: usize) -> f64 {
        self.intervals[k]
    }

    /// Whether high switch `k` joins node `k` to the node of the phase before.
    pub(super) fn joins_previous(&self, k: usize) -> bool {
        self.is_chain && k > 0 && k < self.phases
    }

    /// CL(k).
    pub(super) fn low(&self, k: usize) -> f64 {
        self.capacitances.low[k]
    }

    /// CH(k).
    pub(super) fn high(&self, k: usize) -> f64 {
        self.capacitances.high[k]
    }

    /// CH(k+1), as far as it moves with node `k`.
    pub(super) fn next_high(&self, k: usize) -> f64 {
        if self.joins_previous(k + 1) { self.capacitances.high[k + 1] } else { 0.0 }
    }

    /// CL(k) + CH(k) + CH(k+1): what moves when node `k` moves alone.
    pub(super) fn node_capacitance(&self, k: usize) -> f64 {
        self.low(k) + self.high(k) + self.next_high(k)
    }

    /// Change of a switch's voltage when the nodes change so.
    pub(super) fn across(&self, switch: usize, nodes: &PerNode) -> f64 {
        match switch.checked_sub(self.phases) {
            None => nodes[switch],
            Some(k) if self.joins_previous(k) => nodes[k - 1] - nodes[k],
            Some(k) => -nodes[k],
        }
    }

    /// Voltage across a switch where all nodes stand at zero.
    pub(super) fn offset(&self, switch: usize) -> f64 {
        switch.checked_sub(self.phases).map_or(0.0, |k| self.intervals[k])
    }

    /// Voltage across a switch.
    pub(super) fn voltage(&self, switch: usize, nodes: &PerNode) -> f64 {
        self.across(switch, nodes) + self.offset(switch)
    }

    /// (M x)(k).
    pub(super) fn charge(&self, k: usize, x: &PerNode) -> f64 {
        let above = self.high(k) * -self.across(self.phases + k, x);
        let below =
            if self.joins_previous(k + 1) { self.next_high(k) * (x[k] - x[k + 1]) } else { 0.0 };
        self.low(k) * x[k] + above + below
    }

    /// Energy lost where nodes stand so far from their targets when the switches turn on:
    /// `W = ½ rᵀ M r = ½ Σ CL(k) r(k)² + ½ Σ CH(k) (r(k−1) − r(k))²`, in joule.
    pub(super) fn energy(&self, off_target: &PerNode) -> f64 {
        let square = |switch: usize, c: f64| {
            let r = self.across(switch, off_target);
            0.5 * c * r * r
        };
        (0..self.phases)
            .map(|k| square(k, self.low(k)) + square(self.phases + k, self.high(k)))
            .sum()
    }
}
