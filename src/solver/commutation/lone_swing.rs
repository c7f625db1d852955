//! The swing of a lone node: how it begins, and how the switch turns on that ends it.

use super::lone_node::{Hold, LoneNode};
use super::steps::TurnOnNow;
use super::tank::{HeldTank, TankCurrents};
use super::transition::Swing;
use crate::converter::Leg;

/// A node that swings by itself.
#[derive(Clone, Copy)]
pub(super) struct LoneSwing {
    pub(super) leg: Leg,
    pub(super) swing: Swing,
    /// Where it begins.
    pub(super) start: f64,
    /// E.
    pub(super) interval: f64,
    pub(super) capacitance: f64,
    /// Highest voltage across its high switch before.
    pub(super) highest_high: f64,
    /// Whether another leg moves as its mirror.
    pub(super) is_mirrored: bool,
}

impl LoneSwing {
    /// The same the other way: from E to zero.
    pub(super) fn falling(self) -> Self {
        Self { swing: Swing::HighToLow, start: self.interval, ..self }
    }

    /// The node at the begin of its dead time, with the tank's currents then.
    pub(super) fn begin(&self, tank: HeldTank, currents: TankCurrents) -> LoneNode {
        let (tank, currents) = match self.leg {
            Leg::Driven => (tank, currents),
            Leg::Return => (tank.reversed(), currents.reversed()),
        };
        let mut node = LoneNode::new(tank, currents, self.start, self.interval, self.capacitance);
        node.highest[1] = node.highest[1].max(self.highest_high);
        if self.is_mirrored { node.mirrored() } else { node }
    }

    /// Currents of its node as those of the tank.
    pub(super) fn of_tank(&self, currents: TankCurrents) -> TankCurrents {
        match self.leg {
            Leg::Driven => currents,
            Leg::Return => currents.reversed(),
        }
    }

    /// How far from its target a node stands.
    pub(super) fn residual(&self, node: &LoneNode) -> f64 {
        match self.swing {
            Swing::HighToLow => node.node,
            Swing::LowToHigh => self.interval - node.node,
        }
    }

    /// By how much farther a node could have swung after a dead time, as a share of its interval voltage.
    pub(super) fn spare(&self, node: &LoneNode, time: f64) -> f64 {
        let arrives = match self.swing {
            Swing::HighToLow => Hold::LowDiode,
            Swing::LowToHigh => Hold::HighDiode,
        };
        let current = arrives.diode_sign().unwrap_or(0.0) * node.currents.tank;
        if node.hold != arrives {
            return 0.0;
        }
        node.carried.min(current * time).max(0.0) / (self.capacitance * self.interval)
    }

    /// Energy lost where its switch turns on now.
    pub(super) fn energy(&self, node: &LoneNode) -> f64 {
        0.5 * self.capacitance * self.residual(node).powi(2)
    }

    pub(super) fn turn_on(&self, node: &LoneNode, time: f64) -> TurnOnNow {
        let share = self.residual(node).max(0.0) / self.interval;
        let shortfall = share - self.spare(node, time);
        TurnOnNow { shortfall, energy: self.energy(node) }
    }
}
