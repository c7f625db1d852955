//! What loads every part: against small steps through the differential equations of every phase, and
//! against closed forms of a sine.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, PI, SQRT_2};

use crate::cases::{converter, operating_point};
use fairphase::converter::{
    Arrangement, AssumedDrift, Condition, Converter, Drive, FrequencyBand, OperatingPoint,
    RatedPart, Rating, Rectifier, Stress, Tank,
};
use fairphase::solver::{Case, Method, Outcome, SteadyState, chain_voltages};
use fairphase::study::common::figures::{Figure, SolvedConverter};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};
use serde_json::Value;

/// Steps of half a period. Rectifier events fall between steps: an error of some 1e-4.
const STEPS: usize = 20_000;

fn solved(converter: &Converter, point: &OperatingPoint, arrangement: Arrangement) -> SteadyState {
    let band = FrequencyBand { minimum: Hertz(20e3), maximum: Hertz(2e6) };
    let case = Case::new(point.clone(), band, arrangement).with_stress();
    match Method::Exact.solve(converter, &case) {
        Outcome::Solved(state) => state,
        other => panic!("{}", other.name()),
    }
}

/// One phase over a whole period: tank, magnetising current, capacitor voltage, charge since the start
/// of the half, in equal steps, by the classical Runge–Kutta method.
struct Steps {
    tank: Vec<f64>,
    magnetising: Vec<f64>,
    capacitor: Vec<f64>,
    charge: Vec<f64>,
}

struct Phase<'a> {
    tank: &'a Tank,
    clamp: f64,
    /// Source at the start of each half, and what it loses per coulomb.
    source: [f64; 2],
    kappa: [f64; 2],
    half_period: f64,
}

impl Phase<'_> {
    fn rates(&self, x: [f64; 4], half: usize, sign: f64) -> [f64; 4] {
        let [i, _, capacitor, charge] = x;
        let net = self.source[half]
            - self.kappa[half] * charge
            - capacitor
            - self.tank.series_resistance.0 * i;
        let (lr, lm) = (self.tank.resonant_inductance.0, self.tank.magnetising_inductance.0);
        let current = i / self.tank.resonant_capacitance.0;
        if sign == 0.0 {
            let rate = net / (lr + lm);
            return [rate, rate, current, i];
        }
        [(net - sign * self.clamp) / lr, sign * self.clamp / lm, current, i]
    }

    /// The rectifier's state: it conducts until its current is back at zero, and starts where the
    /// blocked winding's voltage passes the clamp.
    fn next_sign(&self, x: &mut [f64; 4], half: usize, sign: f64) -> f64 {
        if sign != 0.0 && sign * (x[0] - x[1]) > 0.0 {
            return sign;
        }
        x[1] = x[0];
        let net = self.source[half]
            - self.kappa[half] * x[3]
            - x[2]
            - self.tank.series_resistance.0 * x[0];
        let (lr, lm) = (self.tank.resonant_inductance.0, self.tank.magnetising_inductance.0);
        let winding = lm / (lr + lm) * net;
        if winding.abs() > self.clamp { winding.signum() } else { 0.0 }
    }

    fn run(&self, start: [f64; 3]) -> Steps {
        let mut steps = Steps {
            tank: Vec::new(),
            magnetising: Vec::new(),
            capacitor: Vec::new(),
            charge: Vec::new(),
        };
        let h = self.half_period / STEPS as f64;
        let mut x = [start[0], start[1], start[2], 0.0];
        let rest = (start[0] - start[1]).abs() < 1e-9 * start[0].abs();
        let mut sign = if rest { 0.0 } else { (start[0] - start[1]).signum() };
        for half in 0..2 {
            x[3] = 0.0;
            for _ in 0..STEPS {
                sign = self.next_sign(&mut x, half, sign);
                steps.tank.push(x[0]);
                steps.magnetising.push(x[1]);
                steps.capacitor.push(x[2]);
                steps.charge.push(x[3]);
                let add = |k: [f64; 4], f: f64| std::array::from_fn(|n| x[n] + f * h * k[n]);
                let k1 = self.rates(x, half, sign);
                let k2 = self.rates(add(k1, 0.5), half, sign);
                let k3 = self.rates(add(k2, 0.5), half, sign);
                let k4 = self.rates(add(k3, 1.0), half, sign);
                x = std::array::from_fn(|n| {
                    x[n] + h / 6.0 * (k1[n] + 2.0 * k2[n] + 2.0 * k3[n] + k4[n])
                });
            }
        }
        steps
    }
}

fn steps(
    state: &SteadyState,
    converter: &Converter,
    point: &OperatingPoint,
    arrangement: Arrangement,
) -> Vec<Steps> {
    let of_phase = |k: usize| {
        let (tank, phase) = (&converter.tanks[k], &state.phases[k]);
        let clamp = point.rectifier.clamp_voltage(
            tank.turns_ratio,
            point.output_voltage,
            tank.rectifier_drop,
        );
        let v = phase.start_voltage.0;
        let low = if point.drive == Drive::FullBridge { -v } else { 0.0 };
        let at = phase.start.unwrap();
        let start = [at.tank_current.0, at.magnetising_current.0, at.capacitor_voltage.0];
        let kappa = converter.flying_elastance(k, arrangement, point.drive);
        let half_period = 0.5 / state.switching_frequency.0;
        Phase { tank, clamp, source: [v, low], kappa, half_period }.run(start)
    };
    (0..converter.phases()).map(of_phase).collect()
}

fn highest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::NEG_INFINITY, f64::max)
}

fn rms(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    (values.map(|x| x * x).sum::<f64>() / n).sqrt()
}

fn close(what: &str, found: f64, expected: f64, scale: f64) {
    let error = (found - expected).abs() / scale;
    assert!(error < 2e-3, "{what}: {found} against {expected} ({error:.1e})");
}

/// Output current of all phases over the period of phase 1: even phases are half a period later. Of a
/// doubler the current of the upper and of the lower capacitor.
fn outputs(all: &[Steps], converter: &Converter, rectifier: Rectifier) -> Vec<Vec<f64>> {
    let over_period = |counts: fn(f64) -> f64| {
        let at = |n: usize| {
            let of_phase = |(k, steps): (usize, &Steps)| {
                let m = (n + k % 2 * STEPS) % (2 * STEPS);
                let d = steps.tank[m] - steps.magnetising[m];
                converter.tanks[k].turns_ratio * counts(d)
            };
            all.iter().enumerate().map(of_phase).sum::<f64>()
        };
        (0..2 * STEPS).map(at).collect::<Vec<f64>>()
    };
    match rectifier {
        Rectifier::VoltageDoubler => {
            vec![over_period(|d| d.max(0.0)), over_period(|d| (-d).max(0.0))]
        }
        _ => vec![over_period(f64::abs)],
    }
}

/// Every design of `tests/data/solved_converters.json`, in both arrangements.
#[test]
fn loads_agree_with_small_steps() {
    let file: Value = serde_json::from_str(include_str!("../data/solved_converters.json")).unwrap();
    for json in file["cases"].as_array().unwrap() {
        let (parts, point) = (converter(json), operating_point(json));
        for arrangement in Arrangement::ALL {
            let what = format!("{} {}", point.name, arrangement.name());
            let state = solved(&parts, &point, arrangement);
            let all = steps(&state, &parts, &point, arrangement);
            for (phase, steps) in state.phases.iter().zip(&all) {
                let rectified = steps.tank.iter().zip(&steps.magnetising).map(|(i, im)| i - im);
                let (stress, peak) = (phase.stress.unwrap(), phase.peak_current.0);
                let all = rms(rectified.clone());
                close(&what, phase.rectified_rms_current().0, all, peak);
                for (half_wave, sign) in phase.half_waves.iter().zip([1.0, -1.0]) {
                    let own = rectified.clone().map(|d| (sign * d).max(0.0));
                    close(&what, half_wave.rms.0, rms(own.clone()), peak);
                    close(&what, half_wave.mean.0, own.sum::<f64>() / (2 * STEPS) as f64, peak);
                }
                close(&what, stress.rectifier_peak.0, highest(rectified.map(f64::abs)), peak);
                let magnetising = highest(steps.magnetising.iter().map(|x| x.abs()));
                close(&what, stress.magnetising_peak.0, magnetising, peak);
                let capacitor = highest(steps.capacitor.iter().map(|x| x.abs()));
                let found = stress.capacitor_range.map(|end| end.0.abs());
                close(&what, found[0].max(found[1]), capacitor, capacitor);
                let halves = steps.charge.chunks(STEPS).zip([1.0, -1.0]);
                for ((half, direction), found) in halves.zip(stress.mean_charge) {
                    let mean = direction * half.iter().sum::<f64>() / STEPS as f64;
                    close(&what, found, mean, phase.charge);
                }
            }
            let ripples = outputs(&all, &parts, point.rectifier).into_iter().map(|output| {
                let mean = output.iter().sum::<f64>() / output.len() as f64;
                let lowest = -highest(output.iter().map(|x| -x));
                [rms(output.iter().map(|x| x - mean)), highest(output.iter().copied()) - lowest]
            });
            let expected = ripples.reduce(|a, b| [a[0].max(b[0]), a[1].max(b[1])]).unwrap();
            let found = state.output_ripple.unwrap();
            close(&what, found.rms.0, expected[0], point.output_current.0);
            close(&what, found.peak_to_peak.0, expected[1], point.output_current.0);
        }
    }
}

/// Switches, capacitors and inductors of every design: what each carries follows from the same steps by
/// Kirchhoff's laws.
#[test]
fn ratings_follow_from_small_steps() {
    let file: Value = serde_json::from_str(include_str!("../data/solved_converters.json")).unwrap();
    for json in file["cases"].as_array().unwrap() {
        let (parts, point) = (converter(json), operating_point(json));
        let state = solved(&parts, &point, Arrangement::Chain);
        let all = steps(&state, &parts, &point, Arrangement::Chain);
        let measured = SolvedConverter::new(
            &state,
            &parts,
            &point,
            Arrangement::Chain,
            &AssumedDrift::Stated(Volt(0.0)),
        );
        let value = |part, stress| measured.value(Figure::Rating(Rating { part, stress }));
        let n = parts.phases();
        // A low switch carries its own phase and the next one, which is half a period ahead.
        let low = |k: usize| -> Vec<f64> {
            let at =
                |m: usize| all[k].tank[m] + all.get(k + 1).map_or(0.0, |next| next.tank[m - STEPS]);
            (STEPS..2 * STEPS).map(at).collect()
        };
        let scale = state.phases[0].peak_current.0;
        let inner: Vec<Vec<f64>> = (0..n - 1).map(low).collect();
        let over_period = |wave: &Vec<f64>| rms(wave.iter().copied()) * FRAC_1_SQRT_2;
        let what = &point.name;
        let part = RatedPart::InnerLowSwitch;
        if parts.flying == parts.flying_return || point.drive == Drive::HalfBridge {
            close(
                what,
                value(part, Stress::RmsCurrent),
                highest(inner.iter().map(over_period)),
                scale,
            );
            let mean =
                |wave: &Vec<f64>| wave.iter().map(|i| i.abs()).sum::<f64>() / (2 * STEPS) as f64;
            close(what, value(part, Stress::MeanCurrent), highest(inner.iter().map(mean)), scale);
            let last = highest(inner.iter().map(|wave| wave[STEPS - 1].abs()));
            close(what, value(part, Stress::TurnOffCurrent), last, scale);
            let capacitor = |k: usize| {
                let halves = [&all[k].tank[..STEPS], &all[k + 1].tank[..STEPS]];
                rms(halves.concat().into_iter())
            };
            for k in 0..n - 1 {
                let part = RatedPart::FlyingCapacitor(k);
                close(what, value(part, Stress::RmsCurrent), capacitor(k), scale);
            }
        }
        let first = &all[0].tank[..STEPS];
        let high = rms(first.iter().copied()) * FRAC_1_SQRT_2;
        close(what, value(RatedPart::FirstHighSwitch, Stress::RmsCurrent), high, scale);
        let interrupted = first[STEPS - 1].abs();
        close(what, value(RatedPart::FirstHighSwitch, Stress::TurnOffCurrent), interrupted, scale);
        let flux = parts.tanks.iter().zip(&all).map(|(tank, steps)| {
            tank.magnetising_inductance.0 * highest(steps.magnetising.iter().map(|x| x.abs()))
        });
        let flux = highest(flux);
        close(what, value(RatedPart::Transformer, Stress::VoltSeconds), flux, flux);
    }
}

/// In half-bridge drive flying capacitors take part in one half of the period alone. So the half waves differ, and
/// the diodes of the larger one are those to be rated.
#[test]
fn diodes_are_rated_for_the_larger_half_wave() {
    let file: Value = serde_json::from_str(include_str!("../data/solved_converters.json")).unwrap();
    let mut most = 0.0_f64;
    for json in file["cases"].as_array().unwrap() {
        let (parts, point) = (converter(json), operating_point(json));
        let state = solved(&parts, &point, Arrangement::Chain);
        let drift = AssumedDrift::Stated(Volt(0.0));
        let own = SolvedConverter::new(&state, &parts, &point, Arrangement::Chain, &drift);
        let all = steps(&state, &parts, &point, Arrangement::Chain);
        let diodes = Diodes::of(&all, &parts);
        for (stress, exact) in
            [(Stress::RmsCurrent, diodes.rms), (Stress::MeanCurrent, diodes.mean)]
        {
            let part = RatedPart::Rectifier;
            let told = own.value(Figure::Rating(Rating { part, stress }));
            close(&point.name, told, exact, SQRT_2 * diodes.rms);
        }
        most = most.max(diodes.difference);
    }
    assert!(most > 0.02, "half waves differ by {most} at most");
}

/// What the diodes of any phase carry at most, and by how much those of its half waves differ, relatively.
struct Diodes {
    rms: f64,
    mean: f64,
    difference: f64,
}

impl Diodes {
    fn of(all: &[Steps], parts: &Converter) -> Self {
        let mut most = Self { rms: 0.0, mean: 0.0, difference: 0.0 };
        for (steps, tank) in all.iter().zip(&parts.tanks) {
            let secondary = steps.tank.iter().zip(&steps.magnetising);
            let secondary = secondary.map(|(i, im)| tank.turns_ratio * (i - im));
            let means = [1.0, -1.0].map(|sign| {
                let own = secondary.clone().map(|d| (sign * d).max(0.0));
                let mean = own.clone().sum::<f64>() / (2 * STEPS) as f64;
                most.rms = most.rms.max(rms(own));
                most.mean = most.mean.max(mean);
                mean
            });
            most.difference = most.difference.max((means[0] / means[1] - 1.0).abs());
        }
        most
    }
}

/// A high switch between two flying capacitors blocks what these differ by while both are discharged: in small
/// steps of the charges of the phases that discharge them. What is told of it is never less, and mostly the same
/// to a tenth of the larger ripple.
#[test]
fn inner_high_switches_block_what_their_capacitors_differ_by() {
    let file: Value = serde_json::from_str(include_str!("../data/solved_converters.json")).unwrap();
    let mut apart = Vec::new();
    for json in file["cases"].as_array().unwrap() {
        let (parts, point) = (converter(json), operating_point(json));
        let state = solved(&parts, &point, Arrangement::Chain);
        let all = steps(&state, &parts, &point, Arrangement::Chain);
        let leg = &chain_voltages(&state, &parts, &point).legs[0];
        for k in 2..parts.phases() - 1 {
            let [a, b] = [k - 2, k].map(|node| parts.flying[node].0);
            let q = state.phases[k].charge;
            let before = |node: usize, c: f64| leg.flying[node].middle.0 + 0.5 * q / c;
            let at = |m: usize| {
                let [own, other] = [k - 1, k + 1].map(|phase| all[phase].charge[m]);
                before(k - 2, a) - own / a - before(k, b) + other / b
            };
            let exact = highest((0..STEPS).map(at));
            let (told, ripple) = (leg.high_blocking[k].0, q / a.min(b));
            assert!(told > exact - 1e-3 * ripple, "{}: {told} V, {exact} V", point.name);
            apart.push((told - exact) / ripple);
        }
    }
    apart.sort_by(f64::total_cmp);
    let (median, most) = (apart[apart.len() / 2], apart[apart.len() - 1]);
    assert!(apart.len() > 10 && median < 0.1 && most < 0.4, "{apart:?}");
}

/// A converter at resonance, without loss and with a large magnetising inductance: its tank currents
/// are sines of peak p. Each phase delivers 20 A.
struct Sine {
    parts: Converter,
    point: OperatingPoint,
    state: SteadyState,
}

impl Sine {
    fn new(rectifier: Rectifier, output: f64) -> Self {
        let tank = Tank {
            resonant_inductance: Henry(20e-6),
            resonant_capacitance: Farad(100e-9),
            magnetising_inductance: Henry(0.2),
            turns_ratio: 4.0,
            series_resistance: Ohm(0.0),
            rectifier_drop: Volt(0.0),
        };
        let parts = Converter::uniform(3, tank, Farad(1.0));
        let point = OperatingPoint {
            name: "sine".into(),
            input_voltage: Volt(360.0),
            // A hair below the gain of one: exactly at resonance the load is undetermined.
            output_voltage: Volt(output * (1.0 - 1e-6)),
            output_current: Ampere(60.0),
            drive: Drive::FullBridge,
            rectifier,
            condition: Condition::default(),
        };
        let state = solved(&parts, &point, Arrangement::Chain);
        Self { parts, point, state }
    }

    fn near(&self, part: RatedPart, stress: Stress, expected: f64) {
        let Self { parts, point, state } = self;
        let measured = SolvedConverter::new(
            state,
            parts,
            point,
            Arrangement::Chain,
            &AssumedDrift::Stated(Volt(0.0)),
        );
        let found = measured.value(Figure::Rating(Rating { part, stress }));
        let what = format!("{} {}", part.key(), stress.key());
        assert!((found / expected - 1.0).abs() < 2e-3, "{what}: {found} against {expected}");
    }

    /// Square waves of 120 V on the winding; the capacitor swings by p/(ω C).
    fn check_primary(&self) {
        let f = self.state.switching_frequency.0;
        self.near(RatedPart::Transformer, Stress::VoltSeconds, 120.0 / (4.0 * f));
        let swing = self.state.phases[0].peak_current.0 / (2.0 * PI * f * 100e-9);
        self.near(RatedPart::ResonantCapacitor, Stress::PeakVoltage, swing);
    }
}

/// Rectified, the sine's ripple is √(1/2 − 4/π²) p, which is √(π²/8 − 1) = 0.483 of the output current
/// (common practice for output capacitors, no source). Diodes carry half of the output current in the
/// mean and π/4 of it RMS; both halves of a tapped winding share what one would carry.
#[test]
fn both_half_waves_of_a_sine_in_closed_form() {
    for rectifier in [Rectifier::FullBridge, Rectifier::CentreTap] {
        let sine = Sine::new(rectifier, 30.0);
        let ripple = (PI * PI / 8.0 - 1.0).sqrt() * 60.0;
        sine.near(RatedPart::OutputCapacitor, Stress::RmsCurrent, ripple);
        sine.near(RatedPart::OutputCapacitor, Stress::PeakToPeakCurrent, 60.0 / FRAC_2_PI);
        sine.near(RatedPart::Rectifier, Stress::MeanCurrent, 10.0);
        sine.near(RatedPart::Rectifier, Stress::RmsCurrent, 5.0 * PI);
        sine.near(RatedPart::Rectifier, Stress::PeakCurrent, 20.0 / FRAC_2_PI);
        let is_tapped = rectifier == Rectifier::CentreTap;
        let (half, reverse) = if is_tapped { (FRAC_1_SQRT_2, 60.0) } else { (1.0, 30.0) };
        let secondary = half * 20.0 * PI / (2.0 * SQRT_2);
        sine.near(RatedPart::Transformer, Stress::SecondaryRmsCurrent, secondary);
        sine.near(RatedPart::Rectifier, Stress::ReverseVoltage, reverse);
        sine.check_primary();
    }
}

/// One capacitor of the doubler takes p sin ωt in one half from phases 1 and 3, in the other from phase
/// 2, where p/π = 20 A: mean 60 A, mean square (4 + 1) p²/4.
#[test]
fn one_half_wave_of_a_sine_in_closed_form() {
    let (sine, p) = (Sine::new(Rectifier::VoltageDoubler, 60.0), 20.0 * PI);
    let ripple = (5.0 / 4.0 * p * p - 3600.0).sqrt();
    sine.near(RatedPart::OutputCapacitor, Stress::RmsCurrent, ripple);
    sine.near(RatedPart::Rectifier, Stress::MeanCurrent, 20.0);
    sine.near(RatedPart::Rectifier, Stress::ReverseVoltage, 60.0);
    sine.near(RatedPart::Transformer, Stress::SecondaryRmsCurrent, p / SQRT_2);
    sine.check_primary();
}
