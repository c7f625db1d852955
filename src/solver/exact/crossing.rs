//! The first instant at which a signal plus a straight line comes down to zero.
//!
//! Rectifier events are of this kind. The zeros of the second derivative are known in closed form.
//! Between them the function is convex or concave. Newton's iteration, started on the right side,
//! then converges to the first root and never steps over it. So no event is missed, however short,
//! and none is found twice. Halley's longer steps shorten the way where they too stay on it.
//!
//! An iteration before often tells about where the crossing is. The search then starts there. The
//! signs of slope and curvature at both ends tell whether another crossing can lie before it.

use std::f64::consts::PI;

use super::ring::{Basis, Instant, Ring, Signal};

/// More iterations than the slowest case, a double root, needs.
const MAX_ITERATIONS: usize = 80;
/// Length of a step, in radians of the ring and against the curvature, after which Halley's cubic
/// convergence leaves no error that double precision can hold.
const LAST_STEP: f64 = 1e-5;

/// `g(t) = signal(t) + offset + slope · t`.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct Descent<'a> {
    pub(in crate::solver) ring: &'a Ring,
    pub(in crate::solver) signal: Signal,
    pub(in crate::solver) offset: f64,
    pub(in crate::solver) slope: f64,
}

/// Where the way of a [`Descent`] ends.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct Passage {
    /// The crossing; without one, the horizon.
    pub(in crate::solver) at: Instant,
    pub(in crate::solver) crossed: bool,
}

/// `g` and its first two derivatives at one instant.
#[derive(Debug, Clone, Copy)]
struct Jet {
    value: f64,
    slope: f64,
    curvature: f64,
}

/// Steps to a root by the tangent and by the osculating hyperbola.
struct Steps {
    newton: f64,
    halley: f64,
    /// Whether nothing is left after Halley's.
    last: bool,
}

impl Jet {
    fn steps(&self, omega: f64) -> Steps {
        let newton = -self.value / self.slope;
        let bend = 0.5 * newton * self.curvature / self.slope;
        let last = bend.abs() < LAST_STEP && newton.abs() * omega < LAST_STEP;
        let halley = if bend > -0.5 { newton / (1.0 + bend) } else { newton };
        Steps { newton, halley, last }
    }
}

impl Descent<'_> {
    /// The first `t` in (0, horizon] with `g(t) ≤ 0`, for a `g` that is not negative at the start.
    ///
    /// A start on zero with `g` rising, or curving upward, is no crossing, whatever rounding makes
    /// of a slope of zero. Else the rectifier would switch without end where the winding voltage
    /// only just touches the clamp.
    ///
    /// `hint` is about where the crossing is expected, if it is; only the time that the search
    /// takes depends on it.
    pub(in crate::solver) fn first_crossing(&self, horizon: f64, hint: Option<f64>) -> Passage {
        let rates = Rates::new(self);
        let touching = self.touches(rates.first);
        let expected = hint.filter(|_| !touching).and_then(|t| self.polish(&rates, t, horizon));
        if let Some(at) = expected {
            let jet = self.jet(&rates, at);
            if jet.slope < 0.0 && self.stays_above(&rates, &jet, at.t) {
                return Passage { at, crossed: true };
            }
        }
        self.search(&rates, touching, self.instant(horizon))
    }

    /// The same up to an instant that is given with its basis functions.
    pub(in crate::solver) fn first_crossing_before(&self, horizon: Instant) -> Passage {
        let rates = Rates::new(self);
        self.search(&rates, self.touches(rates.first), horizon)
    }

    /// The crossing of a `g` that comes down to zero before this instant, once, and is below it there.
    pub(in crate::solver) fn only_crossing_before(&self, end: Instant) -> Instant {
        let rates = Rates::new(self);
        let start = Instant { t: 0.0, basis: Basis { c: 1.0, s: 0.0 } };
        let step = self.jet(&rates, start).steps(self.ring.omega()).halley;
        let is_inside = step > 0.0 && step < end.t;
        let from = if is_inside { self.ring.moved(start, step) } else { end };
        self.close_in(&rates, [0.0, end.t], from)
    }

    /// The first crossing by a search from the start; `touching` tells whether that is at zero.
    fn search(&self, rates: &Rates, mut touching: bool, horizon: Instant) -> Passage {
        if !touching {
            let jet = self.jet(rates, horizon);
            if jet.value > 0.0 && self.stays_above(rates, &jet, horizon.t) {
                return Passage { at: horizon, crossed: false };
            }
        }
        let bend = rates.second;
        let mut convex = if bend.a == 0.0 { bend.b > 0.0 } else { bend.a > 0.0 };
        let mut from = Instant { t: 0.0, basis: Basis { c: 1.0, s: 0.0 } };
        let mut zeros = self.ring.zeros(bend);
        loop {
            let next = zeros.next().filter(|t| *t < horizon.t);
            let to = next.map_or(horizon, |t| self.instant(t));
            let crossing = if !convex {
                (self.value(to) <= 0.0).then(|| self.backward(rates, from.t, to))
            } else if touching || rates.first.at(from.basis) + self.slope >= 0.0 {
                None
            } else {
                self.forward(rates, from, to.t)
            };
            if let Some(at) = crossing {
                return Passage { at, crossed: true };
            }
            if to.t >= horizon.t {
                return Passage { at: to, crossed: false };
            }
            from = to;
            convex = !convex;
            touching = false;
        }
    }

    fn instant(&self, t: f64) -> Instant {
        self.ring.instant(t)
    }

    /// `g` at an instant.
    pub(in crate::solver) fn value(&self, at: Instant) -> f64 {
        self.signal.at(at.basis) + self.offset + self.slope * at.t
    }

    fn jet(&self, rates: &Rates, at: Instant) -> Jet {
        Jet {
            value: self.value(at),
            slope: rates.first.at(at.basis) + self.slope,
            curvature: rates.second.at(at.basis),
        }
    }

    /// Whether value and slope at the start are both zero but for rounding.
    fn touches(&self, rate: Signal) -> bool {
        let size = self.signal.a.abs() + self.offset.abs();
        let pace = (self.ring.omega() + self.ring.alpha()) * size + self.slope.abs();
        (self.signal.a + self.offset).abs() <= 1e-14 * size
            && (rate.a + self.slope).abs() <= 1e-12 * pace
    }

    /// Halley's steps from a point near a root; `None` unless they are short and inside.
    fn polish(&self, rates: &Rates, from: f64, horizon: f64) -> Option<Instant> {
        let mut now = self.instant(from);
        for _ in 0..4 {
            let steps = self.jet(rates, now).steps(self.ring.omega());
            now = self.ring.moved(now, steps.halley);
            if !(now.t > 0.0 && now.t <= horizon) {
                return None;
            }
            if steps.last {
                return Some(now);
            }
        }
        None
    }

    /// Whether g, not negative at 0 and at `t`, is certainly not negative in between. A concave piece lies above its
    /// chord, a convex one above its tangents. Zeros of the curvature lie half a turn apart: with equal signs at both
    /// ends there is none in less than half a turn, with unequal ones just one in less than a whole turn.
    fn stays_above(&self, rates: &Rates, end: &Jet, t: f64) -> bool {
        let (rising, falling) = (rates.first.a + self.slope >= 0.0, end.slope <= 0.0);
        let angle = self.ring.omega() * t;
        match (rates.second.a < 0.0, end.curvature < 0.0) {
            (true, true) => angle < PI,
            (true, false) => falling && angle < 2.0 * PI,
            (false, true) => rising && angle < 2.0 * PI,
            (false, false) => (rising || falling) && angle < PI,
        }
    }

    /// From the start of a convex, falling piece. Every tangent meets zero before g does. If the
    /// slope becomes positive, g does not meet zero. Halley's step is taken where g still falls
    /// after it: then no root has been left behind that a tangent would not lead back to.
    fn forward(&self, rates: &Rates, from: Instant, limit: f64) -> Option<Instant> {
        let (mut now, mut jet) = (from, self.jet(rates, from));
        for _ in 0..MAX_ITERATIONS {
            let steps = jet.steps(self.ring.omega());
            if steps.newton.abs() <= 2.0 * f64::EPSILON * limit {
                return Some(now);
            }
            let ahead = self.ring.moved(now, steps.halley);
            if steps.last {
                return (ahead.t <= limit).then_some(ahead);
            }
            let jet_ahead = self.jet(rates, ahead);
            if ahead.t <= limit && jet_ahead.slope < 0.0 {
                (now, jet) = (ahead, jet_ahead);
                continue;
            }
            now = self.ring.moved(now, steps.newton);
            if now.t > limit {
                return None;
            }
            jet = self.jet(rates, now);
            if jet.slope >= 0.0 {
                return (jet.value <= 0.0).then_some(now);
            }
        }
        Some(now)
    }

    /// From the end of a piece at which g, not negative at its begin, is below zero: it comes down to zero once.
    fn backward(&self, rates: &Rates, from: f64, to: Instant) -> Instant {
        self.close_in(rates, [from, to.t], to)
    }

    /// Closes in on the one zero between two times, from a point between.
    fn close_in(&self, rates: &Rates, [mut low, mut high]: [f64; 2], from: Instant) -> Instant {
        let mut now = from;
        let fine = 2.0 * f64::EPSILON * high;
        for _ in 0..MAX_ITERATIONS {
            let jet = self.jet(rates, now);
            if jet.value > 0.0 {
                low = now.t;
            } else {
                high = now.t;
            }
            let steps = jet.steps(self.ring.omega());
            // Rounding alone makes a step where none is left.
            if !(steps.newton.abs() > fine && high - low > fine) {
                return now;
            }
            let inside = |step: &f64| low < now.t + step && now.t + step < high;
            let step = [steps.halley, steps.newton].into_iter().find(inside);
            now = match step {
                Some(step) => self.ring.moved(now, step),
                None => self.instant(0.5 * (low + high)),
            };
            if steps.last {
                return now;
            }
        }
        now
    }
}

/// The signal's first and second derivatives.
struct Rates {
    first: Signal,
    second: Signal,
}

impl Rates {
    fn new(g: &Descent) -> Self {
        let first = g.ring.derivative(g.signal);
        Self { first, second: g.ring.derivative(first) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn crossing(g: &Descent, horizon: f64) -> Option<f64> {
        let passage = g.first_crossing(horizon, None);
        passage.crossed.then_some(passage.at.t)
    }

    /// A plain scan, then bisection.
    fn scan(g: &Descent, horizon: f64) -> Option<f64> {
        let steps = 40_000;
        let at = |n: i32| horizon * f64::from(n) / f64::from(steps);
        let value = |t: f64| g.value(g.instant(t));
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
            match (crossing(&g, horizon), scan(&g, horizon)) {
                (Some(t), Some(s)) => prop_assert!((t - s).abs() < 1e-9, "{t} against {s}"),
                (None, None) => {}
                // A dip between two points of the scan is seen by the exact search alone.
                (Some(t), None) => {
                    prop_assert!(g.value(g.instant(t)).abs() < 1e-9);
                    prop_assert!(g.value(g.instant(t + 1e-4)) > -1e-6);
                }
                (None, Some(s)) => prop_assert!(false, "missed the crossing at {s}"),
            }
        }
    }

    proptest! {
        #[test]
        fn a_hint_changes_nothing(
            r in 0.0..4.0_f64, a in -2.0..2.0_f64, b in -2.0..2.0_f64,
            start in 1e-3..1.0_f64, slope in -0.5..0.5_f64, horizon in 0.1..12.0_f64,
            hint in 0.0..12.0_f64,
        ) {
            let ring = Ring::new(1.0, 1.0, r);
            let g = Descent { ring: &ring, signal: Signal { a, b }, offset: start - a, slope };
            let (plain, hinted) = (crossing(&g, horizon), g.first_crossing(horizon, Some(hint)));
            prop_assert_eq!(plain.is_some(), hinted.crossed);
            prop_assert!((plain.unwrap_or(horizon) - hinted.at.t).abs() < 1e-7);
        }
    }

    #[test]
    fn a_dip_of_a_millionth_is_found() {
        let ring = Ring::new(1.0, 1.0, 0.0);
        // 1 + 1e-6·(−1) − … : cos(t) + 1 − 1e-12 touches zero near π for about 2.8 µs.
        let signal = Signal { a: 1.0, b: 0.0 };
        let g = Descent { ring: &ring, signal, offset: 1.0 - 1e-12, slope: 0.0 };
        let t = crossing(&g, 4.0).unwrap();
        assert!((t - (std::f64::consts::PI - 2f64.sqrt() * 1e-6)).abs() < 1e-8);
    }

    #[test]
    fn a_start_touching_that_rises_is_no_crossing() {
        let ring = Ring::new(1.0, 1.0, 0.0);
        let g = Descent { ring: &ring, signal: Signal { a: 0.0, b: 1.0 }, offset: 0.0, slope: 0.0 };
        let t = crossing(&g, 4.0).unwrap();
        assert!((t - std::f64::consts::PI).abs() < 1e-12);
        assert!(crossing(&g, 3.0).is_none());
    }
}
