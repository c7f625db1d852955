//! Integrals and peaks of the tank current, from the closed form of each stretch.

use std::ops::AddAssign;

use super::half::{HalfCircuit, Stretch};
use super::ring::{Basis, Ring, Signal};

/// Integrals and peak of the tank current over a piece of time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Integrals {
    /// ∫ i² dt
    pub(super) square: f64,
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

/// Appends the next piece of time.
impl AddAssign for Integrals {
    fn add_assign(&mut self, other: Self) {
        self.square += other.square;
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

    /// Integrals and peak of the tank current.
    pub(super) fn integrals(&self, circuit: &HalfCircuit) -> Integrals {
        let ring = circuit.ring(self.sign);
        let current = self.current(ring);
        let voltage = ring.voltage(self.i, self.u);
        let within = |t: &f64| *t < self.duration;
        // Between zeros of the current the charge has one sign.
        let (mut absolute, mut u, mut low, mut high) = (0.0, self.u, 0.0_f64, 0.0_f64);
        let u_end = voltage.at(self.end);
        let zeros = ring.zeros(current).take_while(within).map(|t| voltage.at(ring.basis(t)));
        for u_next in zeros.chain([u_end]) {
            absolute += ((u - u_next) / ring.elastance()).abs();
            u = u_next;
            let charge = (self.u - u) / ring.elastance();
            (low, high) = (low.min(charge), high.max(charge));
        }
        let summits = ring.zeros(ring.derivative(current)).take_while(within);
        let peak = summits
            .map(|t| current.at(ring.basis(t)).abs())
            .fold(self.i.abs().max(current.at(self.end).abs()), f64::max);
        let charge = (self.u - u_end) / ring.elastance();
        Integrals { square: self.square(ring, current, u_end), absolute, charge, peak, low, high }
    }

    /// ∫ i² dt: in closed form while the ring is lightly damped, else from the energy that the
    /// resistance took, `R ∫ i² dt = −Δ(L i² + C u²)/2`, which is then well conditioned.
    fn square(&self, ring: &Ring, current: Signal, u_end: f64) -> f64 {
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

/// Nodes and weights of the eight-point Gauss–Legendre rule on (−1, 1); Abramowitz and Stegun
/// (1964), table 25.4. Exact to degree 15: over half a turn of the ring the error is 1e-10.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
];

/// Longest piece, in radian of the ring, that one Gauss rule takes.
const LONGEST_PIECE: f64 = 1.6;

impl Wave<'_> {
    /// Integrals and peak over the half period.
    pub(super) fn integrals(&self) -> Integrals {
        let mut sum = Integrals::default();
        for stretch in self.stretches {
            sum += stretch.integrals(self.circuit);
        }
        sum
    }

    fn value(&self, stretch: &Stretch, t: f64) -> f64 {
        let ring = self.circuit.ring(stretch.sign);
        stretch.current(ring).at(ring.basis(t - stretch.begin))
    }

    /// ∫ (i − j)² dt and max |i − j| for two waves of the same half period.
    ///
    /// The peak is the largest value on the nodes of the rule and at every event, good to about
    /// a percent of the difference.
    pub(super) fn difference(&self, other: &Self) -> (f64, f64) {
        let (mut square, mut peak) = (0.0_f64, 0.0_f64);
        let (mut mine, mut theirs) = (self.stretches, other.stretches);
        let mut begin = 0.0;
        while let ([a, rest_a @ ..], [b, rest_b @ ..]) = (mine, theirs) {
            let (end_a, end_b) = (a.begin + a.duration, b.begin + b.duration);
            let end = end_a.min(end_b);
            let difference = |t: f64| self.value(a, t) - other.value(b, t);
            let turn = self.circuit.ring(a.sign).omega().max(other.circuit.ring(b.sign).omega());
            let pieces = (turn * (end - begin) / LONGEST_PIECE).ceil().max(1.0);
            let length = (end - begin) / pieces;
            peak = peak.max(difference(begin).abs()).max(difference(end).abs());
            let mut from = begin;
            while from + 0.5 * length < end {
                let (s, p) = gauss(&difference, from, length);
                square += s;
                peak = peak.max(p);
                from += length;
            }
            begin = end;
            mine = if end_a <= end_b { rest_a } else { mine };
            theirs = if end_b <= end_a { rest_b } else { theirs };
        }
        (square, peak)
    }
}

/// ∫ f² and max |f| on the nodes, from `from` over `length`.
fn gauss(f: &impl Fn(f64) -> f64, from: f64, length: f64) -> (f64, f64) {
    let (half, middle) = (0.5 * length, from + 0.5 * length);
    let (mut square, mut peak) = (0.0_f64, 0.0_f64);
    for (x, weight) in GAUSS {
        let (left, right) = (f(middle - half * x), f(middle + half * x));
        square += weight * half * (left * left + right * right);
        peak = peak.max(left.abs()).max(right.abs());
    }
    (square, peak)
}
