//! One half period of one phase, stretch by stretch, with its sensitivities.
//!
//! A stretch lies between two rectifier events. Seen from the source, its state is
//!
//! - `i`, tank current; `im`, magnetising current; `d = i − im`, the current that the rectifier
//!   passes on;
//! - `e`, the voltage of the source less that of the resonant capacitor, `e' = −i/Ce`.
//!
//! conducting with sign s = ±1: `Lr i' = e − s Vp − R i`, `im' = s Vp / Lm`;
//! off: `(Lr + Lm) i' = e − R i`, `im = i`.
//!
//! The derivatives with respect to the state at the start pass every event by implicit
//! differentiation of its time: for an event where g = 0, ∂τ = −(∇g · ∂x)/g'.

use arrayvec::ArrayVec;

use super::crossing::Descent;
use super::ring::{Basis, Instant, Ring, Signal};
use crate::solver::effort::Effort;

/// More stretches than any half period inside a sensible frequency band has.
const MAX_STRETCHES: usize = 200;

/// What one phase is during one half period. Any consistent units.
#[derive(Debug, Clone, Copy)]
pub(super) struct HalfCircuit {
    /// The tank while the rectifier conducts: Lr, 1/Ce, R.
    conducting: Ring,
    /// The tank while it is off: Lr + Lm, 1/Ce, R.
    off: Ring,
    magnetising: f64,
    clamp: f64,
    /// Whether a start without rectifier current takes the slopes just below it.
    below_rest: bool,
}

/// State at the start of a half period, and the unknowns of the steady state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct StartState {
    /// Rectifier current `i − im`.
    pub(super) d: f64,
    /// Magnetising current.
    pub(super) im: f64,
    /// Source less resonant-capacitor voltage.
    pub(super) e: f64,
}

/// Derivatives with respect to the start's (d, im, e).
pub(super) type Gradient = [f64; 3];

/// A quantity at the end of a half period.
#[derive(Debug, Clone, Copy)]
pub(super) struct Final {
    pub(super) value: f64,
    /// With respect to the state at the start.
    pub(super) gradient: Gradient,
    /// With respect to the half period's length.
    pub(super) rate: f64,
}

/// A part of a half period in which the rectifier's state does not change.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    /// +1 or −1: conducting with this sign; 0: off.
    pub(super) sign: i8,
    /// Begin, after the start of the half period.
    pub(super) begin: f64,
    pub(super) duration: f64,
    /// Tank current at the begin.
    pub(super) i: f64,
    /// Magnetising current at the begin.
    pub(super) im: f64,
    /// Net voltage `e − sign·Vp` at the begin.
    pub(super) u: f64,
    /// The basis functions at the end.
    pub(super) end: Basis,
}

/// A half period: its end and the charge it rectified.
#[derive(Debug, Clone, Copy)]
pub(super) struct Half {
    pub(super) d: Final,
    pub(super) im: Final,
    pub(super) e: Final,
    /// Rectified charge, ∫|d| dt.
    pub(super) rectified: Final,
}

/// Rectifier states of a half period with the time to the event that ends each, as far as they
/// are expected: from a solution nearby.
#[derive(Debug, Clone, Default)]
pub(super) struct Hints(ArrayVec<(i8, f64), 4>);

impl Hints {
    /// Expects the events of these stretches of a half period, whose last one no event ends.
    pub(super) fn expect(&mut self, stretches: &[Stretch]) {
        self.0.clear();
        let ended = stretches.split_last().map_or(&[][..], |(_, ended)| ended);
        self.0.extend(ended.iter().take(4).map(|s| (s.sign, s.duration)));
    }

    fn get(&self, n: usize, sign: i8) -> Option<f64> {
        self.0.get(n).filter(|(of, _)| *of == sign).map(|(_, t)| *t)
    }
}

/// With what a half period is followed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Help<'a> {
    /// Where its events are expected.
    pub(super) hints: &'a Hints,
    /// The work that it may take.
    pub(super) effort: &'a Effort<'a>,
}

impl HalfCircuit {
    /// Lr, Lm, 1/Ce, R and the clamp voltage Vp.
    pub(super) fn new(lr: f64, lm: f64, elastance: f64, r: f64, clamp: f64) -> Self {
        Self {
            conducting: Ring::new(lr, elastance, r),
            off: Ring::new(lr + lm, elastance, r),
            magnetising: lm,
            clamp,
            below_rest: false,
        }
    }

    /// The circuit with more series resistance.
    pub(super) fn damped(&self, more: f64) -> Self {
        self.loaded(self.conducting.resistance() + more, self.clamp)
    }

    /// The circuit with another series resistance and clamp voltage.
    pub(super) fn loaded(&self, r: f64, clamp: f64) -> Self {
        let lr = self.conducting.inductance();
        let loaded = Self::new(lr, self.magnetising, self.elastance(), r, clamp);
        Self { below_rest: self.below_rest, ..loaded }
    }

    /// The circuit with another clamp voltage.
    pub(super) fn clamped_at(self, clamp: f64) -> Self {
        Self { clamp, ..self }
    }

    /// Takes the slopes at a start without rectifier current just below it, or as they are.
    pub(super) fn look_below_rest(&mut self, below: bool) {
        self.below_rest = below;
    }

    /// Lr, Lm, R and the clamp voltage.
    pub(super) fn parts(&self) -> [f64; 4] {
        let ring = &self.conducting;
        [ring.inductance(), self.magnetising, ring.resistance(), self.clamp]
    }

    pub(super) fn elastance(&self) -> f64 {
        self.conducting.elastance()
    }

    pub(super) fn ring(&self, sign: i8) -> &Ring {
        if sign == 0 { &self.off } else { &self.conducting }
    }

    /// Slope of the magnetising current while the rectifier conducts.
    pub(super) fn magnetising_slope(&self, sign: i8) -> f64 {
        f64::from(sign) * self.clamp / self.magnetising
    }

    /// Follows the phase over a half period of length `h` from `start`.
    ///
    /// `None` when the rectifier switches more often than [`MAX_STRETCHES`] times, and when the
    /// effort is spent.
    pub(super) fn run(&self, start: StartState, h: f64, effort: &Effort) -> Option<Half> {
        self.trace(start, h, Help { hints: &Hints::default(), effort }, |_| {})
    }

    /// As [`run`](Self::run), helped by hints, and shows every stretch to `see`.
    pub(super) fn trace(
        &self,
        start: StartState,
        h: f64,
        Help { hints, effort }: Help,
        mut see: impl FnMut(Stretch),
    ) -> Option<Half> {
        let mut walk = Walk::new(self, start);
        if self.below_rest && start.d == 0.0 {
            walk.look_below_rest();
        }
        let mut sign = self.first_sign(start);
        for n in 0..MAX_STRETCHES {
            let (left, hint) = (h - walk.elapsed, hints.get(n, sign));
            effort.afford(self.ring(sign).half_turns(left))?;
            let (end, next) = self.next_event(sign, &walk, left, hint);
            effort.spend(1.0 + self.ring(sign).half_turns(end.t))?;
            see(walk.stretch(sign, end));
            let Some(next) = next else { return Some(walk.finish(sign, end)) };
            walk.pass(sign, end);
            sign = if sign == 0 { next } else { self.sign_at_rest(walk.i, walk.e) };
        }
        None
    }

    /// The rectifier's state at the start of a half period.
    fn first_sign(&self, start: StartState) -> i8 {
        if start.d > 0.0 {
            1
        } else if start.d < 0.0 {
            -1
        } else {
            self.sign_at_rest(start.im, start.e)
        }
    }

    /// The rectifier's state when it carries no current: the blocked winding voltage
    /// `vm = Lm (e − R i)/(Lr + Lm)` decides.
    fn sign_at_rest(&self, i: f64, e: f64) -> i8 {
        let winding = self.winding_factor() * (e - self.off.resistance() * i);
        if winding > self.clamp {
            1
        } else if winding < -self.clamp {
            -1
        } else {
            0
        }
    }

    fn winding_factor(&self) -> f64 {
        self.magnetising / self.off.inductance()
    }

    /// The next rectifier event and the sign after an off stretch; without an event within
    /// `left`, that instant.
    fn next_event(
        &self,
        sign: i8,
        walk: &Walk,
        left: f64,
        hint: Option<f64>,
    ) -> (Instant, Option<i8>) {
        if sign != 0 {
            let s = f64::from(sign);
            let current = self.conducting.current(s * walk.i, s * (walk.e - s * self.clamp));
            let g = Descent {
                ring: &self.conducting,
                signal: current,
                offset: -s * walk.im,
                slope: -self.clamp / self.magnetising,
            };
            let passage = g.first_crossing(left, hint);
            return (passage.at, passage.crossed.then_some(0));
        }
        let winding = self.winding_voltage(walk.i, walk.e);
        let reach = winding.a.powi(2) + (winding.b / self.off.omega()).powi(2);
        if self.off.is_lightly_damped() && reach < self.clamp.powi(2) {
            return (self.off.instant(left), None);
        }
        let end = self.off.instant(left);
        let reaching = |sign: i8| {
            let s = f64::from(sign);
            let signal = Signal { a: -s * winding.a, b: -s * winding.b };
            let g = Descent { ring: &self.off, signal, offset: self.clamp, slope: 0.0 };
            g.first_crossing_before(end)
        };
        let (up, down) = (reaching(1), reaching(-1));
        if up.crossed && (!down.crossed || up.at.t <= down.at.t) {
            (up.at, Some(1))
        } else {
            (down.at, down.crossed.then_some(-1))
        }
    }

    /// The blocked winding's voltage over an off stretch.
    fn winding_voltage(&self, i: f64, e: f64) -> Signal {
        let (voltage, current) = (self.off.voltage(i, e), self.off.current(i, e));
        let (f, r) = (self.winding_factor(), self.off.resistance());
        Signal { a: f * (voltage.a - r * current.a), b: f * (voltage.b - r * current.b) }
    }
}

/// The state on the way through a half period, with its sensitivities.
struct Walk<'a> {
    circuit: &'a HalfCircuit,
    elapsed: f64,
    i: f64,
    im: f64,
    e: f64,
    rectified: f64,
    i_grad: Gradient,
    im_grad: Gradient,
    e_grad: Gradient,
    rectified_grad: Gradient,
    /// Of the time elapsed.
    elapsed_grad: Gradient,
}

/// State, rates and sensitivities at the end of a stretch of fixed duration.
struct Arrival {
    i: f64,
    im: f64,
    e: f64,
    i_rate: f64,
    im_rate: f64,
    e_rate: f64,
    i_grad: Gradient,
    im_grad: Gradient,
    e_grad: Gradient,
}

fn combine(x: f64, a: &Gradient, y: f64, b: &Gradient) -> Gradient {
    std::array::from_fn(|n| x * a[n] + y * b[n])
}

impl<'a> Walk<'a> {
    fn new(circuit: &'a HalfCircuit, start: StartState) -> Self {
        Self {
            circuit,
            elapsed: 0.0,
            i: start.d + start.im,
            im: start.im,
            e: start.e,
            rectified: 0.0,
            i_grad: [1.0, 1.0, 0.0],
            im_grad: [0.0, 1.0, 0.0],
            e_grad: [0.0, 0.0, 1.0],
            rectified_grad: [0.0; 3],
            elapsed_grad: [0.0; 3],
        }
    }

    /// The sensitivities to a rectifier current just below zero, for a start without any.
    ///
    /// The state has a kink there. Below it the rectifier first conducts with sign −1, against the
    /// rising source, until its current is back at zero after τ = −d/d'. This side counts where
    /// conduction only just lasts beyond the switching instant. On the slopes of the other side
    /// Newton's iteration would jump to and fro without end.
    fn look_below_rest(&mut self) {
        let (tank, clamp) = (&self.circuit.conducting, self.circuit.clamp);
        let fall = clamp / self.circuit.magnetising;
        let rate = (self.e + clamp - tank.resistance() * self.i) / tank.inductance() + fall;
        if rate > 0.0 {
            self.elapsed_grad[0] = -1.0 / rate;
            self.im_grad[0] = fall / rate;
            self.i_grad[0] = self.im_grad[0];
            self.e_grad[0] = tank.elastance() * self.i / rate;
        }
    }

    fn stretch(&self, sign: i8, end: Instant) -> Stretch {
        let u = self.e - f64::from(sign) * self.circuit.clamp;
        let (duration, end) = (end.t, end.basis);
        Stretch { sign, begin: self.elapsed, duration, i: self.i, im: self.im, u, end }
    }

    /// The end of a stretch of fixed duration; adds what it rectified.
    fn arrive(&mut self, sign: i8, Instant { t: duration, basis: end }: Instant) -> Arrival {
        let (circuit, s) = (self.circuit, f64::from(sign));
        let ring = circuit.ring(sign);
        let (l, k, r, alpha) =
            (ring.inductance(), ring.elastance(), ring.resistance(), ring.alpha());
        let u = self.e - s * circuit.clamp;
        let i = ring.current(self.i, u).at(end);
        let u_end = ring.voltage(self.i, u).at(end);
        let (c, sn) = (end.c, end.s);
        let i_grad = combine(c - alpha * sn, &self.i_grad, sn / l, &self.e_grad);
        let e_grad = combine(-k * sn, &self.i_grad, c + alpha * sn, &self.e_grad);
        let (i_rate, e_rate) = ((u_end - r * i) / l, -k * i);
        let e = u_end + s * circuit.clamp;
        if sign == 0 {
            let (im, im_rate, im_grad) = (i, i_rate, i_grad);
            return Arrival { i, im, e, i_rate, im_rate, e_rate, i_grad, im_grad, e_grad };
        }
        let im_rate = circuit.magnetising_slope(sign);
        let drawn = (u - u_end) / k - duration * (self.im + 0.5 * im_rate * duration);
        self.rectified += s * drawn;
        let charge_grad = combine(1.0 / k, &self.e_grad, -1.0 / k, &e_grad);
        let drawn_grad = combine(1.0, &charge_grad, -duration, &self.im_grad);
        self.rectified_grad = combine(1.0, &self.rectified_grad, s, &drawn_grad);
        let (im, im_grad) = (self.im + im_rate * duration, self.im_grad);
        Arrival { i, im, e, i_rate, im_rate, e_rate, i_grad, im_grad, e_grad }
    }

    /// Goes over the event that ends a stretch.
    fn pass(&mut self, sign: i8, end: Instant) {
        let at = self.arrive(sign, end);
        let shift = if sign == 0 {
            let r = self.circuit.off.resistance();
            let fall = combine(1.0, &at.e_grad, -r, &at.i_grad);
            let rate = at.e_rate - r * at.i_rate;
            fall.map(|v| -v / rate)
        } else {
            let rate = at.i_rate - at.im_rate;
            std::array::from_fn(|n| -(at.i_grad[n] - at.im_grad[n]) / rate)
        };
        self.elapsed += end.t;
        self.elapsed_grad = combine(1.0, &self.elapsed_grad, 1.0, &shift);
        self.im = at.im;
        self.e = at.e;
        self.im_grad = combine(1.0, &at.im_grad, at.im_rate, &shift);
        self.e_grad = combine(1.0, &at.e_grad, at.e_rate, &shift);
        // The event is where both currents meet: set equal, so that rounding leaves no rest.
        self.i = self.im;
        self.i_grad = self.im_grad;
    }

    /// Ends the half period: the last stretch is what the events have left of its length.
    fn finish(mut self, sign: i8, end: Instant) -> Half {
        let at = self.arrive(sign, end);
        let shift = self.elapsed_grad;
        let settle = |value: f64, gradient: &Gradient, rate: f64| Final {
            value,
            gradient: combine(1.0, gradient, -rate, &shift),
            rate,
        };
        let d_grad = std::array::from_fn(|n| at.i_grad[n] - at.im_grad[n]);
        let d = at.i - at.im;
        Half {
            d: settle(d, &d_grad, at.i_rate - at.im_rate),
            im: settle(at.im, &at.im_grad, at.im_rate),
            e: settle(at.e, &at.e_grad, at.e_rate),
            rectified: settle(self.rectified, &self.rectified_grad, f64::from(sign) * d),
        }
    }
}
