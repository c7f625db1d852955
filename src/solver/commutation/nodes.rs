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

use std::ops::{Index, IndexMut};

use crate::converter::MAX_PHASES;

/// A number for each node of a leg with room for `ROOM` nodes; what lies behind the last node is zero.
pub(super) type PerNode<const ROOM: usize = MAX_PHASES> = [f64; ROOM];

/// A number for each switch of a leg: of the low ones, one a phase, and of the high ones. The low ones
/// count from 0, the high ones from `ROOM`.
#[derive(Debug, Clone, Copy)]
pub(super) struct PerSwitch<const ROOM: usize>(pub(super) [PerNode<ROOM>; 2]);

impl<const ROOM: usize> PerSwitch<ROOM> {
    /// All zero.
    pub(super) const ZERO: Self = Self([[0.0; ROOM]; 2]);

    /// Changes of all switches' voltages when the nodes change so.
    pub(super) fn across(nodes: &PerNode<ROOM>) -> Self {
        let mut high = nodes.map(|node| -node);
        high[1..].iter_mut().zip(nodes).for_each(|(high, before)| *high += before);
        Self([*nodes, high])
    }

    /// The most that they can change when the nodes change by no more than this.
    pub(super) fn most_across(nodes: &PerNode<ROOM>) -> Self {
        let mut high = *nodes;
        high[1..].iter_mut().zip(nodes).for_each(|(high, before)| *high += before);
        Self([*nodes, high])
    }

    /// Number by number with another.
    pub(super) fn with(&self, other: &Self, combine: impl Fn(f64, f64) -> f64) -> Self {
        let mut all = *self;
        for (number, other) in all.0.as_flattened_mut().iter_mut().zip(other.0.as_flattened()) {
            *number = combine(*number, *other);
        }
        all
    }
}

impl<const ROOM: usize> Index<usize> for PerSwitch<ROOM> {
    type Output = f64;

    fn index(&self, switch: usize) -> &f64 {
        &self.0.as_flattened()[switch]
    }
}

impl<const ROOM: usize> IndexMut<usize> for PerSwitch<ROOM> {
    fn index_mut(&mut self, switch: usize) -> &mut f64 {
        &mut self.0.as_flattened_mut()[switch]
    }
}

/// Output capacitances of a leg's switches in farad, one a phase.
#[derive(Debug, Clone, Copy)]
pub(super) struct LegCapacitances<const ROOM: usize = MAX_PHASES> {
    /// Of the low switches.
    pub(super) low: PerNode<ROOM>,
    /// Of the high switches.
    pub(super) high: PerNode<ROOM>,
}

/// The circuit of a leg's nodes.
#[derive(Debug, Clone)]
pub(super) struct LegNodes<const ROOM: usize = MAX_PHASES> {
    phases: usize,
    capacitances: LegCapacitances<ROOM>,
    /// E(k), interval voltages.
    intervals: PerNode<ROOM>,
}

impl<const ROOM: usize> LegNodes<ROOM> {
    /// A leg of a chain, whose nodes couple through the high switches.
    pub(super) fn chain(
        phases: usize,
        capacitances: LegCapacitances<ROOM>,
        intervals: PerNode<ROOM>,
    ) -> Self {
        Self { phases, capacitances, intervals }
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
        k > 0 && k < self.phases
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

    /// All switches, the low ones first.
    pub(super) fn switches(&self) -> impl Iterator<Item = usize> + use<ROOM> {
        (0..self.phases).chain(ROOM..ROOM + self.phases)
    }

    /// Number of a high switch.
    pub(super) const fn high_switch(k: usize) -> usize {
        ROOM + k
    }

    /// Change of a switch's voltage when the nodes change so.
    pub(super) fn across(&self, switch: usize, nodes: &PerNode<ROOM>) -> f64 {
        match switch.checked_sub(ROOM) {
            None => nodes[switch],
            Some(k) if self.joins_previous(k) => nodes[k - 1] - nodes[k],
            Some(k) => -nodes[k],
        }
    }

    /// Voltages across all switches.
    pub(super) fn voltages(&self, nodes: &PerNode<ROOM>) -> PerSwitch<ROOM> {
        let mut voltages = PerSwitch::across(nodes);
        voltages.0[1].iter_mut().zip(&self.intervals).for_each(|(v, interval)| *v += interval);
        voltages
    }

    /// Voltage across a switch where all nodes stand at zero.
    pub(super) fn offset(&self, switch: usize) -> f64 {
        switch.checked_sub(ROOM).map_or(0.0, |k| self.intervals[k])
    }

    /// Voltage across a switch.
    pub(super) fn voltage(&self, switch: usize, nodes: &PerNode<ROOM>) -> f64 {
        self.across(switch, nodes) + self.offset(switch)
    }

    /// (M x)(k): the charge that brings node k from `x` to zero, where all nodes go there.
    pub(super) fn charge(&self, k: usize, x: &PerNode<ROOM>) -> f64 {
        let above = self.high(k) * -self.across(Self::high_switch(k), x);
        let next = if self.joins_previous(k + 1) { x[k + 1] } else { 0.0 };
        self.low(k) * x[k] + above + self.next_high(k) * (x[k] - next)
    }

    /// Energy lost where nodes stand so far from their targets when the switches turn on:
    /// `W = ½ rᵀ M r = ½ Σ CL(k) r(k)² + ½ Σ CH(k) (r(k−1) − r(k))²`, in joule.
    pub(super) fn energy(&self, off_target: &PerNode<ROOM>) -> f64 {
        let square = |switch: usize, c: f64| {
            let r = self.across(switch, off_target);
            0.5 * c * r * r
        };
        let of_phases = (0..self.phases)
            .map(|k| square(k, self.low(k)) + square(Self::high_switch(k), self.high(k)));
        of_phases.sum()
    }

    /// What of it each switch loses that turns on: of node k the switch `next_on(k)`.
    ///
    /// Node k gives off the charge (M r)(k) through it. A high switch draws what it passes from the node
    /// before, whose switch passes as much more. Where all of them close alike, each loses half of its
    /// charge times the voltage that it had; together that is ½ rᵀ M r. No switch can lose less than
    /// nothing: where one would, they do not close alike, and the others share what is lost.
    pub(super) fn energies(
        &self,
        off_target: &PerNode<ROOM>,
        next_on: impl Fn(usize) -> usize,
    ) -> PerNode<ROOM> {
        let (mut energies, mut drawn_by_next) = ([0.0; ROOM], 0.0);
        for k in (0..self.phases).rev() {
            let drawn = std::mem::take(&mut drawn_by_next);
            let switch = next_on(k);
            let charge = self.charge(k, off_target) + drawn;
            let is_high = switch >= ROOM;
            let voltage = self.across(switch, off_target);
            energies[k] = 0.5 * charge * if is_high { -voltage } else { voltage };
            if is_high && self.joins_previous(k) {
                drawn_by_next = charge;
            }
        }
        let all: f64 = energies.iter().sum();
        let positive: f64 = energies.iter().map(|own| own.max(0.0)).sum();
        let scale = if positive > all { all / positive } else { 1.0 };
        energies.map(|own| own.max(0.0) * scale)
    }
}
