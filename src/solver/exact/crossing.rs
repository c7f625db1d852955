//! The first instant at which a signal plus a straight line comes down to zero.
//!
//! Rectifier events are of this kind. Between the zeros of its second derivative, which are known
//! in closed form, the function is convex or concave, and Newton's iteration started on the right
//! side converges to the first root without ever stepping over it. So no event is missed, however
//! short, and none is found twice.

use super::ring::{Basis, Ring, Signal};

/// More iterations than the slowest case, a double root, needs.
const MAX_ITERATIONS: usize = 80;

/// `g(t) = signal(t) + offset + slope · t`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Descent<'a> {
    pub(super) ring: &'a Ring,
    pub(super) signal: Signal,
    pub(super) offset: f64,
    pub(super) slope: f64,
}

impl Descent<'_> {
    fn value(&self, basis: Basis, t: f64) -> f64 {
        self.signal.at(basis) + self.offset + self.slope * t
    }

    /// The first `t` in (0, horizon] with `g(t) ≤ 0`, for a `g` that is not negative at the start.
    ///
    /// A start on zero with `g` rising, or turning upward, is no crossing, whatever rounding makes
    /// of a slope that is zero too: where the winding voltage only just touches the clamp, the
    /// rectifier would else switch without end.
    pub(super) fn first_crossing(&self, horizon: f64) -> Option<f64> {
        let rate = self.ring.derivative(self.signal);
        let curvature = self.ring.derivative(rate);
        let mut touching = self.touches(rate);
        let mut convex = if curvature.a == 0.0 { curvature.b > 0.0 } else { curvature.a > 0.0 };
        let (mut from, mut start) = (0.0, Basis { c: 1.0, s: 0.0 });
        for to in self.ring.zeros(curvature).chain([f64::INFINITY]) {
            let to = to.min(horizon);
            let end = self.ring.basis(to);
            if convex {
                let falling = rate.at(start) + self.slope < 0.0;
                if falling
                    && !touching
                    && let Some(t) = self.newton_forward(rate, (from, start), to)
                {
                    return Some(t);
                }
            } else if self.value(end, to) <= 0.0 {
                return Some(self.newton_backward(rate, (to, end), from));
            }
            if to >= horizon {
                return None;
            }
            (from, start) = (to, end);
            convex = !convex;
            touching = false;
        }
        None
    }

    /// Whether value and slope at the start are both zero but for rounding.
    fn touches(&self, rate: Signal) -> bool {
        let size = self.signal.a.abs() + self.offset.abs();
        let pace = (self.ring.omega() + self.ring.alpha()) * size + self.slope.abs();
        (self.signal.a + self.offset).abs() <= 1e-14 * size
            && (rate.a + self.slope).abs() <= 1e-12 * pace
    }

    /// From the start of a convex, falling piece: every tangent meets zero before g does, and a
    /// slope that turns up means that g does not.
    fn newton_forward(&self, rate: Signal, from: (f64, Basis), limit: f64) -> Option<f64> {
        let (mut t, mut basis) = from;
        for _ in 0..MAX_ITERATIONS {
            let value = self.value(basis, t);
            let slope = rate.at(basis) + self.slope;
            if slope >= 0.0 && value > 0.0 {
                return None;
            }
            let step = if slope < 0.0 { -value / slope } else { 0.0 };
            if step <= 2.0 * f64::EPSILON * limit {
                return Some(t);
            }
            t += step;
            if t > limit {
                return None;
            }
            basis = self.ring.basis(t);
        }
        Some(t)
    }

    /// From the end of a concave piece, where g is below zero: every tangent meets zero between
    /// the root and there.
    fn newton_backward(&self, rate: Signal, from: (f64, Basis), limit: f64) -> f64 {
        let (mut t, mut basis) = from;
        let fine = 2.0 * f64::EPSILON * t;
        for _ in 0..MAX_ITERATIONS {
            let step = self.value(basis, t) / (rate.at(basis) + self.slope);
            // Rounding alone makes a step forward, or none at all where the slope vanishes.
            if !(step > fine && t - step > limit) {
                return if step > fine { limit } else { t };
            }
            t -= step;
            basis = self.ring.basis(t);
        }
        t
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A plain scan, then bisection.
    fn scan(g: &Descent, horizon: f64) -> Option<f64> {
        let steps = 40_000;
        let at = |n: i32| horizon * f64::from(n) / f64::from(steps);
        let value = |t: f64| g.value(g.ring.basis(t), t);
        let n = (1..=steps).find(|n| value(at(*n)) <= 0.0)?;
        let (mut low, mut high) = (at(n - 1), at(n));
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if value(middle) > 0.0 { low = middle } else { high = middle }
        }
        Some(high)
    }

    proptest! {
        #[test]
        fn agrees_with_a_scan(
            r in 0.0..4.0_f64, a in -2.0..2.0_f64, b in -2.0..2.0_f64,
            start in 1e-3..1.0_f64, slope in -0.5..0.5_f64, horizon in 0.1..12.0_f64,
        ) {
            let ring = Ring::new(1.0, 1.0, r);
            let g = Descent { ring: &ring, signal: Signal { a, b }, offset: start - a, slope };
            match (g.first_crossing(horizon), scan(&g, horizon)) {
                (Some(t), Some(s)) => prop_assert!((t - s).abs() < 1e-9, "{t} against {s}"),
                (None, None) => {}
                // A dip between two points of the scan is seen by the exact search alone.
                (Some(t), None) => {
                    prop_assert!(g.value(ring.basis(t), t).abs() < 1e-9);
                    prop_assert!(g.value(ring.basis(t + 1e-4), t + 1e-4) > -1e-6);
                }
                (None, Some(s)) => prop_assert!(false, "missed the crossing at {s}"),
            }
        }
    }

    #[test]
    fn a_dip_of_a_millionth_is_found() {
        let ring = Ring::new(1.0, 1.0, 0.0);
        // 1 + 1e-6·(−1) − … : cos(t) + 1 − 1e-12 touches zero near π for about 2.8 µs.
        let signal = Signal { a: 1.0, b: 0.0 };
        let g = Descent { ring: &ring, signal, offset: 1.0 - 1e-12, slope: 0.0 };
        let t = g.first_crossing(4.0).unwrap();
        assert!((t - (std::f64::consts::PI - 2f64.sqrt() * 1e-6)).abs() < 1e-8);
    }

    #[test]
    fn a_start_touching_that_rises_is_no_crossing() {
        let ring = Ring::new(1.0, 1.0, 0.0);
        let g = Descent { ring: &ring, signal: Signal { a: 0.0, b: 1.0 }, offset: 0.0, slope: 0.0 };
        let t = g.first_crossing(4.0).unwrap();
        assert!((t - std::f64::consts::PI).abs() < 1e-12);
        assert!(g.first_crossing(3.0).is_none());
    }
}
