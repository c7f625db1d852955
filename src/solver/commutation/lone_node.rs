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
use super::lone_stretch::LoneStretch;
use super::tank::{HeldTank, TankCurrents};

/// Stretches after which a dead time is given up: hundreds of times as many as any has taken.
const MOST_STRETCHES: usize = 5000;

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

    /// Goes on for a time. None where that takes too many stretches: nothing is known then.
    pub(super) fn advance(&mut self, time: f64) -> Option<()> {
        self.advance_in_steps(time, 1, |_, _| ())
    }

    /// Goes on for some equal steps of time, and shows itself after each, which count from 0. None where
    /// that takes too many stretches: nothing is known then.
    pub(super) fn advance_in_steps(
        &mut self,
        step: f64,
        steps: usize,
        mut show: impl FnMut(usize, &Self),
    ) -> Option<()> {
        let time = step * steps as f64;
        let (mut passed, mut next) = (0.0, 0);
        self.settle();
        for _ in 0..MOST_STRETCHES {
            let left = time - passed;
            if left <= 1e-12 * time {
                (next..steps).for_each(|n| show(n, self));
                return Some(());
            }
            let stretch = LoneStretch::begin(self);
            let end = stretch.end(left);
            while next < steps && (next + 1) as f64 * step - passed < end.time {
                show(next, &stretch.after((next + 1) as f64 * step - passed));
                next += 1;
            }
            *self = stretch.after(end.time);
            passed += end.time;
            if let Some(event) = end.event {
                self.pass(event);
            }
        }
        None
    }

    fn pass(&mut self, event: LoneEvent) {
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
    fn settle(&mut self) {
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

#[cfg(test)]
mod tests {
    use arrayvec::ArrayVec;
    use proptest::prelude::*;

    use super::super::leg::MovingLeg;
    use super::super::motion::Motion;
    use super::super::nodes::{LegCapacitances, LegNodes};
    use super::*;

    const E: f64 = 100.0;

    /// The same as a chain of one phase, whose tank current is a power series. It is checked against brute force.
    fn general(node: &LoneNode, legs: usize) -> Motion<1> {
        let half = [0.5 * node.capacitance];
        let circuit = LegNodes::chain(1, LegCapacitances { low: half, high: half }, [E]);
        let ends = [(1.0, node.node), (-1.0, E - node.node)];
        let legs =
            ends[..legs].iter().map(|(sign, s)| MovingLeg::new(circuit.clone(), *sign, [*s]));
        Motion::new(ArrayVec::from([node.tank]), ArrayVec::from([node.currents]), legs.collect())
    }

    proptest! {
        /// Lightly and strongly damped tanks, dead times up to some turns of the ring, rectifiers in all states.
        #[test]
        fn moves_as_a_chain_of_one_phase(
            start in prop::sample::select(vec![0.0, 0.4 * E, E]),
            (damping, turns) in (0.0..3.0_f64, 0.1..6.0_f64),
            (current, magnetising) in (-4.0..4.0_f64, -4.0..4.0_f64),
            (holding, clamp) in (-120.0..120.0_f64, 5.0..80.0_f64),
            (blocked, legs) in (any::<bool>(), 1_usize..3),
        ) {
            let (l, c) = (5e-6_f64, 500e-12_f64);
            let tank = HeldTank {
                resonant_inductance: l,
                magnetising_inductance: 6.0 * l,
                resistance: damping * (l / c).sqrt(),
                clamp,
                capacitor_voltage: holding,
            };
            let magnetising = if blocked { current } else { magnetising };
            let currents = TankCurrents { tank: current, magnetising, rectifier: 0 };
            let alone = LoneNode::new(tank, currents, start, E, c);
            let mut alone = if legs == 2 { alone.mirrored() } else { alone };
            alone.currents.rectifier = tank.rectifier(current, magnetising, alone.source());
            let mut together = general(&alone, legs);
            let time = turns * (l * c).sqrt();
            alone.advance(time).unwrap();
            together.advance(time).unwrap();
            let leg = &together.legs[0];
            let now = together.currents[0];
            prop_assert!((alone.node - leg.nodes[0]).abs() < 1e-6 * E, "{} {}", alone.node, leg.nodes[0]);
            prop_assert!((alone.currents.tank - now.tank).abs() < 1e-6, "{}", alone.currents.tank - now.tank);
            prop_assert!((alone.currents.magnetising - now.magnetising).abs() < 1e-6);
            let carried = leg.carried.0.as_flattened().iter().sum::<f64>();
            prop_assert!((alone.carried - carried).abs() < 1e-6 * c * E);
            // The general way keeps heights to a share of a volt.
            for (found, expected) in alone.highest.iter().zip(leg.highest.0.as_flattened()) {
                prop_assert!((found - expected).abs() < 5e-3 * E, "{found} {expected}");
            }
        }
    }
}
