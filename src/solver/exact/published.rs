//! Published and closed-form states of a phase at a given frequency, which a regulated converter
//! cannot be asked for: waveforms inside the half period, and operation below resonance.

use std::f64::consts::PI;

use super::cycle::{PerUnitPhase, PhaseUnknowns};
use super::half::{HalfCircuit, Help, Hints, StartState, Stretch};
use super::waveform::Integrals;
use crate::solver::effort::Effort;

/// A lossless phase on an ideal square-wave source, rectifier on a stiff output. SI units.
#[derive(Clone, Copy)]
struct Circuit {
    lr: f64,
    cr: f64,
    lm: f64,
    /// Half the source's swing.
    amplitude: f64,
    /// Primary voltage at which the rectifier conducts.
    clamp: f64,
    period: f64,
}

/// Its steady state over the half period in which the source is high. SI units.
struct SettledCircuit {
    circuit: HalfCircuit,
    /// Of one per-unit current, voltage and time.
    ampere: f64,
    volt: f64,
    second: f64,
    /// Mean rectified primary current.
    rectified: f64,
    /// Capacitor voltage at the start.
    capacitor: f64,
    stretches: Vec<Stretch>,
}

impl Circuit {
    fn settle(&self) -> SettledCircuit {
        let (ohm, second) = ((self.lr / self.cr).sqrt(), (self.lr * self.cr).sqrt());
        let (volt, ampere) = (self.amplitude, self.amplitude / ohm);
        let effort = Effort::default();
        let half = HalfCircuit::new(1.0, self.lm / self.lr, 1.0, 0.0, self.clamp / volt);
        let phase = PerUnitPhase::new([half, half], 1.0, 1.0, &effort);
        let h = 0.5 * self.period / second;
        let start = PhaseUnknowns::new(0.0, 0.0, 1.0, 1.0);
        let settled = phase.settle_at_amplitude(&start, 1.0, h).unwrap();
        let z = settled.z;
        let mut stretches = Vec::new();
        let start = StartState { d: z[0], im: z[1], e: z[2] };
        let help = Help { hints: &Hints::default(), effort: &effort };
        half.trace(start, h, help, |s| stretches.push(s)).unwrap();
        SettledCircuit {
            circuit: half,
            ampere,
            volt,
            second,
            rectified: settled.cycle.output.value * ampere,
            capacitor: (1.0 - z[2]) * volt,
            stretches,
        }
    }
}

impl Circuit {
    /// The clamp voltage, and the steady state there, at which a resistor of `resistance` across
    /// the clamp carries the rectified current; between the two clamp voltages given.
    fn on_load(&self, resistance: f64, clamps: [f64; 2]) -> (f64, SettledCircuit) {
        let [mut low, mut high] = clamps;
        for _ in 0..60 {
            let clamp = 0.5 * (low + high);
            let rectified = Self { clamp, ..*self }.settle().rectified;
            if rectified * resistance > clamp { low = clamp } else { high = clamp }
        }
        (low, Self { clamp: low, ..*self }.settle())
    }
}

impl SettledCircuit {
    fn integrals(&self) -> Integrals {
        let mut sum = Integrals::default();
        for stretch in &self.stretches {
            sum += stretch.integrals(&self.circuit);
        }
        sum
    }

    fn peak(&self) -> f64 {
        self.integrals().peak * self.ampere
    }

    fn rms(&self) -> f64 {
        let time: f64 = self.stretches.iter().map(|s| s.duration).sum();
        (self.integrals().square / time).sqrt() * self.ampere
    }

    /// Root mean square of the rectifier's current, seen from the primary: by the trapezoidal rule,
    /// as nothing else here needs it.
    fn rectifier_rms(&self) -> f64 {
        const STEPS: u32 = 20_000;
        let (mut square, mut time) = (0.0, 0.0);
        for s in &self.stretches {
            let (ring, slope) = (self.circuit.ring(s.sign), self.circuit.magnetising_slope(s.sign));
            let rectified = |n: u32| {
                let t = s.duration * f64::from(n) / f64::from(STEPS);
                let tank = s.current(ring).at(ring.basis(t));
                if s.sign == 0 { 0.0 } else { tank - s.im - slope * t }
            };
            let ends = rectified(0).powi(2) + rectified(STEPS).powi(2);
            let inner: f64 = (1..STEPS).map(|n| rectified(n).powi(2)).sum();
            square += (inner + 0.5 * ends) * s.duration / f64::from(STEPS);
            time += s.duration;
        }
        (square / time).sqrt() * self.ampere
    }

    /// Peak of the magnetising current: a straight line while the rectifier conducts, the tank
    /// current while it does not.
    fn magnetising_peak(&self) -> f64 {
        let peak = |s: &Stretch| {
            let off = if s.sign == 0 { s.integrals(&self.circuit).peak } else { 0.0 };
            s.im.abs().max(off)
        };
        self.stretches.iter().map(peak).fold(0.0, f64::max) * self.ampere
    }

    fn capacitor_peak(&self, cr: f64) -> f64 {
        let sum = self.integrals();
        let at = |charge: f64| (self.capacitor + charge * self.ampere * self.second / cr).abs();
        at(sum.low).max(at(sum.high))
    }
}

fn close(what: &str, found: f64, published: f64, tolerance: f64) {
    assert!((found - published).abs() <= tolerance, "{what}: {found} against {published}");
}

/// H. Huang, "Designing an LLC resonant half-bridge power converter", seminar SEM1900 topic 3
/// (2010), worked example: 390 V half bridge, n = 16, Lr 60 µH, Lm 210 µH, Cr 27.3 nF, 0.48 Ω.
const TURNS: f64 = 16.0;
const LOAD: f64 = TURNS * TURNS * 0.48;

fn huang(frequency: f64) -> Circuit {
    Circuit {
        lr: 60e-6,
        cr: 27.3e-9,
        lm: 210e-6,
        amplitude: 195.0,
        clamp: 195.0,
        period: 1.0 / frequency,
    }
}

/// Huang's (2010) example solved exactly with a general-purpose numerical library: kHz, output
/// voltage, rms, peak, magnetising peak, capacitor's ac peak. Tolerance: half the last digit, and
/// as much again for the library's own.
#[test]
fn huang_2010_example_solved_exactly_at_given_frequencies() {
    for (khz, vo, rms, peak, magnetising, capacitor) in [
        (100.0, 14.765_413, 2.933_88, 4.339_54, 2.322_98, 244.687),
        (115.0, 12.935_861, 2.405_44, 3.444_35, 2.031_76, 173.448),
        (130.0, 11.800_994, 2.122_79, 2.991_17, 1.729_08, 134.044),
        (150.0, 10.606_074, 1.880_17, 2.698_28, 1.346_80, 101.194),
    ] {
        let (clamp, state) = huang(khz * 1e3).on_load(LOAD, [100.0, 300.0]);
        close("output", clamp / TURNS, vo, 1e-6);
        close("rms", state.rms(), rms, 1e-5);
        close("peak", state.peak(), peak, 1e-5);
        close("magnetising peak", state.magnetising_peak(), magnetising, 1e-5);
        close("capacitor peak", state.capacitor_peak(27.3e-9), capacitor, 1e-3);
    }
}

/// The same example at 25 A and at its resonance, without loss: a half sine plus a triangle, all in
/// closed form (derived; no one source). The sine's amplitude is π/2 times the load's current as
/// the primary sees it; the triangle's peak is Vp T/(4 Lm). The tank's currents there are checked
/// from outside, in `tests/published/huang_2010.rs`.
///
/// At resonance itself every current satisfies the equations. So the limit from above it: two
/// frequencies, extrapolated; what is left is of the order of the distance squared, 1e-8.
#[test]
fn rectifier_current_at_resonance_in_closed_form() {
    let (load, clamp): (f64, f64) = (25.0 / TURNS, 195.0);
    let resonance = 0.5 / (PI * (60e-6 * 27.3e-9_f64).sqrt());
    let at = |distance: f64| {
        let circuit = huang(resonance * (1.0 + distance));
        let (output, state) = circuit.on_load(clamp / load, [194.0, 196.0]);
        [output, state.rectifier_rms()]
    };
    let (near, far) = (at(1e-4), at(2e-4));
    let [output, rectifier] = std::array::from_fn(|n| 2.0 * near[n] - far[n]);
    close("output", output / clamp, 1.0, 1e-6);
    let (sine, triangle) = (0.5 * PI * load, clamp / (4.0 * 210e-6 * resonance));
    let mixed = triangle.powi(2) * (5.0 / 6.0 - 8.0 / (PI * PI));
    let closed = (0.5 * sine.powi(2) + mixed).sqrt();
    close("rectifier's rms", rectifier / closed, 1.0, 1e-6);
}

/// Z. Guo and Z. Huang, LLC small-signal modelling repository (2024): full bridge, 60 V, n = 1,
/// Lr 24 µH, Cr 365 nF, Lm 60 µH, 40 Ω.
fn guo_huang(period: f64) -> Circuit {
    Circuit { lr: 24e-6, cr: 365e-9, lm: 60e-6, amplitude: 60.0, clamp: 60.0, period }
}

/// The period's last digit, 5e-13 s of 15.4e-6, moves voltages by some 1e-6 V and the conducting
/// time by as much as itself.
#[test]
fn guo_huang_2024_state_where_the_rectifier_current_passes_zero() {
    let (output, state) = guo_huang(15.384_615e-6).on_load(40.0, [30.0, 90.0]);
    close("output", output, 51.392_131, 2e-6);
    let [negative, positive] = &state.stretches[..] else { panic!("two stretches") };
    assert_eq!((negative.sign, positive.sign), (-1, 1));
    close("current", positive.i * state.ampere, -3.294_367_29, 3e-7);
    // There u = source − capacitor − clamp.
    let capacitor = 60.0 - output - positive.u * state.volt;
    close("capacitor", capacitor, -13.538_497_28, 2e-6);
    close("conducting", positive.duration * state.second * 1e6, 7.504_764, 1e-6);
}

/// The publication has the rectifier conduct from the switching instant on, and prints
/// Vo = 81.5794 V. But there the blocked winding is below the output voltage; with conduction from
/// where the winding reaches it, recomputed with a general-purpose numerical library, Vo is
/// 81.38892494 V.
#[test]
fn guo_huang_2024_conduction_that_starts_late() {
    let (output, state) = guo_huang(23.255_81e-6).on_load(40.0, [60.0, 120.0]);
    close("output", output, 81.388_924_94, 1e-7);
    let [blocked, conducting, off] = &state.stretches[..] else { panic!("three stretches") };
    assert_eq!((blocked.sign, conducting.sign, off.sign), (0, 1, 0));
    close("blocked", blocked.duration * state.second * 1e6, 0.547, 5e-4);
    let winding = blocked.u * state.volt * 60.0 / 84.0;
    assert!(winding < output - 5.0, "the winding stands at {winding} V");
}

/// R. W. Erickson and D. Maksimović, Fundamentals of Power Electronics, chapter on resonant
/// conversion, exact characteristics of the series resonant converter (equations from memory):
/// with γ = π f0/fs, ξ = k + (1 + (−1)^k)/2,
/// M²ξ² sin²(γ/2) + (Jγ/2 + (−1)^k)² cos²(γ/2)/ξ² = 1. It is the limit of a large magnetising
/// inductance: at 1e9 Lr the magnetising current is 1e-9 of the unit Vg/R0.
fn series_resonant(ratio: f64, m: f64, lm: f64) -> Circuit {
    Circuit { lr: 1.0, cr: 1.0, lm, amplitude: 1.0, clamp: m, period: 2.0 * PI / ratio }
}

/// Columns: fs/f0, k, M, J, peak and rms in units of Vg/R0. J from the published relation; peak
/// and rms recomputed with a general-purpose numerical library at Lm = 1e6 Lr, to half their last
/// digit and as much again for the library. For k = 1 the peak is Jγ/2 − (1 − M) in closed form.
#[test]
fn erickson_maksimovic_continuous_conduction() {
    for (ratio, k, m, j, peak, rms) in [
        (0.75, 1, 0.5, 1.338_226_791, 2.302_776, 1.500_954),
        (0.60, 1, 0.7, 0.795_137_605, 1.781_666, 0.994_812),
        (0.90, 1, 0.9, 2.100_839_019, 3.566_659, 2.401_497),
        (1.20, 0, 0.5, 1.820_643_130, 2.883_216, 2.031_640),
        (1.20, 0, 0.8, 1.109_534_331, 1.652_376, 1.220_751),
        (1.50, 0, 0.6, 0.676_854_857, 1.108_800, 0.758_788_f64),
    ] {
        // The published relation itself holds the table's digits.
        let (gamma, sign) = (PI / ratio, if k == 0 { 1.0 } else { -1.0 });
        let xi = f64::from(k) + 0.5 * (1.0 + sign);
        let (sin, cos) = (0.5 * gamma).sin_cos();
        let radius = (m * xi * sin).powi(2) + ((0.5 * j * gamma + sign) * cos / xi).powi(2);
        close("ellipse", radius, 1.0_f64, 3e-9);
        let recomputed = series_resonant(ratio, m, 1e6).settle();
        close("peak", recomputed.peak(), peak, 1e-6);
        close("rms", recomputed.rms(), rms, 1e-6);
        let state = series_resonant(ratio, m, 1e9).settle();
        close("J", state.rectified, j, 3e-9);
        if k == 1 {
            close("peak in closed form", state.peak(), 0.5 * j * gamma - (1.0 - m), 5e-9);
        }
    }
}

/// The same text's discontinuous mode k = 2, where J = 4/γ whatever M: an output voltage cannot
/// select a frequency's current there, so the frequency is given.
#[test]
fn erickson_maksimovic_discontinuous_conduction() {
    for m in [0.35, 0.4, 0.45, 0.48] {
        let state = series_resonant(0.4, m, 1e9).settle();
        close("J", state.rectified, 0.509_295_817_894, 1e-12);
    }
}
