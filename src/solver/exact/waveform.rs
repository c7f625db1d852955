//! Integrals and peaks of the tank current, from the closed form of each stretch.

use std::f64::consts::PI;
use std::ops::AddAssign;

use super::difference::{CurrentIntegrals, difference, square_of_difference};
use super::half::{HalfCircuit, Stretch};
use super::ring::{Basis, Ring, Signal};

/// Integrals and peak of the tank current over a piece of time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Integrals {
    /// ∫ i² dt
    pub(super) square: f64,
    /// What the rectifier carries along the half period, and what it carries against it.
    pub(super) rectified: [Rectified; 2],
    /// ∫ |i| dt
    pub(super) absolute: f64,
    /// ∫ i dt
    pub(super) charge: f64,
    /// max |i|
    pub(super) peak: f64,
    /// Lowest of ∫ i dt on the way.
    pub(super) low: f64,
    /// Highest of ∫ i dt on the way.
    pub(super) high: f64,
}

/// Integrals of what the rectifier carries with one sign.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Rectified {
    /// ∫ |i − im| dt
    pub(super) charge: f64,
    /// ∫ (i − im)² dt
    pub(super) square: f64,
}

impl Rectified {
    /// Not known.
    pub(super) const UNKNOWN: Self = Self { charge: f64::NAN, square: f64::NAN };
}

impl AddAssign for Rectified {
    fn add_assign(&mut self, other: Self) {
        self.charge += other.charge;
        self.square += other.square;
    }
}

/// Appends the next piece of time.
impl AddAssign for Integrals {
    fn add_assign(&mut self, other: Self) {
        self.square += other.square;
        self.rectified[0] += other.rectified[0];
        self.rectified[1] += other.rectified[1];
        self.absolute += other.absolute;
        self.low = self.low.min(self.charge + other.low);
        self.high = self.high.max(self.charge + other.high);
        self.charge += other.charge;
        self.peak = self.peak.max(other.peak);
    }
}

impl Stretch {
    /// The tank current over this stretch, time counted from its begin.
    pub(super) fn current(&self, ring: &Ring) -> Signal {
        ring.current(self.i, self.u)
    }

    /// The zeros of a signal within the stretch, at whose end it has the value `last`.
    fn zeros(&self, ring: &Ring, y: Signal, last: f64) -> impl Iterator<Item = f64> {
        // In less than half a turn a signal has at most one zero.
        let none = y.a * last > 0.0 && ring.omega() * self.duration < PI;
        let duration = self.duration;
        let zeros = (!none).then(|| ring.zeros(y)).into_iter().flatten();
        zeros.take_while(move |t| *t < duration)
    }

    /// max |i|.
    pub(super) fn peak(&self, ring: &Ring, current: Signal) -> f64 {
        let rate = ring.derivative(current);
        let turns = self.zeros(ring, rate, rate.at(self.end));
        let values = turns.map(|t| current.at(ring.basis(t)).abs());
        values.fold(self.i.abs().max(current.at(self.end).abs()), f64::max)
    }

    /// Integrals and peak of the tank current.
    pub(super) fn integrals(&self, circuit: &HalfCircuit) -> Integrals {
        let ring = circuit.ring(self.sign);
        let current = self.current(ring);
        let voltage = ring.voltage(self.i, self.u);
        let (u_end, i_end) = (voltage.at(self.end), current.at(self.end));
        // Between zeros of the current the charge has one sign.
        let (mut absolute, mut u, mut low, mut high) = (0.0, self.u, 0.0_f64, 0.0_f64);
        let zeros = self.zeros(ring, current, i_end);
        for u_next in zeros.map(|t| voltage.at(ring.basis(t))).chain([u_end]) {
            absolute += ((u - u_next) / ring.elastance()).abs();
            u = u_next;
            let charge = (self.u - u) / ring.elastance();
            (low, high) = (low.min(charge), high.max(charge));
        }
        let peak = self.peak(ring, current);
        Integrals { absolute, peak, low, high, ..self.squares(circuit) }
    }

    /// The squares and the charge alone; nothing else is known.
    fn squares(&self, circuit: &HalfCircuit) -> Integrals {
        let ring = circuit.ring(self.sign);
        let current = self.current(ring);
        let (u_end, i_end) = (ring.voltage(self.i, self.u).at(self.end), current.at(self.end));
        let charge = (self.u - u_end) / ring.elastance();
        let square = self.square(ring, current, u_end);
        let rectified = self.rectified(circuit, [square, charge], [u_end, i_end]);
        let [absolute, peak, low, high] = [f64::NAN; 4];
        Integrals { square, rectified, absolute, charge, peak, low, high }
    }

    /// ∫ (i − im)² dt from ∫ i² dt, ∫ i dt and the net voltage and current at the end; zero while the
    /// rectifier is off. With im = im(0) + g t, `∫ t i dt = Ce (∫ u dt − T u(T))` and
    /// `∫ u dt = L (i(T) − i(0)) + R ∫ i dt`.
    fn rectified(
        &self,
        circuit: &HalfCircuit,
        [square, charge]: [f64; 2],
        [u_end, i_end]: [f64; 2],
    ) -> [Rectified; 2] {
        let mut both = [Rectified::default(); 2];
        if self.sign == 0 {
            return both;
        }
        let (ring, t, im) = (circuit.ring(self.sign), self.duration, self.im);
        let slope = circuit.magnetising_slope(self.sign);
        let voltage = ring.inductance() * (i_end - self.i) + ring.resistance() * charge;
        let moment = (voltage - t * u_end) / ring.elastance();
        let magnetising = t * (im * im + slope * t * (im + slope * t / 3.0));
        let passed = charge - t * (im + 0.5 * slope * t);
        both[usize::from(self.sign < 0)] = Rectified {
            charge: passed.abs(),
            square: (square - 2.0 * (im * charge + slope * moment) + magnetising).max(0.0),
        };
        both
    }

    /// ∫ i² dt. In closed form while the ring is lightly damped. Else from the energy that the
    /// resistance took, `R ∫ i² dt = −Δ(L i² + C u²)/2`, which is then well conditioned.
    pub(super) fn square(&self, ring: &Ring, current: Signal, u_end: f64) -> f64 {
        if ring.is_lightly_damped() {
            return square_of_light(ring, current, self.duration, self.end);
        }
        let i_end = current.at(self.end);
        let magnetic = ring.inductance() * (self.i - i_end) * (self.i + i_end);
        let electric = (self.u - u_end) * (self.u + u_end) / ring.elastance();
        (magnetic + electric) / (2.0 * ring.resistance())
    }
}

/// `∫ e^(−2αt) (a cos ωt + b sin ωt)² dt` from 0 to t, with `b` the sine's own amplitude:
/// half of `(a² + b²)·E + (a² − b²)·C + 2ab·S`, where E, C, S are the integrals of
/// `e^(−2αt)` times 1, cos 2ωt, sin 2ωt.
fn square_of_light(ring: &Ring, current: Signal, t: f64, end: Basis) -> f64 {
    let (alpha, omega) = (ring.alpha(), ring.omega());
    let (a, b) = (current.a, current.b / omega);
    let (cos, sin) = (end.c, end.s * omega);
    // e^(−2αt) times cos 2ωt, sin 2ωt and 1.
    let (c2, s2) = (cos * cos - sin * sin, 2.0 * sin * cos);
    let decay = cos * cos + sin * sin;
    let x = 2.0 * alpha * t;
    let e =
        if x < 1e-5 { t * (1.0 - x / 2.0 + x * x / 6.0) } else { (1.0 - decay) / (2.0 * alpha) };
    let scale = 0.5 / (alpha * alpha + omega * omega);
    let c = scale * (alpha * (1.0 - c2) + omega * s2);
    let s = scale * (omega * (1.0 - c2) - alpha * s2);
    0.5 * ((a * a + b * b) * e + (a * a - b * b) * c + 2.0 * a * b * s)
}

/// A half period's stretches with the circuit they belong to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave<'a> {
    pub(super) circuit: &'a HalfCircuit,
    pub(super) stretches: &'a [Stretch],
}

impl Wave<'_> {
    /// Integrals and peak over the half period.
    pub(super) fn integrals(&self) -> Integrals {
        self.sum(Stretch::integrals)
    }

    /// The squares and the charge of the half period alone; nothing else is known.
    pub(super) fn squares(&self) -> Integrals {
        self.sum(Stretch::squares)
    }

    fn sum(&self, of: fn(&Stretch, &HalfCircuit) -> Integrals) -> Integrals {
        let mut sum = Integrals::default();
        for stretch in self.stretches {
            sum += of(stretch, self.circuit);
        }
        sum
    }

    /// Tank and magnetising current at the end of the half period.
    pub(super) fn end(&self) -> Option<(f64, f64)> {
        let last = self.stretches.last()?;
        let tank = last.current(self.circuit.ring(last.sign)).at(last.end);
        let rise = self.circuit.magnetising_slope(last.sign) * last.duration;
        Some((tank, if last.sign == 0 { tank } else { last.im + rise }))
    }

    /// The current from instant `t` on, of the stretch that it lies in.
    pub(super) fn current_from(&self, stretch: &Stretch, t: f64) -> Signal {
        let ring = self.circuit.ring(stretch.sign);
        let current = stretch.current(ring);
        if t > stretch.begin {
            ring.shifted(current, ring.basis(t - stretch.begin))
        } else {
            current
        }
    }

    /// Integrals of i − j for two waves of the same half period.
    pub(super) fn difference(&self, other: &Self) -> CurrentIntegrals {
        let mut sum = CurrentIntegrals::default();
        self.with_pieces(other, |rings, signals, length| {
            sum += difference(rings, signals, length);
        });
        sum
    }

    /// The square of the same alone, roughly, while a solution is looked for; nothing else is known.
    pub(super) fn square_of_difference(&self, other: &Self) -> CurrentIntegrals {
        let mut square = 0.0;
        self.with_pieces(other, |rings, signals, length| {
            square += square_of_difference(rings, signals, length);
        });
        CurrentIntegrals { square, absolute: f64::NAN, peak: f64::NAN }
    }

    /// Shows the pieces of two waves of the same half period in which both ring on: rings, signals and length.
    fn with_pieces(&self, other: &Self, mut show: impl FnMut([&Ring; 2], [Signal; 2], f64)) {
        let (mut mine, mut theirs) = (self.stretches, other.stretches);
        let mut begin = 0.0;
        while let ([a, rest_a @ ..], [b, rest_b @ ..]) = (mine, theirs) {
            let (end_a, end_b) = (a.begin + a.duration, b.begin + b.duration);
            let end = end_a.min(end_b);
            let rings = [self.circuit.ring(a.sign), other.circuit.ring(b.sign)];
            let signals = [self.current_from(a, begin), other.current_from(b, begin)];
            show(rings, signals, end - begin);
            begin = end;
            mine = if end_a <= end_b { rest_a } else { mine };
            theirs = if end_b <= end_a { rest_b } else { theirs };
        }
    }
}
