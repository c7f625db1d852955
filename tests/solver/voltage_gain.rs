//! The output voltage at a given frequency: against published values, closed forms and scans.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::f64::consts::{FRAC_2_PI, PI, TAU};

use fairphase::converter::{
    Arrangement, Configuration, Converter, FrequencyBand, OperatingPoint, Tank, voltage_gain,
};
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Load, Method, Outcome, Reached, Sweep};
use fairphase::study::common::curve::{Curve, POINTS};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};

/// Invented: wide output, all four configurations.
const ELECTROLYSER: &str = include_str!("../../scenarios/electrolyser-supply.toml");

const HALF: Configuration = Configuration::ALL[0];
const FULL: Configuration = Configuration::ALL[1];
const HALF_DOUBLED: Configuration = Configuration::ALL[2];
const FULL_DOUBLED: Configuration = Configuration::ALL[3];

fn tank(lr: f64, cr: f64, lm: f64, n: f64, r: f64) -> Tank {
    Tank {
        resonant_inductance: Henry(lr),
        resonant_capacitance: Farad(cr),
        magnetising_inductance: Henry(lm),
        turns_ratio: n,
        series_resistance: Ohm(r),
        rectifier_drop: Volt(0.0),
    }
}

/// The converter of the worked example of H. Huang, "Designing an LLC resonant half-bridge power
/// converter", seminar SEM1900 topic 3 (2010); its inputs are from memory.
fn huang(ln: f64) -> Tank {
    tank(60e-6, 27.3e-9, 60e-6 * ln, 16.0, 0.0)
}

fn point(input: f64, configuration: Configuration) -> OperatingPoint {
    OperatingPoint {
        name: String::new(),
        input_voltage: Volt(input),
        output_voltage: Volt(0.0),
        output_current: Ampere(0.0),
        drive: configuration.drive,
        rectifier: configuration.rectifier,
        condition: fairphase::converter::Condition::default(),
    }
}

#[track_caller]
fn voltage(sweep: &mut Sweep<'_>, frequency: f64) -> f64 {
    match sweep.at(Hertz(frequency)) {
        Reached::Voltage(voltage) => voltage.0,
        other => panic!("{} at {frequency} Hz", other.name()),
    }
}

#[track_caller]
fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found} against {expected}");
}

/// Huang's equation 23 (read second-hand), values recomputed to ten digits: half the last digit.
/// `voltage_gain` counts from a full bridge, the text from its half bridge: a factor of two.
#[test]
fn averaged_gains_on_a_resistor_are_those_of_the_fundamental() {
    for (ln, qe, ratio, m) in [
        (3.5, 0.45, 0.6, 1.454_745_171_5),
        (3.5, 0.45, 1.1, 0.949_580_364_6),
        (5.0, 0.5, 0.8, 1.092_207_423_1),
        (5.0, 0.5, 1.2, 0.928_649_667_5),
    ] {
        let resistance = (60e-6_f64 / 27.3e-9).sqrt() / qe * PI * PI / (8.0 * 256.0);
        for (phases, arrangement) in [(1, Arrangement::Paralleled), (3, Arrangement::Chain)] {
            let many = phases as f64;
            let converter = Converter::uniform(phases, huang(ln), Farad(1e9));
            let load = Load::Resistance(Ohm(resistance / many));
            let at = point(390.0 * many, HALF);
            let mut sweep = Sweep::new(Method::Averaged, &converter, &at, arrangement, load);
            let f0 = huang(ln).series_resonance().0;
            let found = voltage(&mut sweep, ratio * f0);
            let found = 2.0 * voltage_gain(16.0, Volt(found), at.input_voltage, phases);
            close(&format!("Ln {ln}, Qe {qe}, fn {ratio}, {phases} phases"), found, m, 1e-9);
        }
    }
}

/// The exact values of the same example on 0.48 Ω, recomputed with a general-purpose numerical
/// library: half the last digit of Vo, and as much for the library.
#[test]
fn exact_voltages_of_the_worked_example() {
    let values =
        [(100.0, 14.765_413), (115.0, 12.935_861), (130.0, 11.800_994), (150.0, 10.606_074)];
    for (phases, arrangement) in [(1, Arrangement::Paralleled), (3, Arrangement::Chain)] {
        let many = phases as f64;
        let converter = Converter::uniform(phases, huang(3.5), Farad(1e9));
        let (at, load) = (point(390.0 * many, HALF), Load::Resistance(Ohm(0.48 / many)));
        let mut sweep = Sweep::new(Method::Exact, &converter, &at, arrangement, load);
        for (khz, vo) in values {
            close(&format!("{khz} kHz"), voltage(&mut sweep, 1e3 * khz), vo, 1e-6);
        }
    }
}

/// R. W. Erickson and D. Maksimović, Fundamentals of Power Electronics, chapter on resonant
/// conversion, exact characteristics (from memory, recomputed to ten digits): fs/f0, M, J without
/// a magnetising inductance. The one here is 10⁶ times Lr, which leaves 1e-6 or so.
#[test]
fn exact_voltages_are_those_of_the_series_resonant_converter() {
    for (ratio, m, j) in [
        (0.75, 0.5, 1.338_226_791),
        (0.60, 0.7, 0.795_137_605),
        (0.90, 0.9, 2.100_839_019),
        (1.2, 0.5, 1.820_643_130),
        (1.2, 0.8, 1.109_534_331),
        (1.5, 0.6, 0.676_854_857),
    ] {
        let tank = tank(10e-6, 100e-9, 10.0, 1.0, 0.0);
        let converter = Converter::uniform(2, tank, Farad(1e9));
        let load = Load::Current(Ampere(2.0 * j * 100.0 / 10.0));
        let at = point(200.0, FULL);
        for arrangement in Arrangement::ALL {
            let mut sweep = Sweep::new(Method::Exact, &converter, &at, arrangement, load);
            let found = voltage(&mut sweep, ratio * tank.series_resonance().0);
            let found = voltage_gain(1.0, Volt(found), at.input_voltage, 2);
            close(&format!("fs/f0 {ratio}, J {j}"), found, m, 2e-5);
        }
    }
}

/// Gains at resonance are as 1 : 2 : 2 : 4 (common practice, no source), and with M counted from
/// the full bridge with a full-bridge rectifier ½, 1, 1 and 2: exactly in proportion where the
/// tank currents are the same in per unit, near the absolute values where the resistance is small.
#[test]
fn gains_of_the_four_configurations_at_resonance() {
    for method in [Method::Exact, Method::Averaged] {
        for arrangement in Arrangement::ALL {
            let tank = tank(60e-6, 27.3e-9, 210e-6, 16.0, 0.05);
            let converter = Converter::uniform(2, tank, Farad(1e3));
            let gains: Vec<f64> =
                [(HALF, 1.0), (FULL, 2.0), (HALF_DOUBLED, 0.5), (FULL_DOUBLED, 1.0)]
                    .into_iter()
                    .map(|(configuration, current)| {
                        let at = point(780.0, configuration);
                        let load = Load::Current(Ampere(25.0 * current));
                        let mut sweep = Sweep::new(method, &converter, &at, arrangement, load);
                        let found = voltage(&mut sweep, tank.series_resonance().0);
                        voltage_gain(16.0, Volt(found), Volt(780.0), 2)
                    })
                    .collect();
            for (gain, expected) in gains.iter().zip([1.0, 2.0, 2.0, 4.0]) {
                close("ratio", gain / gains[0], expected, 1e-7);
                // The resistance drops about π/2 · 0.05 Ω · 0.8 A of 195 V.
                close("gain", *gain, 0.5 * expected, 1e-3 * expected);
            }
        }
    }
}

/// The voltage of a phase without flying capacitors at a constant current, in closed form, from
/// (Vw (1 + X/Xm) + R I)² + (X I − R Vw/Xm)² = Vs², a quadratic in Vw.
fn fundamental(tank: &Tank, input: f64, current: f64, frequency: f64) -> Option<f64> {
    let w = TAU * frequency;
    let x = w * tank.resonant_inductance.0 - 1.0 / (w * tank.resonant_capacitance.0);
    let xm = w * tank.magnetising_inductance.0;
    let (n, r) = (tank.turns_ratio, tank.series_resistance.0);
    let (vs, i) = (2.0 * FRAC_2_PI * input, current / (FRAC_2_PI * n));
    let a = (1.0 + x / xm).powi(2) + (r / xm).powi(2);
    let half_b = (1.0 + x / xm) * r * i - x * i * r / xm;
    let c = i * i * (r * r + x * x) - vs * vs;
    let vw = (-half_b + (half_b * half_b - a * c).sqrt()) / a;
    (vw > 0.0).then(|| vw * PI / 4.0 / n)
}

/// The whole averaged curve against the closed form, and its peak against a scan of that with
/// 200 000 frequencies, 1.7 Hz apart.
#[test]
fn the_averaged_curve_and_its_peak_are_those_of_the_closed_form() {
    let tank = tank(10e-6, 100e-9, 30e-6, 2.0, 0.1);
    let converter = Converter::uniform(1, tank, Farad(1.0));
    let band = FrequencyBand { minimum: Hertz(60e3), maximum: Hertz(400e3) };
    let (one, at) = (Arrangement::Paralleled, point(100.0, FULL));
    for current in [2.0, 10.0, 25.0] {
        let load = Load::Current(Ampere(current));
        let mut sweep = Sweep::new(Method::Averaged, &converter, &at, one, load);
        let curve = Curve::trace(&mut sweep, &band);
        assert_eq!(curve.points.len(), usize::from(POINTS));
        for p in &curve.points {
            let expected = fundamental(&tank, 100.0, current, p.frequency.0);
            match (p.reached.voltage(), expected) {
                (Some(found), Some(expected)) => close("curve", found.0, expected, 1e-8),
                (None, expected) => assert!(expected.is_none_or(|v| v < 0.01), "{expected:?}"),
                (Some(found), None) => panic!("{found} where nothing flows"),
            }
        }
        let scan = (0..=200_000).map(|n| 60e3 + 1.7 * f64::from(n));
        let scan = scan.filter_map(|f| Some((f, fundamental(&tank, 100.0, current, f)?)));
        let (f, v) = scan.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        let peak = curve.peak.unwrap();
        // No frequency of the scan is better, and the best of them is next to the peak.
        let own = fundamental(&tank, 100.0, current, peak.frequency.0).unwrap();
        close("peak voltage", peak.voltage.0 / own, 1.0, 1e-8);
        assert!(peak.voltage.0 >= v * (1.0 - 1e-10), "{} below {v}", peak.voltage);
        close("peak frequency", peak.frequency.0, f, 1.7);
        assert!(!peak.at_end);
    }
}

/// The exact peak against a scan of 4 000 frequencies about it.
#[test]
fn the_exact_peak_is_that_of_a_scan() {
    let converter = Converter::uniform(2, tank(10e-6, 100e-9, 30e-6, 2.0, 0.1), Farad(20e-6));
    let band = FrequencyBand { minimum: Hertz(60e3), maximum: Hertz(400e3) };
    let (chain, load) = (Arrangement::Chain, Load::Current(Ampere(40.0)));
    let mut sweep = Sweep::new(Method::Exact, &converter, &point(200.0, FULL), chain, load);
    let curve = Curve::trace(&mut sweep, &band);
    let peak = curve.peak.unwrap();
    assert!(!peak.at_end && curve.not_solved() == 0);
    let mut best = (0.0, 0.0);
    for n in 0..4000 {
        let f = 60e3 * (400.0_f64 / 60.0).powf(f64::from(n) / 4000.0);
        if let Reached::Voltage(v) = sweep.at(Hertz(f))
            && v.0 > best.1
        {
            best = (f, v.0);
        }
    }
    close("peak voltage", peak.voltage.0 / best.1, 1.0, 1e-6);
    assert!(peak.voltage.0 >= best.1 * (1.0 - 1e-9), "{} below {}", peak.voltage, best.1);
    close("peak frequency", peak.frequency.0 / best.0, 1.0, 1e-3);
    assert!(curve.beyond_peak(Hertz(peak.frequency.0 * 0.99)));
    assert!(!curve.beyond_peak(Hertz(peak.frequency.0 * 1.01)));
}

/// A voltage and current of a curve, asked for as an operating point, are regulated to at the
/// curve's frequency; voltages above the peak and below the upper end are out of range.
#[test]
fn an_operating_point_on_a_curve_is_regulated_to_its_frequency() {
    let scenario = Scenario::parse("electrolyser.toml", ELECTROLYSER).unwrap();
    let (nominal, band) = (scenario.nominal_converter(), scenario.frequency);
    for method in [Method::Exact, Method::Averaged] {
        for (n, configuration) in Configuration::ALL.into_iter().enumerate() {
            let current = Ampere([12.0, 40.0, 25.0, 30.0][n]);
            for arrangement in Arrangement::ALL {
                let mut at = point(400.0, configuration);
                let load = Load::Current(current);
                let mut sweep = Sweep::new(method, &nominal, &at, arrangement, load);
                let curve = Curve::trace(&mut sweep, &band);
                assert_eq!(curve.not_solved(), 0);
                let peak = curve.peak.unwrap().frequency.0;
                let inner = &curve.points[1..curve.points.len() - 1];
                let inductive = inner.iter().filter(|p| p.frequency.0 > 1.02 * peak).step_by(7);
                let mut seen = 0;
                for p in inductive {
                    let Some(voltage) = p.reached.voltage() else { continue };
                    (at.output_voltage, at.output_current) = (voltage, current);
                    let case = Case::new(at.clone(), band, arrangement);
                    let outcome = method.solve(&nominal, &case);
                    let Outcome::Solved(state) = outcome else {
                        panic!("{} at {voltage}, {}", configuration.name(), p.frequency)
                    };
                    close("frequency", state.switching_frequency.0 / p.frequency.0, 1.0, 1e-6);
                    seen += 1;
                }
                assert!(seen > 3, "{}", configuration.name());
                let range = curve.range().unwrap();
                for outside in [1.001 * range.highest.0, 0.999 * range.lowest.0] {
                    (at.output_voltage, at.output_current) = (Volt(outside), current);
                    let case = Case::new(at.clone(), band, arrangement);
                    let outcome = method.solve(&nominal, &case);
                    let wanted = outside == 0.0 || matches!(outcome, Outcome::OutOfRange);
                    assert!(wanted, "{}: {outside} V", configuration.name());
                }
            }
        }
    }
}

/// The circuit is passive: at one frequency more current means less voltage.
#[test]
fn more_current_means_less_voltage() {
    let scenario = Scenario::parse("electrolyser.toml", ELECTROLYSER).unwrap();
    let nominal = scenario.nominal_converter();
    for method in [Method::Exact, Method::Averaged] {
        for configuration in Configuration::ALL {
            for khz in [100.0, 130.0, 150.0, 180.0, 250.0] {
                let mut last = f64::INFINITY;
                for current in [1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0] {
                    let (chain, load) = (Arrangement::Chain, Load::Current(Ampere(current)));
                    let at = point(400.0, configuration);
                    let mut sweep = Sweep::new(method, &nominal, &at, chain, load);
                    let found = sweep.at(Hertz(1e3 * khz));
                    assert_eq!(found.unsolved(), None, "{khz} kHz, {current} A");
                    let voltage = found.voltage().map_or(0.0, |v| v.0);
                    let fell = voltage < last || (voltage == 0.0 && last == 0.0);
                    assert!(fell, "{khz} kHz, {current} A: {voltage} after {last}");
                    last = voltage;
                }
            }
        }
    }
}
