//! One period of a phase from a given start, by Taylor series of the circuit's differential
//! equations on a fine grid. Nothing of the solver is used, neither its code nor its variables:
//! the state is that of the physical elements (both inductors, the resonant capacitor, the source
//! with the flying capacitors in it), steps are sums of a power series, and events are found by
//! bisection of its polynomials.

use fairphase::converter::{Arrangement, Converter, Drive, OperatingPoint, Rectifier};

/// Terms of a power series. A step is at most `STEP` of any time constant of the circuit, so
/// that the first term left out is below 0.5¹⁶/16! = 1e-18.
const TERMS: usize = 16;
const STEP: f64 = 0.5;
/// More rectifier events in half a period than any design has.
const MAX_EVENTS: usize = 400;
/// As small as this, relative to the other currents, is a rectifier current of zero: a reported
/// state is the difference of two currents, each rounded.
const AT_REST: f64 = 1e-12;
/// Rounding of a difference, relative to its terms.
const ROUNDING: f64 = 1e-15;
/// Nodes and weights of the eight-point Gauss–Legendre rule on (−1, 1); Abramowitz and Stegun
/// (1964), table 25.4.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
];

/// One phase, in SI units.
#[derive(Debug, Clone, Copy)]
pub struct Phase {
    lr: f64,
    cr: f64,
    lm: f64,
    r: f64,
    /// Voltage at which the conducting rectifier clamps the winding.
    clamp: f64,
    /// Output current for a mean rectified primary current of one ampere.
    pub gain: f64,
    /// Volts by which the source falls a coulomb drawn, in the high and in the low interval.
    kappa: [f64; 2],
    drive: Drive,
}

/// State of a tank: tank current, magnetising current, resonant capacitor's voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tank {
    pub i: f64,
    pub im: f64,
    pub v: f64,
}

/// What one period was.
#[derive(Debug, Clone, Copy)]
pub struct Period {
    pub end: Tank,
    /// ∫ i dt over the high and over the low interval.
    pub charge: [f64; 2],
    /// Lowest and highest of ∫ i dt since the start of each interval.
    pub range: [(f64, f64); 2],
    /// ∫ |i − im| dt, ∫ |i| dt, ∫ i² dt, ∫ (i − im)² dt.
    pub rectified: f64,
    pub absolute: f64,
    pub square: f64,
    pub rectified_square: f64,
    /// max |i|
    pub peak: f64,
}

type Series = [f64; TERMS];

/// Value of a power series at `x`.
fn value(p: &Series, x: f64) -> f64 {
    p.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

fn derivative(p: &Series) -> Series {
    let mut d = [0.0; TERMS];
    for n in 1..TERMS {
        d[n - 1] = n as f64 * p[n];
    }
    d
}

fn integral(p: &Series, x: f64) -> f64 {
    let sum = p.iter().enumerate().rev().fold(0.0, |sum, (n, c)| sum * x + c / (n + 1) as f64);
    sum * x
}

/// The sign change of `p` between `low` and `high`, by bisection.
fn bisect(p: &Series, mut low: f64, mut high: f64) -> f64 {
    let rising = value(p, high) > value(p, low);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if (value(p, middle) > 0.0) == rising { high = middle } else { low = middle }
    }
    high
}

/// Where `p` turns between 0 and `x`: a step is too short for it to turn twice. A slope at the
/// start of no more than `rounding` is none.
fn turn(p: &Series, x: f64, rounding: f64) -> Option<f64> {
    let d = derivative(p);
    let slope = if d[0].abs() <= rounding { d[1] } else { d[0] };
    (slope * value(&d, x) < 0.0).then(|| bisect(&d, 0.0, x))
}

/// The first `t` in (0, x] at which `p`, positive before, comes down below zero; by less than
/// `rounding` is not below, for a rectifier current starts from zero with a slope of zero.
fn descent(p: &Series, x: f64, rounding: f64) -> Option<f64> {
    let middle = turn(p, x, rounding);
    let falls = |from: f64, to: f64| {
        let (start, end) = (value(p, from), value(p, to));
        let below = end < -rounding && end < start;
        below.then(|| if start > 0.0 { bisect(p, from, to) } else { from })
    };
    match middle {
        Some(t) => falls(0.0, t).or_else(|| falls(t, x)),
        None => falls(0.0, x),
    }
}

/// A phase on its way through an interval.
#[derive(Debug, Clone, Copy)]
struct Walk {
    tank: Tank,
    source: f64,
    /// +1 or −1: the rectifier conducts with this sign; 0: it does not.
    sign: i8,
}

/// Power series of a step, in the time over the step's length.
struct Step {
    i: Series,
    im: Series,
    v: Series,
    source: Series,
}

impl Phase {
    /// Phase `k`, counted from 0.
    pub fn new(
        converter: &Converter,
        k: usize,
        point: &OperatingPoint,
        arrangement: Arrangement,
    ) -> Self {
        let tank = &converter.tanks[k];
        let (n, out, drop) = (tank.turns_ratio, point.output_voltage.0, tank.rectifier_drop.0);
        let (clamp, gain) = match point.rectifier {
            Rectifier::FullBridge => (n * (out + 2.0 * drop), n),
            Rectifier::CentreTap => (n * (out + drop), n),
            Rectifier::VoltageDoubler => (n * (out / 2.0 + drop), n / 2.0),
        };
        // The flying capacitor before phase k + 1 is discharged, the one after it charged.
        let beside = |leg: &[fairphase::units::Farad]| {
            let before = if k == 0 { 0.0 } else { 1.0 / leg[k - 1].0 };
            before + leg.get(k).map_or(0.0, |c| 1.0 / c.0)
        };
        let kappa = match (arrangement, point.drive) {
            (Arrangement::Paralleled, _) => [0.0; 2],
            (Arrangement::Chain, Drive::HalfBridge) => [beside(&converter.flying), 0.0],
            (Arrangement::Chain, Drive::FullBridge) => {
                [beside(&converter.flying), beside(&converter.flying_return)]
            }
        };
        Self {
            lr: tank.resonant_inductance.0,
            cr: tank.resonant_capacitance.0,
            lm: tank.magnetising_inductance.0,
            r: tank.series_resistance.0,
            clamp,
            gain,
            kappa,
            drive: point.drive,
        }
    }

    /// √(Lr/Cr)
    pub fn impedance(&self) -> f64 {
        (self.lr / self.cr).sqrt()
    }

    /// One period of length 2 `h` from `start`, the source at `source` when it begins and, in
    /// full-bridge drive, at −`source` half a period later.
    pub fn run(&self, start: Tank, source: f64, h: f64) -> Option<Period> {
        let mut period = Period {
            end: start,
            charge: [0.0; 2],
            range: [(0.0, 0.0); 2],
            rectified: 0.0,
            absolute: 0.0,
            square: 0.0,
            rectified_square: 0.0,
            peak: start.i.abs(),
        };
        for half in 0..2 {
            let source = match (half, self.drive) {
                (0, _) => source,
                (_, Drive::HalfBridge) => 0.0,
                (_, Drive::FullBridge) => -source,
            };
            self.interval(half, source, h, &mut period)?;
        }
        Some(period)
    }

    fn interval(&self, half: usize, source: f64, h: f64, period: &mut Period) -> Option<()> {
        let mut walk = Walk { tank: period.end, source, sign: 0 };
        let d = walk.tank.i - walk.tank.im;
        walk.sign = if d.abs() > AT_REST * (walk.tank.i.abs() + walk.tank.im.abs()) {
            if d > 0.0 { 1 } else { -1 }
        } else {
            walk.tank.im = walk.tank.i;
            self.sign_at_rest(&walk)
        };
        let kappa = self.kappa[half];
        let rate = ((1.0 / self.cr + kappa) / self.lr).sqrt() + self.r / self.lr;
        let longest = STEP / rate;
        let (mut left, mut events) = (h, 0);
        while left > 0.0 {
            // What rounding leaves at the end is no step.
            let length = if left < longest * (1.0 + 1e-9) { left } else { longest };
            let step = self.step(&walk, length, kappa);
            let event = self.event(&step, walk.sign, length);
            let x = event.map_or(1.0, |(x, _)| x);
            Self::account(&step, walk.sign, (x, length), half, period);
            walk.tank = Tank { i: value(&step.i, x), im: value(&step.im, x), v: value(&step.v, x) };
            walk.source = value(&step.source, x);
            if let Some((_, sign)) = event {
                events += 1;
                if events > MAX_EVENTS {
                    return None;
                }
                walk.tank.im = walk.tank.i;
                walk.sign = if sign == 0 { self.sign_at_rest(&walk) } else { sign };
            }
            left = if x * length >= left { 0.0 } else { left - x * length };
        }
        period.end = walk.tank;
        Some(())
    }

    /// Whether a rectifier without current takes it up: where the winding's voltage,
    /// Lm (source − v − R i)/(Lr + Lm), surpasses the clamp.
    fn sign_at_rest(&self, walk: &Walk) -> i8 {
        let net = walk.source - walk.tank.v - self.r * walk.tank.i;
        let winding = net * self.lm / (self.lr + self.lm);
        if winding > self.clamp {
            1
        } else if winding < -self.clamp {
            -1
        } else {
            0
        }
    }

    /// The power series of all states over a step of the given length.
    ///
    /// Conducting: Lr i' = source − v − R i − s Vp, Lm im' = s Vp. Not conducting:
    /// (Lr + Lm) i' = source − v − R i, im = i. Always Cr v' = i, source' = −κ i.
    fn step(&self, walk: &Walk, length: f64, kappa: f64) -> Step {
        let zero = [0.0; TERMS];
        let mut s = Step { i: zero, im: zero, v: zero, source: zero };
        (s.i[0], s.im[0], s.v[0], s.source[0]) =
            (walk.tank.i, walk.tank.im, walk.tank.v, walk.source);
        let clamp = f64::from(walk.sign) * self.clamp;
        let inductance = if walk.sign == 0 { self.lr + self.lm } else { self.lr };
        for n in 0..TERMS - 1 {
            let scale = length / (n + 1) as f64;
            let mut net = s.source[n] - s.v[n] - self.r * s.i[n];
            if n == 0 {
                net -= clamp;
            }
            s.i[n + 1] = scale * net / inductance;
            s.v[n + 1] = scale * s.i[n] / self.cr;
            s.source[n + 1] = -scale * kappa * s.i[n];
        }
        if walk.sign == 0 {
            s.im = s.i;
        } else {
            s.im[1] = length * clamp / self.lm;
        }
        s
    }

    /// The first rectifier event of a step, as a share of it, and the rectifier's sign then
    /// (0: to be looked at).
    fn event(&self, step: &Step, sign: i8, length: f64) -> Option<(f64, i8)> {
        if sign != 0 {
            let s = f64::from(sign);
            let current: Series = std::array::from_fn(|n| s * (step.i[n] - step.im[n]));
            // The slope is a difference of voltages that are each as large as the clamp's.
            let slope = length * self.clamp / self.lr;
            let size = step.i[0].abs() + step.im[0].abs() + slope;
            return descent(&current, 1.0, ROUNDING * size).map(|x| (x, 0));
        }
        let winding = derivative(&step.i).map(|c| c * self.lm / length);
        let reaching = |sign: i8| {
            let mut room = winding.map(|c| -f64::from(sign) * c);
            room[0] += self.clamp;
            descent(&room, 1.0, ROUNDING * self.clamp).map(|x| (x, sign))
        };
        match (reaching(1), reaching(-1)) {
            (Some(a), Some(b)) => Some(if a.0 <= b.0 { a } else { b }),
            (a, b) => a.or(b),
        }
    }

    /// Adds the integrals and the peak of the first `x` of a step.
    fn account(step: &Step, sign: i8, (x, length): (f64, f64), half: usize, period: &mut Period) {
        let moved = |to: f64| length * integral(&step.i, to);
        let middle = turn(&step.i, x, 0.0);
        let before = period.charge[half];
        let (low, high) = &mut period.range[half];
        let mut from = 0.0;
        for to in middle.into_iter().chain([x]) {
            let (a, b) = (value(&step.i, from), value(&step.i, to));
            period.peak = period.peak.max(b.abs());
            let zero = (a * b < 0.0).then(|| bisect(&step.i, from, to));
            for to in zero.into_iter().chain([to]) {
                period.absolute += (moved(to) - moved(from)).abs();
                *low = low.min(before + moved(to));
                *high = high.max(before + moved(to));
                from = to;
            }
        }
        period.charge[half] += moved(x);
        period.rectified +=
            f64::from(sign) * length * (integral(&step.i, x) - integral(&step.im, x));
        for (node, weight) in GAUSS {
            for side in [-1.0, 1.0] {
                let at = 0.5 * x * (1.0 + side * node);
                let i = value(&step.i, at);
                let d = i - value(&step.im, at);
                period.square += 0.5 * x * length * weight * i * i;
                period.rectified_square += 0.5 * x * length * weight * d * d;
            }
        }
    }
}
