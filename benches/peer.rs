//! Both solvers against a practitioner's `NumPy` script on the same design: samples a second, parts
//! drawn and both arrangements solved, in turn on the same machine. `cargo bench --bench peer`
//!
//! The script is the fundamental-harmonic approximation with a fixed number of bisections and
//! Newton steps; it needs `python3` with `NumPy`.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench"
)]

use std::process::{Command, Stdio};
use std::time::Instant;

use fairphase::converter::{Arrangement, OperatingPoint};
use fairphase::population::Population;
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Method};
use rayon::prelude::*;

/// The script's design, invented like it.
const DESIGN: &str = r#"
title = "peer"
[converter]
phases = 3
[converter.tank]
resonant_inductance    = "4.56 µH"
resonant_capacitance   = "247 nF"
magnetising_inductance = "22.8 µH"
turns_ratio            = 2.4
series_resistance      = "30 mΩ"
rectifier_drop         = "0 V"
[converter.chain]
flying_capacitance = "50 µF"
[converter.frequency]
minimum = "90 kHz"
maximum = "450 kHz"
[[operating_point]]
name = "full load"
input_voltage  = "380 V"
output_voltage = "48 V"
output_current = "62.5 A"
drive     = "full-bridge"
rectifier = "full-bridge"
[tolerance.resonant_inductance]
shape = "uniform"
band  = "5 %"
[tolerance.resonant_capacitance]
shape = "uniform"
band  = "5 %"
[tolerance.magnetising_inductance]
shape = "uniform"
band  = "10 %"
[tolerance.turns_ratio]
shape = "uniform"
band  = "0.5 %"
[limits]
sharing_error = "5 %"
yield_target  = "99 %"
confidence    = "95 %"
"#;

const ROUNDS: usize = 3;
const SCRIPT_SAMPLES: u64 = 100_000;
const METHODS: [Method; 2] = [Method::Exact, Method::Averaged];
/// Argument before the name of a method that a process times alone.
const ALONE: &str = "alone";

/// The peer's samples a second.
fn script() -> f64 {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/fundamental_numpy.py");
    let output = Command::new("python3")
        .args([path, &SCRIPT_SAMPLES.to_string()])
        .output()
        .expect("python3 runs");
    let text = String::from_utf8_lossy(&output.stdout);
    let rate = text.split("-> ").nth(1).and_then(|rest| rest.split(' ').next()?.parse().ok());
    rate.unwrap_or_else(|| panic!("no rate in {text}{}", String::from_utf8_lossy(&output.stderr)))
}

struct Work {
    population: Population,
    scenario: Scenario,
}

impl Work {
    /// Samples a second of a solver, parts drawn and both arrangements solved.
    fn rate(&self, method: Method, samples: u64, threads: usize) -> f64 {
        let Self { population, scenario } = self;
        let request = &scenario.operating_points[0];
        let point = OperatingPoint {
            name: request.name.clone(),
            input_voltage: request.input_voltage,
            output_voltage: request.output_voltage,
            output_current: request.output_current,
            drive: request.drive.unwrap(),
            rectifier: request.rectifier.unwrap(),
            condition: fairphase::converter::Condition::default(),
        };
        let cases = Arrangement::ALL.map(|arrangement| {
            let case = Case::new(point.clone(), scenario.frequency, arrangement);
            method.prepare(population.nominal(), case).1
        });
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let begun = Instant::now();
        let solved: usize = pool.install(|| {
            (0..samples)
                .into_par_iter()
                .map(|k| {
                    let converter = population.draw(k);
                    let solved = |case: &&Case| method.solve(&converter, case).solved().is_some();
                    cases.iter().filter(solved).count()
                })
                .sum()
        });
        let rate = samples as f64 / begun.elapsed().as_secs_f64();
        assert_eq!(solved, 2 * usize::try_from(samples).unwrap(), "all are solved");
        rate
    }
}

/// Samples a second of two processes at once, a thread each: what two cores of this machine can do.
fn two_processes(method: Method) -> f64 {
    let start = || {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args([ALONE, method.name()]).stdout(Stdio::piped()).spawn().unwrap()
    };
    let rates = [start(), start()].map(|child| {
        let text = String::from_utf8(child.wait_with_output().unwrap().stdout).unwrap();
        text.trim().parse::<f64>().unwrap()
    });
    rates.iter().sum()
}

/// The method that this process is to time, where it is one of two.
fn timed_alone() -> Option<Method> {
    let name = std::env::args().skip_while(|argument| argument != ALONE).nth(1)?;
    METHODS.into_iter().find(|method| method.name() == name)
}

const fn samples_of(method: Method) -> u64 {
    match method {
        Method::Exact => 100_000,
        Method::Averaged => 1_000_000,
    }
}

fn main() {
    let scenario = Scenario::parse("peer", DESIGN).unwrap();
    let work = Work { population: Population::new(&scenario, 1), scenario };
    if let Some(method) = timed_alone() {
        println!("{}", work.rate(method, samples_of(method), 1));
        return;
    }
    println!("samples a second; three phases, both arrangements; × the script's");
    for _ in 0..ROUNDS {
        let script = script();
        println!("NumPy script          {script:9.0}");
        for method in METHODS {
            let [one, all] = [1, 0].map(|threads| work.rate(method, samples_of(method), threads));
            let two = two_processes(method);
            println!("{:9} one thread  {one:9.0}  {:5.2} ×", method.name(), one / script);
            println!("{:9} all cores   {all:9.0}  {:5.2} ×", method.name(), all / script);
            println!("{:9} gained by threads    {:5.2} ×", method.name(), all / one);
            println!("{:9} by two processes     {:5.2} ×", method.name(), two / one);
        }
    }
}
