//! The averaged solver: fundamental-harmonic approximation.
//!
//! Only the fundamentals of source and winding voltage are kept. With w = 2π fs,
//! X = w Lr − 1/(w C), Xm = w Lm, source amplitude Vs = (4/π) W, winding amplitude Vw = (4/π) Vp
//! and rectified current amplitude I in phase with the winding,
//!
//! ```text
//! (Vw (1 + X/Xm) + R I)² + (X I − R Vw/Xm)² = Vs²
//! P = (Vw I + R (I² + (Vw/Xm)²))/2          input power
//! Iout = (2/π) gain I
//! ```
//!
//! (Kirchhoff's laws for one harmonic; the approximation is described in any text on resonant
//! conversion, e.g. Erickson and Maksimović, Fundamentals of Power Electronics, chapter on
//! resonant conversion, where it is called the sinusoidal approximation.) The swing of a flying
//! capacitor counts as half its elastance in each half period. In a chain every phase draws the
//! same mean input current, so P(k) = q W(k) with one q.
//!
//! It is fast and flatters: see the crate's page on validity.

use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, FRAC_PI_2, TAU};

use arrayvec::ArrayVec;

use super::bracket::sign_change;
use super::{Case, Outcome, PhaseState, Start, SteadyState, SwitchCurrent, Switches};
use crate::converter::{Arrangement, Converter, Drive, MAX_PHASES, OperatingPoint};
use crate::units::{Ampere, Hertz, Volt};

const NEWTON_STEPS: usize = 25;
const TOLERANCE: f64 = 1e-11;
/// (4/π)², squared source amplitude for a square wave of amplitude one.
const SQUARE_WAVE: f64 = 4.0 * FRAC_2_PI * FRAC_2_PI;
/// Steps between the highest and the lowest frequency of the search.
const SEARCH_STEPS: i32 = 200;

/// One phase. SI units.
#[derive(Debug, Clone, Copy)]
struct HarmonicPhase {
    lr: f64,
    elastance: f64,
    lm: f64,
    r: f64,
    /// Winding amplitude Vw.
    winding: f64,
    /// Output current for a rectified amplitude I of one ampere.
    gain: f64,
}

/// Reactances at one frequency, and their derivatives with respect to w.
#[derive(Debug, Clone, Copy)]
struct Reactance {
    w: f64,
    x: f64,
    x_rate: f64,
    xm: f64,
}

/// The equation `E = u² + v² − Vs² = 0` of a phase without its source, and its power.
struct Balance {
    e: f64,
    e_by_i: f64,
    e_by_w: f64,
    power: f64,
    power_by_i: f64,
    power_by_w: f64,
}

/// A converter to solve. SI units.
struct HarmonicConverter {
    phases: ArrayVec<HarmonicPhase, MAX_PHASES>,
    /// Sum of the source amplitudes W.
    input: f64,
    output_current: f64,
    /// Lowest and highest angular frequency.
    band: (f64, f64),
    arrangement: Arrangement,
}

/// A point of the iteration, and the guess for a converter nearby.
#[derive(Debug, Clone)]
pub struct AveragedStart {
    w: f64,
    /// Mean input current of a chain, at W volts.
    q: f64,
    /// Rectified amplitudes.
    i: ArrayVec<f64, MAX_PHASES>,
}

/// Solves a converter in a case; from its start, where it has one of this solver.
pub(super) fn solve(converter: &Converter, case: &Case) -> Outcome {
    let system = HarmonicConverter::new(converter, case);
    let start = match &case.start {
        Some(Start::Averaged(start)) => system.newton(start),
        _ => None,
    };
    let found = match start {
        // No frequency above that one delivers the output.
        Some(at) if !system.allows(at.w) => None,
        Some(at) => Some(at),
        None => system.search(),
    };
    found.map_or(Outcome::OutOfRange, |at| {
        Outcome::Solved(system.steady_state(&at, converter, &case.point))
    })
}

/// Solves a converter without a start, and makes of its solution the start of converters nearby.
pub(super) fn prepare(converter: &Converter, case: &Case) -> (Outcome, Option<AveragedStart>) {
    let system = HarmonicConverter::new(converter, case);
    match system.search() {
        Some(at) => (Outcome::Solved(system.steady_state(&at, converter, &case.point)), Some(at)),
        None => (Outcome::OutOfRange, None),
    }
}

/// Output current of a converter in a case whose band is one switching frequency, above zero, and
/// at the case's output voltage; zero where no phase conducts.
pub(super) fn output_current(converter: &Converter, case: &Case) -> Ampere {
    let system = HarmonicConverter::new(converter, case);
    Ampere(system.current(&system.settle(system.band.1)))
}

impl HarmonicPhase {
    fn reactance(&self, w: f64) -> Reactance {
        let capacitive = self.elastance / w;
        Reactance {
            w,
            x: w * self.lr - capacitive,
            x_rate: self.lr + capacitive / w,
            xm: w * self.lm,
        }
    }

    /// `u² + v²` and the power at rectified amplitude `i`, with derivatives.
    fn balance(&self, z: &Reactance, i: f64) -> Balance {
        let (r, vw) = (self.r, self.winding);
        let magnetising = vw / z.xm;
        let u = vw * (1.0 + z.x / z.xm) + r * i;
        let v = z.x * i - r * magnetising;
        let u_by_w = vw * (z.x_rate - z.x / z.w) / z.xm;
        let v_by_w = z.x_rate * i + r * magnetising / z.w;
        Balance {
            e: u * u + v * v,
            e_by_i: 2.0 * (u * r + v * z.x),
            e_by_w: 2.0 * (u * u_by_w + v * v_by_w),
            power: 0.5 * (vw * i + r * (i * i + magnetising * magnetising)),
            power_by_i: 0.5 * vw + r * i,
            power_by_w: -r * magnetising * magnetising / z.w,
        }
    }

    /// Rectified amplitude under a source of amplitude W: the positive root, or none.
    fn rectified(&self, z: &Reactance, amplitude: f64) -> Option<f64> {
        let (r, vw) = (self.r, self.winding);
        let a = r * r + z.x * z.x;
        let half_b = r * vw;
        let c = (vw * (1.0 + z.x / z.xm)).powi(2) + (r * vw / z.xm).powi(2)
            - SQUARE_WAVE * amplitude * amplitude;
        // Written so that it stays exact where a vanishes, at resonance without resistance.
        let root = half_b + (half_b * half_b - a * c).max(0.0).sqrt();
        (c < 0.0 && root > 0.0).then(|| -c / root)
    }

    /// Input power under a source of amplitude W, also of a phase that does not conduct.
    fn power(&self, z: &Reactance, amplitude: f64) -> f64 {
        match self.rectified(z, amplitude) {
            Some(i) => self.balance(z, i).power,
            None => 0.5 * self.r * self.idle_current(z, amplitude).powi(2),
        }
    }

    /// Tank current amplitude while the rectifier does not conduct.
    fn idle_current(&self, z: &Reactance, amplitude: f64) -> f64 {
        SQUARE_WAVE.sqrt() * amplitude / libm::hypot(self.r, z.x + z.xm)
    }

    /// Amplitude, at most `most`, at which the phase draws the mean current `q`: P(W) = q W, for
    /// P/W rises with W.
    fn amplitude_for(&self, z: &Reactance, q: f64, most: f64) -> f64 {
        let surplus = |w: f64| self.power(z, w) / w - q;
        let least = 1e-12 * most;
        if surplus(most) <= 0.0 {
            most
        } else if surplus(least) > 0.0 {
            0.0
        } else {
            sign_change(surplus, [least, most])[1]
        }
    }
}

impl HarmonicConverter {
    fn new(converter: &Converter, case: &Case) -> Self {
        let (point, arrangement) = (&case.point, case.arrangement);
        let phase = |k: usize| {
            let tank = &converter.tanks[k];
            let kappa: f64 = converter.flying_elastance(k, arrangement, point.drive).iter().sum();
            let n = tank.turns_ratio;
            let clamp = point.rectifier.clamp_voltage(n, point.output_voltage, tank.rectifier_drop);
            HarmonicPhase {
                lr: tank.resonant_inductance.0,
                elastance: 1.0 / tank.resonant_capacitance.0 + kappa / 2.0,
                lm: tank.magnetising_inductance.0,
                r: tank.series_resistance.0,
                winding: 2.0 * FRAC_2_PI * clamp,
                gain: FRAC_2_PI * point.rectifier.current_gain(n),
            }
        };
        Self {
            phases: (0..converter.phases()).map(phase).collect(),
            input: point.drive.amplitude() * point.input_voltage.0,
            output_current: point.output_current.0,
            band: (TAU * case.band.minimum.0, TAU * case.band.maximum.0),
            arrangement,
        }
    }

    fn amplitude(&self) -> f64 {
        self.input / self.phases.len() as f64
    }

    fn allows(&self, w: f64) -> bool {
        (self.band.0..=self.band.1).contains(&w)
    }

    /// The solution inside the band that Newton's iteration leads to.
    fn inside(&self, guess: &AveragedStart) -> Option<AveragedStart> {
        self.newton(guess).filter(|at| self.allows(at.w))
    }

    /// Newton's iteration towards a solution at which the current falls with frequency, in or
    /// outside the band.
    fn newton(&self, guess: &AveragedStart) -> Option<AveragedStart> {
        let mut at = guess.clone();
        for _ in 0..NEWTON_STEPS {
            let (size, fall) = match self.arrangement {
                Arrangement::Chain => self.step_chain(&mut at)?,
                Arrangement::Paralleled => self.step_paralleled(&mut at)?,
            };
            if size < TOLERANCE {
                return (fall < 0.0).then_some(at);
            }
        }
        None
    }

    /// One step of frequency for phases on equal sources. Gives its relative size and how the
    /// current changes with frequency.
    fn step_paralleled(&self, at: &mut AveragedStart) -> Option<(f64, f64)> {
        let (mut current, mut fall) = (0.0, 0.0);
        let most = at.w;
        for (phase, i) in self.phases.iter().zip(&mut at.i) {
            let z = phase.reactance(most);
            let Some(root) = phase.rectified(&z, self.amplitude()) else {
                *i = 0.0;
                continue;
            };
            *i = root;
            let b = phase.balance(&z, root);
            let i_by_w = -b.e_by_w / b.e_by_i;
            // Any phase on the far side of its hump could pick up again at a higher frequency.
            if i_by_w > 0.0 {
                return None;
            }
            current += phase.gain * root;
            fall += phase.gain * i_by_w;
        }
        let dw = (self.output_current - current) / fall;
        let limited = dw.clamp(-0.1 * at.w, 0.1 * at.w);
        at.w += limited;
        limited.is_finite().then_some((limited.abs() / at.w, fall))
    }

    /// One step of all unknowns of a chain: `E(k) = ((4/π) P/q)²`, `ΣP = q·input`
    /// and the output current.
    fn step_chain(&self, at: &mut AveragedStart) -> Option<(f64, f64)> {
        let (q, w) = (at.q, at.w);
        // Sums over the phases: value, by q, by w.
        let (mut power, mut current) = ([0.0; 3], [0.0; 3]);
        let mut moves: ArrayVec<[f64; 3], MAX_PHASES> = ArrayVec::new();
        for (phase, &i) in self.phases.iter().zip(&at.i) {
            let b = phase.balance(&phase.reactance(w), i);
            let amplitude = b.power / q;
            let source = 2.0 * SQUARE_WAVE * amplitude / q;
            let slope = b.e_by_i - source * b.power_by_i;
            let e = b.e - SQUARE_WAVE * amplitude * amplitude;
            // i moves by base + by_q·dq + by_w·dw.
            let step =
                [-e, -source * amplitude, source * b.power_by_w - b.e_by_w].map(|x| x / slope);
            let own = [b.power, 0.0, b.power_by_w];
            for n in 0..3 {
                power[n] += own[n] + b.power_by_i * step[n];
                current[n] += phase.gain * (step[n] + if n == 0 { i } else { 0.0 });
            }
            moves.push(step);
        }
        let (p_q, p_w) = (power[1] - self.input, power[2]);
        let missing = (q * self.input - power[0], self.output_current - current[0]);
        let determinant = p_q * current[2] - p_w * current[1];
        let dq = (missing.0 * current[2] - p_w * missing.1) / determinant;
        let dw = (p_q * missing.1 - missing.0 * current[1]) / determinant;
        let stride = (10.0 * dw / w).abs().max((2.0 * dq / q).abs()).max(1.0);
        let mut size = (dw / w).abs().max((dq / q).abs());
        for (i, step) in at.i.iter_mut().zip(&moves) {
            let di = (step[0] + step[1] * dq + step[2] * dw) / stride;
            size = size.max(di.abs() / (i.abs() + 1e-3 * q));
            *i += di;
        }
        at.q += dq / stride;
        at.w += dw / stride;
        let conducting = at.i.iter().all(|i| *i > 0.0 && i.is_finite());
        conducting.then_some((if stride > 1.0 { f64::INFINITY } else { size }, determinant / p_q))
    }

    /// From the highest frequency down to the first that delivers the current, then between the two.
    fn search(&self) -> Option<AveragedStart> {
        let (low, high) = self.band;
        let ratio = libm::pow(low / high, 1.0 / f64::from(SEARCH_STEPS));
        let mut before = self.settle(high);
        if self.current(&before) >= self.output_current {
            return None;
        }
        for n in 1..=SEARCH_STEPS {
            let now = self.settle(high * ratio.powi(n));
            if self.current(&now) >= self.output_current {
                return self.inside(&now).or_else(|| Some(self.close_in(now.w, before.w)));
            }
            before = now;
        }
        None
    }

    /// Between a frequency with enough current and a higher one with too little.
    fn close_in(&self, enough: f64, little: f64) -> AveragedStart {
        let missing = |w: f64| self.output_current - self.current(&self.settle(w));
        self.settle(sign_change(missing, [enough, little])[0])
    }

    fn current(&self, at: &AveragedStart) -> f64 {
        self.phases.iter().zip(&at.i).map(|(phase, i)| phase.gain * i).sum()
    }

    /// The steady state at a given frequency.
    fn settle(&self, w: f64) -> AveragedStart {
        let q = match self.arrangement {
            Arrangement::Paralleled => 0.0,
            Arrangement::Chain => self.input_current(w),
        };
        let i = self.phases.iter().map(|phase| {
            let z = phase.reactance(w);
            let amplitude = match self.arrangement {
                Arrangement::Paralleled => self.amplitude(),
                Arrangement::Chain => phase.amplitude_for(&z, q, self.input),
            };
            phase.rectified(&z, amplitude).unwrap_or(0.0)
        });
        AveragedStart { w, q, i: i.collect() }
    }

    /// The mean input current at which a chain's amplitudes sum to the input.
    fn input_current(&self, w: f64) -> f64 {
        let sum = |q: f64| -> f64 {
            let of = |p: &HarmonicPhase| p.amplitude_for(&p.reactance(w), q, self.input);
            self.phases.iter().map(of).sum()
        };
        // Without loss, phases that do not conduct draw nothing even on more than the input.
        if sum(0.0) >= self.input {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, self.output_current);
        while sum(high) < self.input {
            (low, high) = (high, 2.0 * high);
            if !high.is_finite() {
                return low;
            }
        }
        sign_change(|q| sum(q) - self.input, [low, high])[1]
    }

    fn steady_state(
        &self,
        at: &AveragedStart,
        converter: &Converter,
        point: &OperatingPoint,
    ) -> SteadyState {
        let state = |k: usize| {
            let phase = &self.phases[k];
            let z = phase.reactance(at.w);
            let amplitude = match self.arrangement {
                Arrangement::Paralleled => self.amplitude(),
                Arrangement::Chain if at.i[k] > 0.0 => phase.balance(&z, at.i[k]).power / at.q,
                Arrangement::Chain => phase.amplitude_for(&z, at.q, self.input),
            };
            self.phase_state(k, at, amplitude, converter, point)
        };
        let mut phases: ArrayVec<PhaseState, MAX_PHASES> =
            (0..self.phases.len()).map(state).collect();
        if self.arrangement == Arrangement::Chain {
            cancel_low_sides(&mut phases, point.drive);
        }
        SteadyState { switching_frequency: Hertz(at.w / TAU), phases }
    }

    fn phase_state(
        &self,
        k: usize,
        at: &AveragedStart,
        amplitude: f64,
        converter: &Converter,
        point: &OperatingPoint,
    ) -> PhaseState {
        let phase = &self.phases[k];
        let z = phase.reactance(at.w);
        let i = at.i[k];
        let (peak, power) = if i > 0.0 {
            (libm::hypot(i, phase.winding / z.xm), phase.balance(&z, i).power)
        } else {
            (phase.idle_current(&z, amplitude), phase.power(&z, amplitude))
        };
        // Half a period moves Q = π P/(w W).
        let charge = 2.0 * FRAC_PI_2 * power / (at.w * amplitude);
        let swing = match self.arrangement {
            Arrangement::Paralleled => 0.0,
            Arrangement::Chain => {
                let resonant = 1.0 / converter.tanks[k].resonant_capacitance.0;
                charge * (phase.elastance - resonant) / 2.0
            }
        };
        // A sine of this peak that lags by φ returns (1 − cos φ) peak/w; Q = 2 cos φ peak/w.
        let returned = (peak / at.w - charge / 2.0).max(0.0);
        let half = SwitchCurrent { rms: Ampere(peak / 2.0), peak: Ampere(peak) };
        let rms_current = Ampere(peak * FRAC_1_SQRT_2);
        let whole = SwitchCurrent { rms: rms_current, peak: Ampere(peak) };
        let (return_high, return_low) = match point.drive {
            // Held on: it carries both halves.
            Drive::HalfBridge => (SwitchCurrent::default(), whole),
            Drive::FullBridge => (half, half),
        };
        PhaseState {
            output_current: Ampere(phase.gain * i),
            mean_abs_current: Ampere(FRAC_2_PI * peak),
            rms_current,
            peak_current: Ampere(peak),
            charge,
            charge_range: [(-returned, charge); 2],
            start_voltage: Volt((amplitude + swing) / point.drive.amplitude()),
            start: None,
            switches: Switches { high: half, low: half, return_high, return_low },
        }
    }
}

/// A low side of a chain carries the difference of its own and the next phase's current. Both
/// are sines of one frequency with equal in-phase parts, so only the reactive parts differ.
fn cancel_low_sides(phases: &mut [PhaseState], drive: Drive) {
    for k in 1..phases.len() {
        let reactive = |p: &PhaseState| {
            let peak = p.peak_current.0;
            // Q = 2 cos φ · peak/w and ∫|i| of half a period is 2 peak/w.
            let full = p.charge - 2.0 * p.charge_range[0].0;
            peak * (1.0 - (p.charge / full).powi(2)).max(0.0).sqrt()
        };
        let peak = (reactive(&phases[k - 1]) - reactive(&phases[k])).abs();
        let low = SwitchCurrent { rms: Ampere(peak / 2.0), peak: Ampere(peak) };
        phases[k - 1].switches.low = low;
        if drive == Drive::FullBridge {
            phases[k - 1].switches.return_low = low;
        }
    }
}
