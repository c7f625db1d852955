//! The solvers against published worked examples and closed forms; one module a source.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::f64::consts::PI;

use fairphase::converter::{
    Arrangement, AssumedDrift, Converter, Drive, FrequencyBand, OperatingPoint, RatedPart, Rating,
    Rectifier, Stress, Tank,
};
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::study::common::figures::{Figure, SolvedConverter};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};

mod bouziani_2026;
mod common_practice;
mod erickson_maksimovic;
mod huang_2010;
mod millman_halkias;
mod series_capacitor_buck;

const BAND: FrequencyBand = FrequencyBand { minimum: Hertz(20e3), maximum: Hertz(500e3) };

fn lossless(lr: f64, cr: f64, lm: f64, turns_ratio: f64) -> Tank {
    Tank {
        resonant_inductance: Henry(lr),
        resonant_capacitance: Farad(cr),
        magnetising_inductance: Henry(lm),
        turns_ratio,
        series_resistance: Ohm(0.0),
        rectifier_drop: Volt(0.0),
    }
}

/// Half-bridge drive and a full-bridge rectifier.
fn operating(input: f64, output: f64, current: f64) -> OperatingPoint {
    OperatingPoint {
        name: String::new(),
        input_voltage: Volt(input),
        output_voltage: Volt(output),
        output_current: Ampere(current),
        drive: Drive::HalfBridge,
        rectifier: Rectifier::FullBridge,
        condition: fairphase::converter::Condition::default(),
    }
}

fn solved(outcome: Outcome) -> SteadyState {
    match outcome {
        Outcome::Solved(state) => state,
        other => panic!("{}", other.name()),
    }
}

fn exactly(converter: &Converter, point: &OperatingPoint, arrangement: Arrangement) -> SteadyState {
    solved(Method::Exact.solve(converter, &Case::new(point.clone(), BAND, arrangement)))
}

/// One phase by the averaged solver.
fn averaged_phase(tank: Tank, point: &OperatingPoint) -> SteadyState {
    let converter = Converter::uniform(1, tank, Farad(1.0));
    let case = Case::new(point.clone(), BAND, Arrangement::Paralleled);
    solved(Method::Averaged.solve(&converter, &case))
}

fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found} against {expected}");
}

/// A solved converter that tells what loads its parts.
struct LoadedConverter {
    converter: Converter,
    point: OperatingPoint,
    arrangement: Arrangement,
    state: SteadyState,
}

impl LoadedConverter {
    fn new(converter: Converter, point: OperatingPoint, arrangement: Arrangement) -> Self {
        let case = Case::new(point.clone(), BAND, arrangement).with_stress();
        let state = solved(Method::Exact.solve(&converter, &case));
        Self { converter, point, arrangement, state }
    }

    /// One phase on the whole input.
    fn single(tank: Tank, point: OperatingPoint) -> Self {
        Self::new(Converter::uniform(1, tank, Farad(1.0)), point, Arrangement::Paralleled)
    }

    fn load(&self, part: RatedPart, stress: Stress) -> f64 {
        let Self { converter, point, arrangement, state } = self;
        let measured = SolvedConverter::new(
            state,
            converter,
            point,
            *arrangement,
            &AssumedDrift::Stated(Volt(0.0)),
        );
        measured.value(Figure::Rating(Rating { part, stress }))
    }

    #[track_caller]
    fn near(&self, part: RatedPart, stress: Stress, expected: f64, tolerance: f64) {
        let what = format!("{} {}", part.key(), stress.key());
        close(&what, self.load(part, stress), expected, tolerance);
    }

    /// At least the published value, and above it by no more than the factor allows.
    #[track_caller]
    fn slightly_above(&self, part: RatedPart, stress: Stress, published: f64, most: f64) {
        let (found, rounding) = (self.load(part, stress), 1e-6 * published);
        let what = format!("{} {}: {found} against {published}", part.key(), stress.key());
        assert!(found >= published - rounding, "{what}");
        assert!(found <= published * most + rounding, "{what}, at most {most} times that");
    }
}

/// Of its peak, how near to zero the rectifier's current comes at resonance. There the tank is a short between
/// source and output: equations that hold to 1e-6 leave the sine's phase uncertain by some ten times that.
const ZERO_AT_RESONANCE: f64 = 1e-4;

/// A tank at its resonance, without loss, where the winding sees a square wave: a sine of peak `a` and a
/// triangle of peak `m`, on the primary side. With θ from 0 to π over half a period the tank carries
/// a sin θ − m cos θ, and the rectifier a sin θ + m (1 − cos θ − 2θ/π) (derived; no one source).
struct Resonance {
    sine: f64,
    triangle: f64,
}

impl Resonance {
    /// Of a phase that delivers `current` through a rectifier of both half waves.
    fn new(tank: &Tank, winding_voltage: f64, current: f64) -> Self {
        Self {
            sine: 0.5 * PI * current / tank.turns_ratio,
            triangle: winding_voltage
                / (4.0 * tank.magnetising_inductance.0 * tank.series_resonance().0),
        }
    }

    /// Mean square of the rectifier's current: a²/2 + m² (5/6 − 8/π²).
    fn rectified_square(&self) -> f64 {
        let mixed = 5.0 / 6.0 - 8.0 / (PI * PI);
        0.5 * self.sine.powi(2) + mixed * self.triangle.powi(2)
    }

    /// By how much the rectifier's RMS current lies above that of the sine alone, as a factor.
    fn rectified_factor(&self) -> f64 {
        (self.rectified_square() / (0.5 * self.sine.powi(2))).sqrt()
    }

    /// The same of the ripple: the mean square less the square of the mean, 2a/π.
    fn ripple_factor(&self) -> f64 {
        let mean = (2.0 * self.sine / PI).powi(2);
        let of_sine = 0.5 * self.sine.powi(2) - mean;
        ((self.rectified_square() - mean) / of_sine).sqrt()
    }

    /// The highest rectifier current, by a fine scan.
    fn rectified_peak(&self) -> f64 {
        const STEPS: u32 = 200_000;
        let rectified = |n: u32| {
            let angle = PI * f64::from(n) / f64::from(STEPS);
            self.sine * angle.sin() + self.triangle * (1.0 - angle.cos() - 2.0 * angle / PI)
        };
        (0..=STEPS).map(rectified).fold(0.0, f64::max)
    }

    /// Peak of the tank's current, √(a² + m²). Over ω C that is the peak of the capacitor's ac voltage.
    fn tank_peak(&self) -> f64 {
        self.sine.hypot(self.triangle)
    }

    /// By how much that lies above the peak of the fundamentals: the triangle's is 8/π² of it.
    fn tank_peak_factor(&self) -> f64 {
        self.tank_peak() / self.sine.hypot(8.0 / (PI * PI) * self.triangle)
    }
}
