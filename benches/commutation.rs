//! Time that the dead times of a solved converter take: all switches of both arrangements, 2 to 12 phases.
//! `cargo bench --bench commutation`
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use divan::{Bencher, black_box};
use fairphase::converter::{
    Arrangement, Condition, Converter, FrequencyBand, OperatingPoint, SwitchSpecification,
    SwitchTiming,
};
use fairphase::population::Population;
use fairphase::scenario::Scenario;
use fairphase::solver::commutation::CommutationCase;
use fairphase::solver::{Case, Method, SteadyState};
use fairphase::units::{Ampere, Farad, Hertz, Second, Volt};

fn main() {
    divan::main();
}

/// Samples that a bench goes through in turn.
const SAMPLES: u64 = 256;

/// Solved samples of the shelf scenario with another number of phases, per-phase quantities kept.
struct Solved {
    point: OperatingPoint,
    all: Vec<(Converter, SteadyState)>,
}

impl Solved {
    fn new(phases: usize, arrangement: Arrangement) -> Self {
        let text = include_str!("../scenarios/telecom-shelf.toml")
            .replace("phases = 3", &format!("phases = {phases}"));
        let scenario = Scenario::parse("bench", &text).unwrap();
        let population = Population::new(&scenario, 1);
        let (request, n) = (&scenario.operating_points[0], phases as f64);
        let point = OperatingPoint {
            name: request.name.clone(),
            input_voltage: Volt(380.0 / 3.0 * n),
            output_voltage: Volt(48.0),
            output_current: Ampere(62.5 / 3.0 * n),
            drive: request.drive.unwrap(),
            rectifier: request.rectifier.unwrap(),
            condition: Condition::default(),
        };
        let band = FrequencyBand { minimum: Hertz(60e3), maximum: Hertz(500e3) };
        let case = Case::new(point.clone(), band, arrangement);
        let (_, case) = Method::Exact.prepare(population.nominal(), case);
        let solved = (0..SAMPLES).filter_map(|k| {
            let converter = population.draw(k);
            let state = Method::Exact.solve(&converter, &case).solved()?.clone();
            Some((converter, state))
        });
        Self { point, all: solved.collect() }
    }
}

fn bench(bencher: Bencher, phases: usize, arrangement: Arrangement, timing: SwitchTiming) {
    let Solved { point, all } = Solved::new(phases, arrangement);
    let switch = SwitchSpecification {
        low_capacitance: Farad(600e-12),
        high_capacitance: Farad(600e-12),
        dead_time: Second(150e-9),
        timing,
    };
    let mut all = all.iter().cycle();
    bencher.bench_local(|| {
        let (converter, state) = all.next().unwrap();
        let case =
            CommutationCase { state, converter, point: &point, arrangement, switch: &switch };
        black_box(case).solve()
    });
}

const PHASES: [usize; 4] = [2, 3, 6, 12];

#[divan::bench(args = PHASES)]
fn chain(bencher: Bencher, phases: usize) {
    bench(bencher, phases, Arrangement::Chain, SwitchTiming::Together);
}

#[divan::bench(args = PHASES)]
fn chain_falling_first(bencher: Bencher, phases: usize) {
    bench(bencher, phases, Arrangement::Chain, SwitchTiming::FallingFirst);
}

#[divan::bench(args = PHASES)]
fn paralleled(bencher: Bencher, phases: usize) {
    bench(bencher, phases, Arrangement::Paralleled, SwitchTiming::Together);
}
