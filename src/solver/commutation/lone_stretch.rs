//! A stretch of a lone node's dead time, in which no diode and no rectifier changes its state.
//!
//! The tank with its node is a damped oscillator ([`Ring`]). A node that is held is one without elastance. Every
//! event is a crossing of such a signal, with a straight line at most.

use std::f64::consts::PI;

use super::leg::NO_CURRENT;
use super::lone_node::{Hold, LoneEvent, LoneNode};
use crate::solver::exact::{Descent, Instant, Ring, Signal};

/// Where a stretch ends.
pub(super) struct LoneEnd {
    /// From its begin.
    pub(super) at: Instant,
    pub(super) event: Option<LoneEvent>,
}

/// A stretch from where a node is.
pub(super) struct LoneStretch<'a> {
    from: &'a LoneNode,
    ring: Ring,
    /// The tank's current.
    current: Signal,
    /// On inductance and resistance, u.
    voltage: Signal,
}

impl<'a> LoneStretch<'a> {
    pub(super) fn begin(from: &'a LoneNode) -> Self {
        let LoneNode { tank, currents, hold, .. } = from;
        let elastance = match hold {
            Hold::Free => from.weight / from.capacitance,
            Hold::LowDiode | Hold::HighDiode | Hold::Switch => 0.0,
        };
        let rectifier = currents.rectifier;
        let ring = Ring::new(tank.inductance(rectifier), elastance, tank.resistance);
        let voltage = from.source() - tank.opposing(rectifier);
        let current = ring.current(currents.tank, voltage);
        let voltage = ring.voltage(currents.tank, voltage);
        Self { from, ring, current, voltage }
    }

    /// An instant so long after the begin.
    pub(super) fn instant(&self, time: f64) -> Instant {
        self.ring.instant(time)
    }

    /// The tank's current at an instant.
    pub(super) fn current(&self, at: Instant) -> f64 {
        self.current.at(at.basis)
    }

    /// Where the node stands at an instant, while it is free.
    fn node(&self, at: Instant) -> f64 {
        let change = self.voltage.at(at.basis) - self.voltage.a;
        self.from.node + change / self.from.weight
    }

    /// The node and its tank at an instant.
    pub(super) fn after(&self, at: Instant) -> LoneNode {
        let mut node = *self.from;
        let current = self.current(at);
        let rectifier = node.currents.rectifier;
        node.currents.magnetising = match rectifier {
            0 => current,
            _ => node.currents.magnetising + node.tank.magnetising_slope(rectifier) * at.t,
        };
        node.currents.tank = current;
        if node.hold == Hold::Free {
            node.node = self.node(at);
            node.note_highest(node.node);
            if !self.keeps_sign(self.current, at) {
                let turns = self.ring.zeros(self.current).take_while(|t| *t < at.t);
                turns.for_each(|t| node.note_highest(self.node(self.instant(t))));
            }
        }
        if let Some(sign) = node.hold.diode_sign() {
            node.carried += sign * self.held_charge(at.t);
        }
        node
    }

    /// Whether a signal does not change its sign up to an instant, for certain: in less than half a turn it has
    /// at most one zero.
    fn keeps_sign(&self, signal: Signal, until: Instant) -> bool {
        signal.a * signal.at(until.basis) > 0.0 && self.ring.omega() * until.t < PI
    }

    /// ∫ i dt of a node that is held: `i t + i′ t² (eˣ − 1 − x)/x²` with x = −R t/L.
    fn held_charge(&self, time: f64) -> f64 {
        let x = -2.0 * self.ring.alpha() * time;
        let share = if x > -0.03 {
            // To x⁵/7!: what is left is below 1e-12.
            let pair = |n: f64, next: f64| 1.0 / n + x * (1.0 / next);
            pair(2.0, 6.0) + x * x * (pair(24.0, 120.0) + x * x * pair(720.0, 5040.0))
        } else {
            (libm::expm1(x) - x) / (x * x)
        };
        let rise = self.ring.derivative(self.current).a;
        (self.current.a + rise * time * share) * time
    }

    /// Where it ends within a time: at the first event.
    pub(super) fn end(&self, most: f64) -> LoneEnd {
        let mut end = LoneEnd { at: self.instant(most), event: None };
        let largest = self.current.a.abs() + most * self.ring.derivative(self.current).a.abs();
        let negligible = NO_CURRENT * largest;
        match self.from.hold {
            Hold::Free => self.meet_rails(&mut end),
            Hold::LowDiode | Hold::HighDiode => {
                let sign = self.from.hold.diode_sign().unwrap_or(0.0);
                self.meet(
                    self.current.times(sign),
                    [negligible, 0.0],
                    LoneEvent::Release,
                    &mut end,
                );
            }
            Hold::Switch => {}
        }
        self.meet_rectifier(1e-2 * negligible, &mut end);
        end
    }

    fn meet_rails(&self, end: &mut LoneEnd) {
        let LoneNode { node, interval, weight, .. } = *self.from;
        for (sign, away, hold) in
            [(1.0, node, Hold::LowDiode), (-1.0, interval - node, Hold::HighDiode)]
        {
            let signal = self.voltage.times(sign / weight);
            let offset = away - signal.a + self.from.no_voltage();
            self.meet(signal, [offset, 0.0], LoneEvent::Hit(hold), end);
        }
    }

    fn meet_rectifier(&self, negligible: f64, end: &mut LoneEnd) {
        let LoneNode { tank, currents, .. } = self.from;
        if currents.rectifier == 0 {
            // A blocked winding stands at Lm i′, until that is the clamp voltage.
            let winding = self.ring.derivative(self.current).times(tank.magnetising_inductance);
            for sign in [1.0, -1.0] {
                let line = [(1.0 + 1e-11) * tank.clamp, 0.0];
                self.meet(winding.times(-sign), line, LoneEvent::Rectifier, end);
            }
            return;
        }
        let sign = f64::from(currents.rectifier);
        let slope = -sign * tank.magnetising_slope(currents.rectifier);
        let line = [negligible - sign * currents.magnetising, slope];
        self.meet(self.current.times(sign), line, LoneEvent::Rectifier, end);
    }

    /// An event that comes first ends it: where a signal on a line, given by offset and slope, falls below zero.
    fn meet(&self, signal: Signal, [offset, slope]: [f64; 2], event: LoneEvent, end: &mut LoneEnd) {
        let event = Some(event);
        if signal.a + offset < 0.0 {
            *end = LoneEnd { at: self.instant(0.0), event };
            return;
        }
        let way = Descent { ring: &self.ring, signal, offset, slope };
        let rate = self.ring.derivative(signal);
        if slope == 0.0 && self.keeps_sign(rate, end.at) {
            if rate.a < 0.0 && way.value(end.at) <= 0.0 {
                *end = LoneEnd { at: way.only_crossing_before(end.at), event };
            }
            return;
        }
        let passage = way.first_crossing_before(end.at);
        if passage.crossed {
            *end = LoneEnd { at: passage.at, event };
        }
    }
}
