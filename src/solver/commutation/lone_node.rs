//! A node that swings by itself, with the tank on it: of a paralleled phase, or of a chain whose falling phases
//! go first.
//!
//! Everything counts in the sign of the node here: currents leave it, and the source voltage rises with it.
//! With the node at S, between zero and E:
//!
//! ```text
//! free      C S′ = −i        L i′ = u − R i        u′ = −w i/C
//! held      S′ = 0, by a diode or by a switch that is on
//! ```
//!
//! where u is the source voltage less those of the resonant capacitor and of a conducting rectifier, and w = 2
//! where the node of another leg moves as the mirror of this one. Both are closed forms in time.

use super::leg::{NO_CURRENT, NO_VOLTAGE, TOUCHES};
use super::tank::{HeldTank, TankCurrents};

/// What keeps a node where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hold {
    /// Nothing.
    Free,
    /// The diode of the low switch, at zero.
    LowDiode,
    /// The diode of the high switch, at E.
    HighDiode,
    /// A low switch that is on.
    Switch,
}

impl Hold {
    /// The sign of the current that leaves the node through its diode; none where no diode conducts.
    pub(super) fn diode_sign(self) -> Option<f64> {
        match self {
            Self::LowDiode => Some(1.0),
            Self::HighDiode => Some(-1.0),
            Self::Free | Self::Switch => None,
        }
    }
}

/// What ends a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum LoneEvent {
    /// The node has come to where a diode holds it.
    Hit(Hold),
    /// The diode's current is zero.
    Release,
    /// The rectifier changes its state.
    Rectifier,
}

/// A node and its tank on their way through the dead time.
#[derive(Debug, Clone, Copy)]
pub(super) struct LoneNode {
    /// With its capacitor voltage in the sign of the node.
    pub(super) tank: HeldTank,
    /// Out of the node.
    pub(super) currents: TankCurrents,
    /// E.
    pub(super) interval: f64,
    /// C, from the node to all that stands still, in farad.
    pub(super) capacitance: f64,
    /// w.
    pub(super) weight: f64,
    /// S.
    pub(super) node: f64,
    pub(super) hold: Hold,
    /// Through the diode since it last began to conduct, in coulomb.
    pub(super) carried: f64,
    /// Highest voltages across the low and the high switch so far.
    pub(super) highest: [f64; 2],
}

impl LoneNode {
    /// A node that stands at `node` while its switches are off; where the rectifier stands follows from the
    /// currents.
    pub(super) fn new(
        tank: HeldTank,
        currents: TankCurrents,
        node: f64,
        interval: f64,
        capacitance: f64,
    ) -> Self {
        let (hold, highest) = (Hold::Free, [node, interval - node]);
        let (weight, carried) = (1.0, 0.0);
        Self { tank, currents, interval, capacitance, weight, node, hold, carried, highest }
    }

    /// The same, for which another leg moves as its mirror.
    pub(super) fn mirrored(self) -> Self {
        Self { weight: 2.0, ..self }
    }

    /// A tank whose node is held at zero by a switch.
    pub(super) fn at_rest(tank: HeldTank, currents: TankCurrents) -> Self {
        Self { hold: Hold::Switch, ..Self::new(tank, currents, 0.0, 0.0, 1.0) }
    }

    /// Source voltage of the tank.
    pub(super) fn source(&self) -> f64 {
        self.weight * self.node - (self.weight - 1.0) * self.interval
    }

    /// Goes over an event.
    pub(super) fn pass(&mut self, event: LoneEvent) {
        match event {
            LoneEvent::Hit(hold) => {
                self.hold = hold;
                self.settle();
            }
            LoneEvent::Release => (self.hold, self.carried) = (Hold::Free, 0.0),
            LoneEvent::Rectifier => {
                let source = self.source();
                self.tank.change_state(&mut self.currents, source);
            }
        }
    }

    /// Whether a diode conducts where the node touches its rail: its current is not below zero.
    pub(super) fn settle(&mut self) {
        let current = self.currents.tank;
        let negligible = NO_CURRENT * current.abs();
        let touches = TOUCHES * self.interval.abs();
        let rail = match self.hold {
            Hold::Switch => return,
            Hold::Free if self.node <= touches => Hold::LowDiode,
            Hold::Free if self.interval - self.node <= touches => Hold::HighDiode,
            own => own,
        };
        self.hold = match rail.diode_sign() {
            Some(sign) if sign * current > negligible => rail,
            _ => Hold::Free,
        };
        match self.hold {
            Hold::LowDiode => self.node = 0.0,
            Hold::HighDiode => self.node = self.interval,
            Hold::Free | Hold::Switch => self.carried = 0.0,
        }
    }

    /// A voltage so far beyond a rail counts as none.
    pub(super) fn no_voltage(&self) -> f64 {
        NO_VOLTAGE * self.interval.abs()
    }

    /// Keeps the highest voltages across the switches where the node stands there.
    pub(super) fn note_highest(&mut self, node: f64) {
        let [low, high] = &mut self.highest;
        (*low, *high) = (low.max(node), high.max(self.interval - node));
    }
}
