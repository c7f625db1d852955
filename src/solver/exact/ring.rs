//! The damped oscillator that a tank is between two rectifier events.
//!
//! With inductance L, resistance R and capacitance C in series and net voltage u,
//!
//! ```text
//! L i' = u − R i        u' = −i / C
//! α = R / (2L)          ω² = 1/(LC) − α²
//! ```
//!
//! every signal of the circuit is `y(t) = a·c(t) + b·s(t)`, where `c = e^(−αt) cos ωt` and
//! `s = e^(−αt) sin(ωt)/ω`, with cosh and sinh when ω² < 0 and `s = t e^(−αt)` when ω = 0.
//! (Any text on linear circuits; here the forms of a driven RLC series circuit.)

use std::f64::consts::PI;

/// Below this |ω t|² cosine and sine are taken from their series.
const SERIES_LIMIT: f64 = 0.25;

/// Exponent after which what decays is below rounding.
const FADED: f64 = 40.0;

/// Size of an exponent up to which eight terms of the series do.
const SHORT_DECAY: f64 = 0.03;

/// `e^(−x)` for x > −0.03. In a tank worth building little is lost in a stretch: then eight terms of the
/// series do, taken in pairs so that a processor works on several at once.
fn decay(x: f64) -> f64 {
    if x > SHORT_DECAY {
        return libm::exp(-x);
    }
    let y = x * x;
    let pair = |n: f64, next: f64| n - next * x;
    let low = pair(1.0, 1.0) + y * pair(1.0 / 2.0, 1.0 / 6.0);
    let high = pair(1.0 / 24.0, 1.0 / 120.0) + y * pair(1.0 / 720.0, 1.0 / 5040.0);
    low + y * y * high
}

/// `cos x` and `sin x/x` of a small x² or, where that is negative, `cosh` and `sinh` of √(−x²): their series
/// to x¹⁴, in pairs. What is left is below a tenth of a rounding.
fn cosine_and_sine(square: f64) -> (f64, f64) {
    let (y, y2) = (square, square * square);
    let pair = |n: f64, next: f64| 1.0 / n - y * (1.0 / next);
    let cos = [pair(1.0, 2.0), pair(24.0, 720.0), pair(40_320.0, 3_628_800.0)];
    let sin = [pair(1.0, 6.0), pair(120.0, 5_040.0), pair(362_880.0, 39_916_800.0)];
    let sum =
        |[low, middle, high]: [f64; 3], last: f64| low + y2 * middle + y2 * y2 * (high + y2 * last);
    (
        sum(cos, pair(479_001_600.0, 87_178_291_200.0)),
        sum(sin, pair(6_227_020_800.0, 1_307_674_368_000.0)),
    )
}

/// Damping and frequency of one series resonant circuit.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct Ring {
    inductance: f64,
    elastance: f64,
    resistance: f64,
    /// α, damping rate, 1/s.
    alpha: f64,
    /// ω², negative when overdamped, 1/s².
    omega_squared: f64,
    /// √|ω²|, rad/s.
    omega: f64,
}

/// The two basis functions at one instant: `c(t)` and `s(t)`.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct Basis {
    pub(in crate::solver) c: f64,
    pub(in crate::solver) s: f64,
}

/// An instant with the ring's basis functions there.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct Instant {
    pub(in crate::solver) t: f64,
    pub(in crate::solver) basis: Basis,
}

/// A signal `a·c(t) + b·s(t)` of a [`Ring`].
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct Signal {
    pub(in crate::solver) a: f64,
    pub(in crate::solver) b: f64,
}

impl Signal {
    /// The same, times a number.
    pub(in crate::solver) fn times(self, factor: f64) -> Self {
        Self { a: factor * self.a, b: factor * self.b }
    }

    pub(in crate::solver) fn at(self, basis: Basis) -> f64 {
        self.a * basis.c + self.b * basis.s
    }
}

impl Ring {
    /// A ring of inductance L in henry, elastance 1/C in 1/farad, resistance R in ohm.
    pub(in crate::solver) fn new(inductance: f64, elastance: f64, resistance: f64) -> Self {
        let alpha = resistance / (2.0 * inductance);
        let omega_squared = elastance / inductance - alpha * alpha;
        let omega = omega_squared.abs().sqrt();
        Self { inductance, elastance, resistance, alpha, omega_squared, omega }
    }

    pub(super) fn inductance(&self) -> f64 {
        self.inductance
    }

    pub(super) fn elastance(&self) -> f64 {
        self.elastance
    }

    pub(super) fn resistance(&self) -> f64 {
        self.resistance
    }

    pub(in crate::solver) fn alpha(&self) -> f64 {
        self.alpha
    }

    pub(in crate::solver) fn omega(&self) -> f64 {
        self.omega
    }

    /// Whether damping is far enough below critical for formulas that divide by ω².
    pub(super) fn is_lightly_damped(&self) -> bool {
        self.alpha < self.omega
    }

    /// `c(t)` and `s(t)`.
    pub(in crate::solver) fn basis(&self, t: f64) -> Basis {
        let square = self.omega_squared * t * t;
        if square.abs() < SERIES_LIMIT {
            let decay = decay(self.alpha * t);
            let (cos, sin) = cosine_and_sine(square);
            return Basis { c: decay * cos, s: decay * t * sin };
        }
        let x = self.omega * t;
        if square > 0.0 {
            let decay = decay(self.alpha * t);
            let (sin, cos) = libm::sincos(x);
            Basis { c: decay * cos, s: decay * sin / self.omega }
        } else {
            let slow = self.slow_rate();
            let fast = self.alpha + self.omega;
            let (e_slow, e_fast) = (libm::exp(-slow * t), libm::exp(-fast * t));
            Basis {
                c: 0.5 * (e_slow + e_fast),
                s: -e_slow * libm::expm1(-2.0 * x) / (2.0 * self.omega),
            }
        }
    }

    /// An instant after so much time.
    pub(in crate::solver) fn instant(&self, t: f64) -> Instant {
        Instant { t, basis: self.basis(t) }
    }

    /// The instant that lies a step before or after another one. The addition theorems take less than new
    /// basis functions do, where the step is short.
    pub(super) fn moved(&self, from: Instant, step: f64) -> Instant {
        let t = from.t + step;
        let is_short = self.omega_squared.abs() * step * step < SERIES_LIMIT
            && self.alpha * step.abs() < SHORT_DECAY;
        if !is_short {
            return self.instant(t);
        }
        let (by, Basis { c, s }) = (self.basis(step), from.basis);
        let basis = Basis { c: c * by.c - self.omega_squared * s * by.s, s: s * by.c + c * by.s };
        Instant { t, basis }
    }

    /// The current that starts at `i` with net voltage `u`.
    pub(in crate::solver) fn current(&self, i: f64, u: f64) -> Signal {
        Signal { a: i, b: u / self.inductance - self.alpha * i }
    }

    /// The net voltage that starts at `u` with current `i`.
    pub(in crate::solver) fn voltage(&self, i: f64, u: f64) -> Signal {
        Signal { a: u, b: self.alpha * u - self.elastance * i }
    }

    /// The time derivative of a signal, again a signal.
    pub(in crate::solver) fn derivative(&self, y: Signal) -> Signal {
        Signal { a: y.b - self.alpha * y.a, b: -self.omega_squared * y.a - self.alpha * y.b }
    }

    /// The signal as it goes on from a later instant, whose basis is given: y(t + τ) as a signal
    /// in t.
    pub(super) fn shifted(&self, y: Signal, basis: Basis) -> Signal {
        Signal {
            a: y.a * basis.c + y.b * basis.s,
            b: y.b * basis.c - self.omega_squared * y.a * basis.s,
        }
    }

    /// Fastest rate of change: of the decay and of the turn together, 1/s.
    pub(super) fn pace(&self) -> f64 {
        self.alpha + self.omega
    }

    /// Half turns in a time: as many zeros has a signal, but for one. Of a ring that does not turn,
    /// as many as its slow decay would make.
    pub(super) fn half_turns(&self, t: f64) -> f64 {
        let rate = if self.omega_squared > 0.0 { self.omega } else { self.slow_rate() };
        rate * t / PI
    }

    /// The slow rate of an overdamped ring, α − ω, without the cancellation of its two large terms.
    fn slow_rate(&self) -> f64 {
        self.elastance / self.inductance / (self.alpha + self.omega)
    }

    /// When the fast decay of an overdamped ring is over; none where it has no fast one.
    pub(super) fn fading(&self) -> Option<f64> {
        (self.omega_squared < 0.0).then(|| FADED / self.pace())
    }

    /// Fastest rate of change once the fast decay is over, 1/s.
    pub(super) fn pace_after_fading(&self) -> f64 {
        if self.omega_squared < 0.0 { self.slow_rate() } else { self.pace() }
    }

    /// The zeros of a signal after t = 0, in order.
    pub(in crate::solver) fn zeros(&self, y: Signal) -> Zeros {
        if self.omega_squared > 0.0 {
            let angle = libm::atan2(y.a, -y.b / self.omega);
            // Into (0, π]: a zero at the start itself does not count.
            let angle = if angle <= 0.0 { angle + PI } else { angle };
            return Zeros { next: angle / self.omega, step: PI / self.omega };
        }
        let ratio = -y.a / y.b;
        let x = ratio * self.omega;
        let next = if x > 1e-8 && x < 1.0 {
            libm::atanh(x) / self.omega
        } else if x <= 1e-8 && ratio > 0.0 {
            ratio
        } else {
            f64::INFINITY
        };
        Zeros { next, step: f64::INFINITY }
    }
}

/// The instants at which a signal crosses zero: the first, then one every half turn of the ring;
/// an overdamped signal has at most one.
#[derive(Debug, Clone)]
pub(in crate::solver) struct Zeros {
    next: f64,
    step: f64,
}

impl Iterator for Zeros {
    type Item = f64;

    fn next(&mut self) -> Option<f64> {
        let now = self.next;
        self.next += self.step;
        now.is_finite().then_some(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rings from undamped through critical to heavily overdamped.
    fn rings() -> Vec<Ring> {
        [0.0, 0.3, 1.999_999_9, 2.0, 2.000_000_1, 3.0, 60.0]
            .into_iter()
            .map(|r| Ring::new(1.0, 1.0, r))
            .collect()
    }

    /// The general-purpose matrix exponential of nalgebra, of the same two equations.
    #[test]
    fn closed_form_agrees_with_the_matrix_exponential() {
        for ring in rings() {
            for t in [1e-6, 0.1, 1.0, 2.5, 7.0] {
                let m = nalgebra::Matrix2::new(-ring.resistance, 1.0, -1.0, 0.0) * t;
                let x = m.exp() * nalgebra::Vector2::new(0.7, -0.4);
                let basis = ring.basis(t);
                let i = ring.current(0.7, -0.4).at(basis);
                let u = ring.voltage(0.7, -0.4).at(basis);
                assert!((i - x[0]).abs() < 2e-13, "i, R = {}, t = {t}", ring.resistance);
                assert!((u - x[1]).abs() < 2e-13, "u, R = {}, t = {t}", ring.resistance);
            }
        }
    }

    #[test]
    fn zeros_are_zeros_and_none_is_missed() {
        for ring in rings() {
            for (i, u) in [(1.0, -2.0), (-0.3, 5.0), (1.0, 1.0), (0.0, 1.0)] {
                let y = ring.current(i, u);
                let found: Vec<f64> = ring.zeros(y).take_while(|t| *t < 12.0).collect();
                for t in &found {
                    let value = y.at(ring.basis(*t));
                    // Near critical damping b/ω is large, and so is its rounding.
                    assert!(value.abs() < 1e-11, "{value:e} at {t}, {ring:?}, i = {i}, u = {u}");
                }
                let steps = 120_000;
                let value = |n: i32| y.at(ring.basis(12.0 * f64::from(n) / f64::from(steps)));
                let seen = (1..steps).filter(|n| value(*n) * value(n + 1) < 0.0).count();
                assert_eq!(found.len(), seen, "R = {}, i = {i}, u = {u}", ring.resistance);
            }
        }
    }

    /// Steps both ways, short and long, against the basis functions themselves.
    #[test]
    fn moved_instant_has_its_basis() {
        for ring in rings() {
            for (t, step) in
                [(0.3, 0.4), (2.0, -0.1), (1.0, 1e-9), (1.0, 3.0), (0.6, -0.02), (4.0, 0.0)]
            {
                let moved = ring.moved(ring.instant(t), step);
                let direct = ring.basis(t + step);
                assert!((moved.t - t - step).abs() < 1e-15, "{t} {step}");
                assert!((moved.basis.c - direct.c).abs() < 1e-14, "{t} {step} {ring:?}");
                assert!((moved.basis.s - direct.s).abs() < 1e-14, "{t} {step} {ring:?}");
            }
        }
    }

    /// The addition theorems of sine and cosine.
    #[test]
    fn shifted_signal_goes_on_where_it_was() {
        for ring in rings() {
            let y = ring.current(0.7, -0.4);
            for (t, later) in [(0.0, 0.3), (0.2, 0.0), (1.1, 0.8)] {
                let on = ring.shifted(y, ring.basis(t)).at(ring.basis(later));
                assert!((on - y.at(ring.basis(t + later))).abs() < 1e-13);
            }
        }
    }

    #[test]
    fn derivative_agrees_with_the_differential_equation() {
        for ring in rings() {
            let (i, u) = (ring.current(0.7, -0.4), ring.voltage(0.7, -0.4));
            let basis = ring.basis(1.3);
            let rate = ring.derivative(i).at(basis);
            assert!((rate - (u.at(basis) - ring.resistance * i.at(basis))).abs() < 1e-12);
        }
    }
}
