//! Time of one converter's solution, from the nominal one: both solvers, both arrangements, 2 to
//! 12 phases; below, at and above resonance. `cargo bench --bench solver`
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use divan::{Bencher, black_box};
use fairphase::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Parameter, Rectifier,
};
use fairphase::population::{Population, SensorScatter};
use fairphase::scenario::Scenario;
use fairphase::solver::trim::{Trim, TrimCase};
use fairphase::solver::{Case, Method};
use fairphase::study::common::nominal::baselines;
use fairphase::units::{Ampere, Farad, Hertz, Volt};

fn main() {
    divan::main();
}

/// Samples that a bench goes through in turn.
const SAMPLES: u64 = 256;

/// The shelf scenario with another number of phases and output voltage, per-phase quantities
/// kept: 43 V lies above, 52 V about at, 56 V below resonance.
fn scenario(phases: usize) -> Scenario {
    let text = include_str!("../scenarios/telecom-shelf.toml")
        .replace("phases = 3", &format!("phases = {phases}"));
    Scenario::parse("bench", &text).unwrap()
}

fn bench(bencher: Bencher, method: Method, arrangement: Arrangement, phases: usize, voltage: f64) {
    let scenario = scenario(phases);
    let population = Population::new(&scenario, 1);
    let request = &scenario.operating_points[0];
    let n = phases as f64;
    let point = OperatingPoint {
        name: request.name.clone(),
        input_voltage: Volt(380.0 / 3.0 * n),
        output_voltage: Volt(voltage),
        output_current: Ampere(62.5 / 3.0 * n),
        drive: request.drive.unwrap(),
        rectifier: request.rectifier.unwrap(),
        condition: fairphase::converter::Condition::default(),
    };
    let band = FrequencyBand { minimum: Hertz(60e3), maximum: Hertz(500e3) };
    let (_, case) = method.prepare(population.nominal(), Case::new(point, band, arrangement));
    let converters: Vec<_> = (0..SAMPLES).map(|k| population.draw(k)).collect();
    let mut all = converters.iter().cycle();
    bencher.bench_local(|| {
        let converter = all.next().unwrap();
        method.solve(black_box(converter), &case)
    });
}

const PHASES: [usize; 4] = [2, 3, 6, 12];

#[divan::bench(args = PHASES)]
fn exact_chain(bencher: Bencher, phases: usize) {
    bench(bencher, Method::Exact, Arrangement::Chain, phases, 48.0);
}

#[divan::bench(args = PHASES)]
fn exact_paralleled(bencher: Bencher, phases: usize) {
    bench(bencher, Method::Exact, Arrangement::Paralleled, phases, 48.0);
}

#[divan::bench(args = PHASES)]
fn averaged_chain(bencher: Bencher, phases: usize) {
    bench(bencher, Method::Averaged, Arrangement::Chain, phases, 48.0);
}

#[divan::bench(args = PHASES)]
fn averaged_paralleled(bencher: Bencher, phases: usize) {
    bench(bencher, Method::Averaged, Arrangement::Paralleled, phases, 48.0);
}

/// One phase by itself, from nothing: the search with all its settling.
#[divan::bench]
fn exact_one_phase_cold(bencher: Bencher) {
    let scenario = scenario(2);
    let tank = scenario.nominal_converter().tanks[0];
    let converter = Converter::uniform(1, tank, Farad(1.0));
    let point = OperatingPoint {
        name: String::new(),
        input_voltage: Volt(380.0 / 3.0),
        output_voltage: Volt(48.0),
        output_current: Ampere(62.5 / 3.0),
        drive: Drive::FullBridge,
        rectifier: Rectifier::FullBridge,
        condition: fairphase::converter::Condition::default(),
    };
    let band = FrequencyBand { minimum: Hertz(60e3), maximum: Hertz(500e3) };
    let case = Case::new(point, band, Arrangement::Paralleled);
    bencher.bench_local(|| Method::Exact.solve(black_box(&converter), &case));
}

const VOLTAGES: [f64; 3] = [43.0, 52.0, 56.0];

#[divan::bench(args = VOLTAGES)]
fn exact_chain_at_output_voltage(bencher: Bencher, voltage: f64) {
    bench(bencher, Method::Exact, Arrangement::Chain, 3, voltage);
}

#[divan::bench(args = VOLTAGES)]
fn exact_paralleled_at_output_voltage(bencher: Bencher, voltage: f64) {
    bench(bencher, Method::Exact, Arrangement::Paralleled, 3, voltage);
}

/// What no solver can do without: one exponential, sine and cosine for each stretch of the solved
/// periods, and the state at its end. Three phases above resonance have two stretches a half
/// period: 12 in a chain whose legs differ, 6 when paralleled.
#[divan::bench(args = [6, 12])]
fn stretches_alone(bencher: Bencher, stretches: u32) {
    bencher.bench_local(|| {
        let mut state = black_box([0.3, -0.4, 0.9]);
        for n in 0..stretches {
            let t = black_box(0.1 + 0.01 * f64::from(n));
            let (decay, (sin, cos)) = (libm::exp(-0.01 * t), libm::sincos(t));
            let [i, im, e] = state;
            let (c, s) = (decay * cos, decay * sin);
            state = [i * (c - 0.01 * s) + e * s, im + 0.2 * t, e * (c + 0.01 * s) - i * s];
        }
        state
    });
}

/// A converter of the lamp bank, as it is and with its loops settled and found stable.
fn lamps(bencher: Bencher, arrangement: Arrangement, settled: bool) {
    let text = include_str!("../scenarios/greenhouse-lamps.toml");
    let scenario = Scenario::parse("bench", text).unwrap();
    let request = scenario.sensors.clone().unwrap();
    let (population, scatter) = (Population::new(&scenario, 1), SensorScatter::new(&request));
    let mut all = baselines(&scenario, Method::Exact).unwrap().into_iter();
    let case = all.find(|b| b.case.arrangement == arrangement).unwrap().case;
    let trim = Trim {
        measured: request.measured,
        parameter: Parameter::ResonantInductance,
        range: request.trim_range,
        added_resistance: request.added_resistance,
    };
    let loops = TrimCase { solver: Method::Exact.into(), case: &case, trim };
    let from = loops.prepare(population.nominal()).1.unwrap();
    let drawn = |k| (population.draw(k), population.draw_sensors(&scatter, k));
    let converters: Vec<_> = (0..SAMPLES).map(drawn).collect();
    let mut all = converters.iter().cycle();
    bencher.bench_local(|| {
        let (converter, sensors) = black_box(all.next().unwrap());
        if settled {
            return loops.settle(converter, sensors, &from).outcome;
        }
        Method::Exact.solve(converter, &case)
    });
}

#[divan::bench(args = [false, true])]
fn lamps_chain_with_loops(bencher: Bencher, settled: bool) {
    lamps(bencher, Arrangement::Chain, settled);
}

#[divan::bench(args = [false, true])]
fn lamps_paralleled_with_loops(bencher: Bencher, settled: bool) {
    lamps(bencher, Arrangement::Paralleled, settled);
}

#[divan::bench]
fn draw_parts(bencher: Bencher) {
    let population = Population::new(&scenario(3), 1);
    let mut k = 0;
    bencher.bench_local(|| {
        k += 1;
        population.draw(black_box(k))
    });
}
