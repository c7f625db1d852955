//! The output current of a converter at a given frequency, the slow way: Newton's iteration with
//! finite differences on the checker's own period map, averaging where it fails, and for a chain a
//! bracket about the charge.

use fairphase::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};
use nalgebra::{Matrix3, Matrix4, Vector3, Vector4};

use super::checker::{Period, Phase, Tank};
use super::verify::ripple;

/// A period's mismatch, relative to currents and voltages of one, that counts as none.
const PERIODIC: f64 = 1e-9;
/// Step of the finite differences.
const DIFFERENCE: f64 = 1e-6;
/// Charge, over that which delivers the output without loss, that counts as none.
const IDLE: f64 = 1e-4;

/// A converter whose phases can be settled at any frequency.
pub struct Slow {
    phases: Vec<Phase>,
    arrangement: Arrangement,
    input: f64,
    ripple: f64,
    wanted: f64,
    drive_amplitude: f64,
}

/// Whether unknowns are of a size at which a mismatch still means something.
fn credible(size: f64) -> bool {
    size < 1e4
}

/// What is known of a phase nearby: tank and source voltage.
#[derive(Debug, Clone, Copy)]
pub struct Near {
    tank: Tank,
    source: f64,
    /// Charge of the chain; kept with its first phase, zero where not known.
    charge: f64,
}

/// A frequency at which the converter was settled.
#[derive(Debug, Clone, Copy)]
pub struct Reached {
    pub frequency: f64,
    /// Output current over the wanted one.
    pub delivered: f64,
}

/// What became of a charge that a phase was to pass.
enum Passed {
    /// It passed: tank and source, and the period.
    All(Vector4<f64>, Period),
    /// Even the highest source passes less.
    Less,
}

/// A phase in units in which everything is near one.
struct Scaled<'a> {
    phase: &'a Phase,
    volt: f64,
    ampere: f64,
    h: f64,
}

impl Scaled<'_> {
    fn tank(&self, x: &Vector3<f64>) -> Tank {
        Tank { i: x[0] * self.ampere, im: x[1] * self.ampere, v: x[2] * self.volt }
    }

    fn vector(&self, tank: Tank) -> Vector3<f64> {
        Vector3::new(tank.i / self.ampere, tank.im / self.ampere, tank.v / self.volt)
    }

    fn run(&self, x: &Vector3<f64>, source: f64) -> Option<Period> {
        self.phase.run(self.tank(x), source * self.volt, self.h)
    }

    fn missed(&self, x: &Vector3<f64>, source: f64) -> Option<(Vector3<f64>, Period)> {
        let period = self.run(x, source)?;
        Some((self.vector(period.end) - x, period))
    }

    /// Steady state under a source.
    fn settle(&self, start: &Vector3<f64>, source: f64) -> Option<(Vector3<f64>, Period)> {
        let mut anchor = *start;
        for round in 0..40 {
            if let Some(found) = self.newton(&anchor, source) {
                return Some(found);
            }
            for _ in 0..4 + 4 * round {
                anchor = 0.5 * (anchor + self.vector(self.run(&anchor, source)?.end));
            }
        }
        None
    }

    fn newton(&self, start: &Vector3<f64>, source: f64) -> Option<(Vector3<f64>, Period)> {
        let mut x = *start;
        let mut last = f64::INFINITY;
        for _ in 0..12 {
            let (miss, period) = self.missed(&x, source)?;
            if miss.amax() < PERIODIC * (1.0 + x.amax()) {
                return Some((x, period));
            }
            if miss.amax() > 4.0 * last {
                return None;
            }
            last = miss.amax();
            let mut slope = Matrix3::zeros();
            for n in 0..3 {
                let mut beside = x;
                beside[n] += DIFFERENCE;
                let column = (self.missed(&beside, source)?.0 - miss) / DIFFERENCE;
                slope.set_column(n, &column);
            }
            x += slope.lu().solve(&-miss)?;
            if !credible(x.amax()) {
                return None;
            }
        }
        None
    }

    /// Steady state with a charge `q`, in units of ampere and half period: tank and source.
    fn pass(&self, start: &Vector4<f64>, q: f64) -> Option<(Vector4<f64>, Period)> {
        let missed = |y: &Vector4<f64>| {
            let x = Vector3::new(y[0], y[1], y[2]);
            let (miss, period) = self.missed(&x, y[3])?;
            let charge = period.charge[0] / (self.ampere * self.h);
            Some((Vector4::new(miss[0], miss[1], miss[2], charge - q), period))
        };
        let mut y = *start;
        for _ in 0..10 {
            let (miss, period) = missed(&y)?;
            if miss.amax() < PERIODIC * (1.0 + y.amax()) && miss[3].abs() < 1e-7 * q {
                return (y[3] > 0.0).then_some((y, period));
            }
            let mut slope = Matrix4::zeros();
            for n in 0..4 {
                let mut beside = y;
                beside[n] += DIFFERENCE;
                slope.set_column(n, &((missed(&beside)?.0 - miss) / DIFFERENCE));
            }
            y += slope.lu().solve(&-miss)?;
            if !credible(y.amax()) {
                return None;
            }
        }
        None
    }

    /// The same by bisection of the source, whose charge rises with it.
    fn search(&self, start: &Vector4<f64>, q: f64, most: f64) -> Option<Passed> {
        let mut x = Vector3::new(start[0], start[1], start[2]);
        let (mut low, mut high) = (0.0, most);
        let charge = |p: &Period| p.charge[0] / (self.ampere * self.h);
        let (_, top) = self.settle(&x, most)?;
        if charge(&top) < q {
            return Some(Passed::Less);
        }
        let mut best = Passed::Less;
        for _ in 0..48 {
            let source = 0.5 * (low + high);
            let (at, period) = self.settle(&x, source)?;
            x = at;
            if charge(&period) < q {
                low = source;
            } else {
                high = source;
            }
            best = Passed::All(Vector4::new(at[0], at[1], at[2], source), period);
        }
        Some(best)
    }
}

impl Slow {
    pub fn new(converter: &Converter, point: &OperatingPoint, arrangement: Arrangement) -> Self {
        let n = converter.phases();
        Self {
            phases: (0..n).map(|k| Phase::new(converter, k, point, arrangement)).collect(),
            arrangement,
            input: point.input_voltage.0,
            ripple: ripple(converter, point.drive),
            wanted: point.output_current.0,
            drive_amplitude: point.drive.amplitude(),
        }
    }

    /// A start without current.
    pub fn cold(&self) -> Vec<Near> {
        let source = self.input / self.phases.len() as f64;
        // In half-bridge drive the capacitor holds the mean of the source.
        let v = source * (1.0 - self.drive_amplitude);
        let near = Near { tank: Tank { i: 0.0, im: 0.0, v }, source, charge: 0.0 };
        vec![near; self.phases.len()]
    }

    fn scaled<'a>(&self, phase: &'a Phase, h: f64) -> Scaled<'a> {
        let volt = self.input / self.phases.len() as f64;
        Scaled { phase, volt, ampere: volt / phase.impedance(), h }
    }

    /// Output current over the wanted one at frequency `f`; moves `near` to where it settled.
    pub fn deliver(&self, f: f64, near: &mut [Near]) -> Option<f64> {
        let h = 0.5 / f;
        match self.arrangement {
            Arrangement::Paralleled => {
                let mut sum = 0.0;
                for (phase, near) in self.phases.iter().zip(near) {
                    let scaled = self.scaled(phase, h);
                    let source = self.input / self.phases.len() as f64;
                    let (x, period) =
                        scaled.settle(&scaled.vector(near.tank), source / scaled.volt)?;
                    near.tank = scaled.tank(&x);
                    sum += phase.gain * period.rectified * f;
                }
                Some(sum / self.wanted)
            }
            Arrangement::Chain => self.chain(h, near),
        }
    }

    /// Surplus of the sources' sum over what the input gives at charge `q`, and the output
    /// current. A charge that cannot pass has a surplus without bounds.
    fn surplus(&self, q: f64, h: f64, near: &mut [Near]) -> Option<(f64, f64)> {
        let needed = self.input + q * self.ripple;
        let (mut sum, mut output) = (0.0, 0.0);
        for (phase, near) in self.phases.iter().zip(near) {
            let scaled = self.scaled(phase, h);
            let x = scaled.vector(near.tank);
            let start = Vector4::new(x[0], x[1], x[2], near.source / scaled.volt);
            let charge = q / (scaled.ampere * h);
            let found = match scaled.pass(&start, charge) {
                Some((y, period)) => Passed::All(y, period),
                None => scaled.search(&start, charge, needed / scaled.volt)?,
            };
            let Passed::All(y, period) = found else { return Some((f64::INFINITY, 0.0)) };
            let tank = scaled.tank(&Vector3::new(y[0], y[1], y[2]));
            *near = Near { tank, source: y[3] * scaled.volt, ..*near };
            sum += near.source;
            output += phase.gain * period.rectified * 0.5 / h;
        }
        Some((sum - needed, output / self.wanted))
    }

    /// The charge at which the sources' sum is what the input gives: a bracket from the charge
    /// nearby, then the secant, with a bisection now and then.
    fn chain(&self, h: f64, near: &mut [Near]) -> Option<f64> {
        let gain: f64 = self.phases.iter().map(|p| p.gain).sum();
        let full = self.wanted * h / gain;
        let (mut low, mut below) = (0.0, 0.0);
        let (mut high, mut above) = (f64::INFINITY, f64::INFINITY);
        let mut q = if near[0].charge > 0.0 { near[0].charge } else { full };
        for step in 0..200 {
            let mut trial = near.to_vec();
            let (surplus, delivered) = self.surplus(q, h, &mut trial)?;
            if surplus.is_finite() {
                trial[0].charge = q;
                near.copy_from_slice(&trial);
            }
            if surplus.abs() < 1e-8 * self.input || high / low < 1.0 + 1e-12 {
                return Some(delivered);
            }
            if surplus < 0.0 {
                (low, below) = (q, surplus);
            } else {
                (high, above) = (q, surplus);
            }
            let secant = low - below * (high - low) / (above - below);
            q = if high.is_infinite() {
                1.5 * low
            } else if low == 0.0 {
                high / 2.0
            } else if above.is_finite() && step % 3 != 2 && secant > low && secant < high {
                secant
            } else {
                (low * high).sqrt()
            };
            if q < IDLE * full {
                near.copy_from_slice(&self.cold());
                return Some(0.0);
            }
        }
        None
    }

    /// The output current on a grid over the band with every peak closed in on, from the highest
    /// frequency down; where it is enough already there, nothing else is looked at. And how many
    /// frequencies are left out, because the converter could not be settled.
    pub fn sweep(&self, band: &FrequencyBand, ratio: f64) -> (Vec<Reached>, usize) {
        let mut near = self.cold();
        let (low, high) = (band.minimum.0, band.maximum.0);
        let steps = ((high / low).ln() / ratio.ln()).ceil().max(8.0);
        let mut all: Vec<Reached> = Vec::new();
        let (mut n, mut lost) = (0.0, 0);
        while n <= steps {
            let frequency = high * (low / high).powf(n / steps);
            if let Some(delivered) = self.deliver(frequency, &mut near) {
                all.push(Reached { frequency, delivered });
                if all.len() == 1 && delivered >= 1.0 {
                    return (all, lost);
                }
            } else {
                lost += 1;
                near = self.cold();
            }
            n += 1.0;
        }
        let peaks: Vec<_> = all
            .windows(3)
            .filter(|w| {
                w[1].delivered >= w[0].delivered
                    && w[1].delivered >= w[2].delivered
                    && w[1].delivered > 0.5
            })
            .map(|w| (w[0].frequency, w[2].frequency))
            .collect();
        for (above, below) in peaks {
            all.extend(self.climb(below, above));
        }
        all.sort_by(|a, b| b.frequency.total_cmp(&a.frequency));
        (all, lost)
    }

    /// Output current over the wanted one at frequency `f`, come to from the highest.
    pub fn deliver_at(&self, f: f64) -> Option<f64> {
        self.deliver(f, &mut self.cold())
    }

    /// Golden-section search for the highest current between two frequencies.
    fn climb(&self, mut low: f64, mut high: f64) -> Vec<Reached> {
        let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
        let mut near = self.cold();
        let mut seen = Vec::new();
        let mut at = |f: f64| {
            let delivered = self.deliver(f, &mut near).unwrap_or(0.0);
            seen.push(Reached { frequency: f, delivered });
            delivered
        };
        let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
        let (mut at_a, mut at_b) = (at(a), at(b));
        for _ in 0..24 {
            if at_a > at_b {
                (high, b, at_b) = (b, a, at_a);
                a = high - golden * (high - low);
                at_a = at(a);
            } else {
                (low, a, at_a) = (a, b, at_b);
                b = low + golden * (high - low);
                at_b = at(b);
            }
        }
        seen
    }
}
