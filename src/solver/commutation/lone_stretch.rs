//! A stretch of a lone node's dead time, in which no diode and no rectifier changes its state.
//!
//! A free node and its tank are a damped oscillator. A tank on a node that is held is an inductance with
//! resistance on a constant voltage.

use super::first_crossing::{Way, first_below};
use super::leg::NO_CURRENT;
use super::lone_node::{Hold, LoneEvent, LoneNode};
use crate::solver::exact::Ring;

/// Longest stretch of a node that rings, in radian: it turns once at most.
const LONGEST: f64 = 2.0;

/// Where a stretch ends.
pub(super) struct LoneEnd {
    /// From its begin.
    pub(super) time: f64,
    pub(super) event: Option<LoneEvent>,
}

/// The tank's current and the voltage on inductance and resistance, u.
#[derive(Clone, Copy)]
struct Signals {
    current: f64,
    voltage: f64,
}

/// How the tank moves.
enum Course {
    /// With its node.
    Free(Ring),
    /// On a constant voltage.
    Held,
}

/// The most that signals and their derivatives can come to, by the energy of the oscillator, which falls.
struct Most {
    /// i, i′, i″ and i‴.
    current: [f64; 4],
    /// u″.
    voltage_bend: f64,
}

/// A stretch from where a node is.
pub(super) struct LoneStretch<'a> {
    from: &'a LoneNode,
    inductance: f64,
    /// Its reciprocal.
    per_inductance: f64,
    /// −R/L.
    rate: f64,
    /// At the begin.
    start: Signals,
    course: Course,
}

impl<'a> LoneStretch<'a> {
    pub(super) fn begin(from: &'a LoneNode) -> Self {
        let rectifier = from.currents.rectifier;
        let inductance = from.tank.inductance(rectifier);
        let voltage = from.source() - from.tank.opposing(rectifier);
        let start = Signals { current: from.currents.tank, voltage };
        let elastance = from.weight / from.capacitance;
        let course = match from.hold {
            Hold::Free => Course::Free(Ring::new(inductance, elastance, from.tank.resistance)),
            Hold::LowDiode | Hold::HighDiode | Hold::Switch => Course::Held,
        };
        let per_inductance = 1.0 / inductance;
        let rate = -from.tank.resistance * per_inductance;
        Self { from, inductance, per_inductance, rate, start, course }
    }

    /// −u′/i.
    fn elastance(&self) -> f64 {
        match &self.course {
            Course::Free(ring) => ring.elastance(),
            Course::Held => 0.0,
        }
    }

    /// i′ = (u − R i)/L.
    fn rise(&self, signals: Signals) -> f64 {
        signals.voltage * self.per_inductance + self.rate * signals.current
    }

    fn at(&self, time: f64) -> Signals {
        let Signals { current, voltage } = self.start;
        match &self.course {
            Course::Free(ring) => {
                let basis = ring.basis(time);
                let alpha = ring.alpha();
                let of =
                    |value: f64, slope: f64| value * basis.c + (slope + alpha * value) * basis.s;
                Signals {
                    current: of(current, self.rise(self.start)),
                    voltage: of(voltage, -ring.elastance() * current),
                }
            }
            Course::Held => {
                let [_, first, _] = self.held_shares(time);
                Signals { current: current + self.rise(self.start) * time * first, voltage }
            }
        }
    }

    /// With x = −R t/L: eˣ, (eˣ − 1)/x, and (eˣ − 1 − x)/x², which current and charge of a held node follow.
    fn held_shares(&self, time: f64) -> [f64; 3] {
        let x = self.rate * time;
        let second = if x > -0.03 {
            // To x⁵/7!: what is left is below 1e-12.
            let pair = |n: f64, next: f64| 1.0 / n + x * (1.0 / next);
            pair(2.0, 6.0) + x * x * (pair(24.0, 120.0) + x * x * pair(720.0, 5040.0))
        } else {
            (libm::expm1(x) - x) / (x * x)
        };
        let first = 1.0 + x * second;
        [1.0 + x * first, first, second]
    }

    /// The node and its tank after a time.
    pub(super) fn after(&self, time: f64) -> LoneNode {
        let mut node = *self.from;
        let signals = self.at(time);
        node.currents.tank = signals.current;
        let slope = node.tank.magnetising_slope(node.currents.rectifier);
        node.currents.magnetising = match node.currents.rectifier {
            0 => signals.current,
            _ => node.currents.magnetising + slope * time,
        };
        match &self.course {
            Course::Free(ring) => {
                node.node += (signals.voltage - self.start.voltage) / node.weight;
                self.note_turn(ring, &mut node, time, signals);
                let now = node.node;
                node.note_highest(now);
            }
            Course::Held => {
                let [_, _, second] = self.held_shares(time);
                let charge = (self.start.current + self.rise(self.start) * time * second) * time;
                node.carried += node.hold.diode_sign().unwrap_or(0.0) * charge;
            }
        }
        node
    }

    /// Keeps where the node turns between begin and end, if it does.
    fn note_turn(&self, ring: &Ring, node: &mut LoneNode, time: f64, end: Signals) {
        let sign = self.start.current;
        if sign * end.current >= 0.0 {
            return;
        }
        let way = Way {
            at: |time: f64| self.at(time).signed(sign, |signals| self.rise(signals)),
            start: self.start.signed(sign, |signals| self.rise(signals)),
            bend: sign.abs() * self.most(ring).current[2],
        };
        if let Some(turn) = first_below(&way, time, 0.0) {
            let change = (self.at(turn.time).voltage - self.start.voltage) / node.weight;
            node.note_highest(self.from.node + change);
        }
    }

    /// Where it ends within a time: at the first event.
    pub(super) fn end(&self, most: f64) -> LoneEnd {
        let mut end = LoneEnd { time: most, event: None };
        match &self.course {
            Course::Free(ring) => {
                if ring.is_underdamped() {
                    end.time = most.min(LONGEST / ring.omega());
                }
                let most = self.most(ring);
                self.meet_hits(&most, ring, &mut end);
                self.meet_rectifier(&most.current, &mut end);
            }
            Course::Held => {
                let rise = self.rise(self.start).abs();
                let rate = -self.rate;
                let current = self.start.current.abs() + most * rise;
                let most = [current, rise, rate * rise, rate * rate * rise];
                self.meet_release(&most, &mut end);
                self.meet_rectifier(&most, &mut end);
            }
        }
        end
    }

    fn most(&self, ring: &Ring) -> Most {
        let (l, k, r) = (self.inductance, ring.elastance(), ring.resistance());
        let Signals { current, voltage } = self.start;
        let admittance = 1.0 / (k * l).sqrt();
        let most_current = voltage.abs() * admittance + current.abs();
        let most_voltage = voltage.abs() + k * l * admittance * current.abs();
        let first = (most_voltage + r * most_current) * self.per_inductance;
        let second = (k * most_current + r * first) * self.per_inductance;
        let third = (k * first + r * second) * self.per_inductance;
        Most { current: [most_current, first, second, third], voltage_bend: k * first }
    }

    fn meet_hits(&self, most: &Most, ring: &Ring, end: &mut LoneEnd) {
        let LoneNode { node, interval, weight, .. } = *self.from;
        for (sign, away, hold) in
            [(1.0, node, Hold::LowDiode), (-1.0, interval - node, Hold::HighDiode)]
        {
            let way = Way {
                at: |time: f64| {
                    let signals = self.at(time);
                    let change = signals.voltage - self.start.voltage;
                    let slope = -ring.elastance() * signals.current;
                    [away + sign * change / weight, sign * slope / weight]
                },
                start: [away, -sign * ring.elastance() * self.start.current / weight],
                bend: most.voltage_bend / weight,
            };
            end.meet(&way, self.from.no_voltage(), LoneEvent::Hit(hold));
        }
    }

    fn meet_release(&self, most: &[f64; 4], end: &mut LoneEnd) {
        let Some(sign) = self.from.hold.diode_sign() else { return };
        let way = Way {
            at: |time: f64| self.at(time).signed(sign, |signals| self.rise(signals)),
            start: self.start.signed(sign, |signals| self.rise(signals)),
            bend: most[2],
        };
        end.meet(&way, NO_CURRENT * most[0], LoneEvent::Release);
    }

    /// With the most that i, i′, i″ and i‴ can be.
    fn meet_rectifier(&self, most: &[f64; 4], end: &mut LoneEnd) {
        let LoneNode { tank, currents, .. } = self.from;
        if currents.rectifier == 0 {
            self.meet_clamp(most[3], end);
            return;
        }
        let (sign, slope) =
            (f64::from(currents.rectifier), tank.magnetising_slope(currents.rectifier));
        let rectified = |signals: Signals, time: f64| {
            let current = signals.current - currents.magnetising - slope * time;
            [sign * current, sign * (self.rise(signals) - slope)]
        };
        let way = Way {
            at: |time: f64| rectified(self.at(time), time),
            start: rectified(self.start, 0.0),
            bend: most[2],
        };
        let negligible = 1e-2 * NO_CURRENT * most[0];
        end.meet(&way, negligible, LoneEvent::Rectifier);
    }

    /// A blocked winding stands at Lm i′, until that is the clamp voltage.
    fn meet_clamp(&self, bend: f64, end: &mut LoneEnd) {
        let tank = &self.from.tank;
        for sign in [1.0, -1.0] {
            let below = |signals: Signals| {
                let rise = self.rise(signals);
                let bends =
                    -self.elastance() * self.per_inductance * signals.current + self.rate * rise;
                let scale = sign * tank.magnetising_inductance;
                [tank.clamp - scale * rise, -scale * bends]
            };
            let way = Way {
                at: |time: f64| below(self.at(time)),
                start: below(self.start),
                bend: tank.magnetising_inductance * bend,
            };
            end.meet(&way, 1e-11 * tank.clamp, LoneEvent::Rectifier);
        }
    }
}

impl Signals {
    /// Current and its slope, of a sign.
    fn signed(self, sign: f64, rise: impl Fn(Self) -> f64) -> [f64; 2] {
        [sign * self.current, sign * rise(self)]
    }
}

impl LoneEnd {
    /// An event that comes first ends it.
    fn meet(&mut self, way: &Way<impl Fn(f64) -> [f64; 2]>, negligible: f64, event: LoneEvent) {
        if let Some(crossing) = first_below(way, self.time, negligible) {
            let event = crossing.is_met.then_some(event);
            *self = Self { time: crossing.time, event };
        }
    }
}
