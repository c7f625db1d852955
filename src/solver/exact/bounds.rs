//! Upper bounds of what loads the switches, from a followed period: a tenth of the work of integrals and peaks.
//!
//! Within a stretch every signal is the real part of `A e^((−α + jω)t)`. It never exceeds |A| from the begin
//! on, and its rate never exceeds |A| √(α² + ω²). That bounds peaks and charges without looking for zeros.
//!
//! Two phases of a chain differ little. Where their half periods have the same stretches, the difference of
//! their currents in one of them is at most
//!
//! ```text
//! |A − B| + |B| (|Δα| + |Δω|) T + |B| ω₀ |Δt|
//! ```
//!
//! with T the longer duration and Δt the difference of the begins, because |e^x − e^y| ≤ |x − y| for real
//! parts of zero and below. Between an event of one phase and that of the other the difference can grow by
//! no more than both rates times the time between.

use std::f64::consts::PI;

use super::difference::CurrentIntegrals;
use super::half::{HalfCircuit, Stretch};
use super::ring::{Ring, Signal};
use super::waveform::{Integrals, Rectified, Wave};

/// A signal of a lightly damped ring as `A e^((−α + jω)t)`: the real part of A and the negative of its
/// imaginary part.
#[derive(Debug, Clone, Copy)]
struct Phasor {
    cosine: f64,
    sine: f64,
}

impl Phasor {
    fn new(ring: &Ring, signal: Signal) -> Self {
        Self { cosine: signal.a, sine: signal.b / ring.omega() }
    }

    fn magnitude(self) -> f64 {
        (self.cosine * self.cosine + self.sine * self.sine).sqrt()
    }

    fn less(self, other: Self) -> Self {
        Self { cosine: self.cosine - other.cosine, sine: self.sine - other.sine }
    }
}

/// √(α² + ω²).
fn pace(ring: &Ring) -> f64 {
    (ring.elastance() / ring.inductance()).sqrt()
}

impl Stretch {
    /// ∫ i² dt and the charge, with upper bounds of the peak and of the way of the charge. Means are not known.
    fn bounds(&self, circuit: &HalfCircuit) -> Integrals {
        let ring = circuit.ring(self.sign);
        let (current, voltage) = (self.current(ring), ring.voltage(self.i, self.u));
        let (u_end, i_end) = (voltage.at(self.end), current.at(self.end));
        let charge = (self.u - u_end) / ring.elastance();
        // In less than half a turn a signal has at most one zero.
        let is_short = ring.omega() * self.duration < PI;
        let rate = ring.derivative(current);
        let ends = self.i.abs().max(i_end.abs());
        let is_monotone = is_short && rate.a * rate.at(self.end) > 0.0;
        let peak =
            if is_monotone { ends } else { ends.max(Phasor::new(ring, current).magnitude()) };
        let (mut low, mut high) = (charge.min(0.0), charge.max(0.0));
        if !(is_short && self.i * i_end > 0.0) {
            let reach = Phasor::new(ring, voltage).magnitude();
            if !(is_short && self.i > 0.0) {
                low = low.min((self.u - reach) / ring.elastance());
            }
            if !(is_short && self.i < 0.0) {
                high = high.max((self.u + reach) / ring.elastance());
            }
        }
        let square = self.square(ring, current, u_end);
        let (rectified, absolute) = ([Rectified::UNKNOWN; 2], f64::NAN);
        Integrals { square, rectified, absolute, charge, peak, low, high }
    }
}

impl Wave<'_> {
    /// Integrals over the half period with upper bounds of peaks; none where a ring is heavily damped.
    pub(super) fn bounds(&self) -> Option<Integrals> {
        let mut sum = Integrals::default();
        for stretch in self.stretches {
            if !self.circuit.ring(stretch.sign).is_lightly_damped() {
                return None;
            }
            sum += stretch.bounds(self.circuit);
        }
        Some(sum)
    }

    /// Upper bounds for the difference of two waves over a half period of this length; none where their stretches
    /// are not alike.
    pub(super) fn difference_bounds(&self, other: &Self, half: f64) -> Option<CurrentIntegrals> {
        if self.stretches.len() != other.stretches.len() {
            return None;
        }
        let (mut most, mut last_rates) = (0.0_f64, 0.0_f64);
        for (n, (a, b)) in self.stretches.iter().zip(other.stretches).enumerate() {
            let apart = (a.begin - b.begin).abs();
            let overlap = (a.begin + a.duration).min(b.begin + b.duration) - a.begin.max(b.begin);
            if a.sign != b.sign || overlap < 0.0 {
                return None;
            }
            let rings = [self.circuit.ring(a.sign), other.circuit.ring(b.sign)];
            let phasors = [
                Phasor::new(rings[0], a.current(rings[0])),
                Phasor::new(rings[1], b.current(rings[1])),
            ];
            let paces = rings.map(pace);
            let rates = phasors[0].magnitude() * paces[0] + phasors[1].magnitude() * paces[1];
            // Since the event of the one until that of the other.
            let between = if n > 0 { apart * (rates + last_rates) } else { 0.0 };
            let detuned = (rings[0].alpha() - rings[1].alpha()).abs()
                + (rings[0].omega() - rings[1].omega()).abs();
            let within = phasors[0].less(phasors[1]).magnitude()
                + phasors[1].magnitude() * (detuned * a.duration + paces[1] * apart);
            most = most.max(within + between);
            last_rates = rates;
        }
        let (square, absolute) = (most * most * half, f64::NAN);
        Some(CurrentIntegrals { square, absolute, peak: most })
    }
}
