//! The way of a lone node through the dead time, from event to event.

use super::advance::MOST_STRETCHES;
use super::lone_node::LoneNode;
use super::lone_stretch::{LoneEnd, LoneStretch};
use crate::solver::exact::Instant;

/// A lone node at an instant on its way.
pub(super) struct Moment<'a> {
    stretch: &'a LoneStretch<'a>,
    at: Instant,
}

impl Moment<'_> {
    /// The tank's current.
    pub(super) fn current(&self) -> f64 {
        self.stretch.current(self.at)
    }

    /// The node with its tank.
    pub(super) fn node(&self) -> LoneNode {
        self.stretch.after(self.at)
    }
}

impl LoneNode {
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
        mut show: impl FnMut(usize, &Moment),
    ) -> Option<()> {
        let time = step * steps as f64;
        let (mut passed, mut next) = (0.0, 0);
        self.settle();
        for _ in 0..MOST_STRETCHES {
            let stretch = LoneStretch::begin(self);
            let LoneEnd { at: end, event } = stretch.end(time - passed);
            let is_over = event.is_none() || time - passed - end.t <= 1e-12 * time;
            while next < steps {
                let since = (next + 1) as f64 * step - passed;
                let at = if since < end.t {
                    stretch.instant(since)
                } else if is_over {
                    end
                } else {
                    break;
                };
                show(next, &Moment { stretch: &stretch, at });
                next += 1;
            }
            *self = stretch.after(end);
            passed += end.t;
            if let Some(event) = event {
                self.pass(event);
            }
            if is_over {
                return Some(());
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use arrayvec::ArrayVec;
    use proptest::prelude::*;

    use super::super::leg::MovingLeg;
    use super::super::motion::Motion;
    use super::super::nodes::{LegCapacitances, LegNodes};
    use super::super::tank::{HeldTank, TankCurrents};
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
