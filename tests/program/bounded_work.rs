//! No legal scenario keeps the program busy without end, and none makes it deaf. Work is counted, not
//! timed.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, reason = "a test")]

use std::fs;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::AtomicBool;
use std::thread::sleep;
use std::time::{Duration, Instant};

use fairphase::converter::{Arrangement, FrequencyBand};
use fairphase::engine::EngineError;
use fairphase::population::parts_file::Unit;
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Effort, Method, Outcome, Solver, Unsolved};
use fairphase::study::check::check;
use fairphase::study::common::choice::{configurations, in_configuration};
use fairphase::study::common::error::StudyError;
use fairphase::study::common::nominal::{BaselineError, baselines};
use fairphase::study::gain::gain;
use fairphase::study::units::{UnitsRequest, units};
use fairphase::units::Hertz;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rayon::prelude::*;

use crate::support::{PATIENCE, SHELF, fairphase, folder_with, signal, wait_until};

/// Scenarios of each kind.
const EACH: u64 = 14;
/// What may be wrong with a scenario that is legal all the same.
const KINDS: [Slip; 8] = [
    Slip::None,
    Slip::OneHertzTo100Megahertz,
    Slip::Prefix,
    Slip::AnyTank,
    Slip::AnyBand,
    Slip::LosslessInAnyBand,
    Slip::AnyOutput,
    Slip::Everything,
];
/// One search in as many may take more work than it may.
const GIVEN_UP: usize = 50;

#[derive(Debug, Clone, Copy, PartialEq)]
enum Slip {
    None,
    OneHertzTo100Megahertz,
    Prefix,
    AnyTank,
    AnyBand,
    LosslessInAnyBand,
    AnyOutput,
    Everything,
}

/// A scenario's numbers, in SI units; invented at random.
struct Extreme {
    random: ChaCha8Rng,
    phases: u64,
    inductance: f64,
    capacitance: f64,
    magnetising: f64,
    ratio: f64,
    resistance: f64,
    drop: f64,
    flying: f64,
    band: [f64; 2],
    voltages: [f64; 2],
    power: f64,
}

impl Extreme {
    /// A plausible one.
    fn plausible(number: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(number);
        let mut decades = |low: f64, high: f64| 10_f64.powf(random.random_range(low..high));
        let (inductance, capacitance) = (decades(-6.0, -4.3), decades(-8.0, -6.0));
        let (magnetising, ratio) = (inductance * decades(0.5, 1.1), decades(-0.3, 1.0));
        let (input, gain) = (decades(2.0, 2.9), decades(-0.2, 0.1));
        let (resistance, flying, load) =
            (decades(-4.0, -0.5), decades(-6.0, -4.0), decades(-2.0, -0.3));
        let phases = [2, 3, 4, 12][usize::try_from(number / 8 % 4).unwrap()];
        let share = input / phases as f64;
        let resonance = 1.0 / (std::f64::consts::TAU * (inductance * capacitance).sqrt());
        let impedance = (inductance / capacitance).sqrt();
        Self {
            random,
            phases,
            inductance,
            capacitance,
            magnetising,
            ratio,
            resistance,
            drop: 0.7,
            flying,
            band: [0.5 * resonance, 3.0 * resonance],
            voltages: [input, 0.5 * gain * share / ratio],
            power: load * phases as f64 * share * share / impedance,
        }
    }

    fn decades(&mut self, low: f64, high: f64) -> f64 {
        10_f64.powf(self.random.random_range(low..high))
    }

    fn set_band(&mut self, lowest: [f64; 2], decades: [f64; 2]) {
        let minimum = self.decades(lowest[0], lowest[1]);
        self.band = [minimum, minimum * self.decades(decades[0], decades[1])];
    }

    fn slip(&mut self, slip: Slip) {
        match slip {
            Slip::None => {}
            Slip::OneHertzTo100Megahertz => self.band = [1.0, 1e8],
            Slip::Prefix => {
                let factor = 1000_f64.powi(self.random.random_range(-2..=2));
                match self.random.random_range(0..5) {
                    0 => self.inductance *= factor,
                    1 => self.capacitance *= factor,
                    2 => self.magnetising *= factor,
                    3 => self.flying *= factor,
                    _ => self.band = self.band.map(|f| f * factor),
                }
            }
            Slip::AnyTank => {
                self.inductance = self.decades(-18.0, 0.0);
                self.capacitance = self.decades(-15.0, 0.0);
                self.magnetising = self.inductance * self.decades(-2.0, 4.0);
            }
            Slip::AnyBand => self.set_band([0.0, 5.0], [0.1, 5.0]),
            Slip::LosslessInAnyBand => {
                (self.resistance, self.drop) = (0.0, 0.0);
                self.flying = self.decades(-12.0, -2.0);
                self.set_band([-3.0, 5.0], [1.0, 8.0]);
            }
            Slip::AnyOutput => {
                self.voltages[1] *= self.decades(-4.0, 3.0);
                self.power *= self.decades(-6.0, 3.0);
            }
            Slip::Everything => self.set_all(),
        }
    }

    fn set_all(&mut self) {
        self.inductance = self.decades(-9.0, -3.0);
        self.capacitance = self.decades(-12.0, -3.0);
        self.magnetising = self.decades(-9.0, 0.0);
        self.ratio = self.decades(-2.0, 2.0);
        self.resistance = self.decades(-9.0, 3.0);
        self.drop = self.decades(-3.0, 2.0);
        self.flying = self.decades(-12.0, 0.0);
        self.voltages[1] = self.decades(-1.0, 4.0);
        self.power = self.decades(-3.0, 6.0);
        self.set_band([0.0, 6.0], [0.1, 4.0]);
    }

    fn text(&self) -> String {
        let [minimum, maximum] = self.band;
        let [input, output] = self.voltages;
        format!(
            "title = \"invented\"\n[converter]\nphases = {}\n[converter.tank]\nresonant_inductance = \"{:e} H\"\n\
             resonant_capacitance = \"{:e} F\"\nmagnetising_inductance = \"{:e} H\"\n\
             turns_ratio = {:?}\nseries_resistance = \"{:e} ohm\"\nrectifier_drop = \"{:e} V\"\n\
             [converter.chain]\nflying_capacitance = \"{:e} F\"\n[converter.frequency]\n\
             minimum = \"{minimum:e} Hz\"\nmaximum = \"{maximum:e} Hz\"\n[[operating_point]]\n\
             name = \"all\"\ninput_voltage = \"{input:e} V\"\noutput_voltage = \"{output:e} V\"\n\
             output_power = \"{:e} W\"\n[tolerance.resonant_inductance]\nshape = \"uniform\"\n\
             band = \"5 %\"\n[limits]\nsharing_error = \"5 %\"\nyield_target = \"99 %\"\n\
             confidence = \"95 %\"\n[run]\nsamples = 100\nseed = 1\n",
            self.phases,
            self.inductance,
            self.capacitance,
            self.magnetising,
            self.ratio,
            self.resistance,
            self.drop,
            self.flying,
            self.power,
        )
    }
}

fn extreme(number: u64) -> Scenario {
    let mut extreme = Extreme::plausible(number);
    extreme.slip(KINDS[usize::try_from(number).unwrap() % KINDS.len()]);
    let text = extreme.text();
    Scenario::parse("extreme.toml", &text).unwrap_or_else(|e| panic!("{number}: {e}\n{text}"))
}

/// Work of all searches for the nominal converter, each as a share of what it may take.
fn work(number: u64) -> Vec<f64> {
    let scenario = extreme(number);
    let (nominal, request) = (scenario.nominal_converter(), &scenario.operating_points[0]);
    let mut work = Vec::new();
    for configuration in configurations(request) {
        let point = in_configuration(request, configuration);
        for arrangement in Arrangement::ALL {
            for method in [Method::Exact, Method::Averaged] {
                let case = Case::new(point.clone(), scenario.frequency, arrangement);
                let effort = Effort::default();
                let outcome = method.solve_within(&effort, &nominal, &case);
                let gave_up = outcome == Outcome::NotSolved(Unsolved::TooMuchWork);
                assert_eq!(gave_up, effort.share_taken() >= 1.0, "{number}: {}", outcome.name());
                work.push(effort.share_taken());
            }
        }
    }
    work
}

/// Without a bound, one in ten of such scenarios took from seconds to minutes.
#[test]
fn any_legal_scenario_is_decided_within_its_work() {
    let numbers = 0..EACH * KINDS.len() as u64;
    let work: Vec<f64> = numbers.into_par_iter().flat_map_iter(work).collect();
    // A stretch is counted once it is followed: the last one may surpass what is left.
    assert!(work.iter().all(|share| *share < 1.001));
    let given_up = work.iter().filter(|share| **share >= 1.0).count();
    assert!(given_up * GIVEN_UP <= work.len(), "{given_up} of {} given up", work.len());
}

/// Where a half period holds a thousand turns of the tank, and where it holds a hundred million.
#[test]
fn a_band_far_below_every_resonance_is_decided_at_once() {
    let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
    let (nominal, request) = (scenario.nominal_converter(), &scenario.operating_points[0]);
    let resonance = scenario.nominal.series_resonance().0;
    for below in [1e3, 1e5, 1e8] {
        let band = FrequencyBand {
            minimum: Hertz(resonance / below),
            maximum: Hertz(2.0 * resonance / below),
        };
        let point = in_configuration(request, configurations(request)[0]);
        for arrangement in Arrangement::ALL {
            let effort = Effort::default();
            let case = Case::new(point.clone(), band, arrangement);
            let outcome = Method::Exact.solve_within(&effort, &nominal, &case);
            assert_eq!(outcome, Outcome::OutOfRange, "{below}");
            assert!(effort.share_taken() == 0.0, "{below}: {}", effort.share_taken());
        }
    }
}

#[test]
fn a_search_that_is_interrupted_tells_nothing_of_the_converter() {
    let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
    let (nominal, stop) = (scenario.nominal_converter(), AtomicBool::new(true));
    let request = &scenario.operating_points[0];
    let point = in_configuration(request, configurations(request)[0]);
    for method in [Method::Exact, Method::Averaged] {
        for arrangement in Arrangement::ALL {
            let case = Case::new(point.clone(), scenario.frequency, arrangement);
            let outcome = Solver::new(method, &stop).solve(&nominal, &case);
            assert_eq!(outcome, Outcome::NotSolved(Unsolved::Interrupted), "{method:?}");
        }
        let stopped = baselines(&scenario, Solver::new(method, &stop));
        assert!(matches!(stopped, Err(BaselineError::Interrupted)));
        let stopped = check(&scenario, method, &stop);
        assert!(matches!(stopped, Err(BaselineError::Interrupted)));
        assert!(matches!(gain(&scenario, method, 1, &stop), Err(EngineError::Stopped)));
        let unit = [Unit { name: "A1".into(), converter: nominal.clone() }];
        let request = UnitsRequest {
            units: &unit,
            readings: &[],
            measuring_uncertainty: None,
            over_load: true,
            method,
            threads: 1,
        };
        let stopped = units(&scenario, request, &stop);
        assert!(matches!(
            stopped,
            Err(StudyError::Engine(EngineError::Stopped)
                | StudyError::Baseline(BaselineError::Interrupted))
        ));
    }
}

/// Whether a process has its own answer to a signal: the mask `SigCgt` of proc(5).
#[cfg(target_os = "linux")]
fn heeds(child: &Child, signal: u32) -> bool {
    let status = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigCgt:"));
    let mask = mask.and_then(|text| u64::from_str_radix(text.trim(), 16).ok()).unwrap_or_default();
    mask >> (signal - 1) & 1 == 1
}

/// Fifty curves of a lossless tank over a band of six decades: far more work than the test waits
/// for.
#[cfg(target_os = "linux")]
#[test]
fn amid_the_nominal_work_it_hears_a_signal() {
    let loads: Vec<String> = (1..=50).map(|n| format!("\"{n} %\"")).collect();
    let mut hard = Extreme::plausible(3);
    hard.slip(Slip::LosslessInAnyBand);
    hard.band = [1.0, 1e6];
    let text = format!("{}[gain]\nloads = [{}]\n", hard.text(), loads.join(", "));
    let folder = folder_with(&[("hard.toml", &text)]);
    for (name, number) in [("INT", 2), ("TERM", 15)] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_fairphase"))
            .args(["gain", "hard.toml", "--threads", "1"])
            .current_dir(folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        wait_until(&mut child, |child| heeds(child, number));
        sleep(Duration::from_millis(100));
        signal(&child, name);
        let asked = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            if asked.elapsed() > PATIENCE {
                child.kill().unwrap();
            }
            sleep(Duration::from_millis(5));
        };
        assert_eq!(status.code(), Some(3), "{name}");
        assert!(!folder.path().join("reports").exists(), "{name}");
    }
}

/// Each thread reserves address space: a thousand of them would ask for more than the limit.
#[cfg(target_os = "linux")]
#[test]
fn a_thousand_threads_are_no_more_than_the_machine_can_use() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let program = env!("CARGO_BIN_EXE_fairphase");
    let arguments = "run shelf.toml --samples 64 --quiet --threads";
    let limited = format!("ulimit -v 2000000; {program} {arguments} 1024 --out many");
    let status = Command::new("sh").args(["-c", &limited]).current_dir(folder.path()).status();
    assert!(status.unwrap().success());
    assert_eq!(fairphase(folder.path(), &format!("{arguments} 1 --out one")).status, 0);
    let summary = |out: &str| fs::read(folder.path().join(out).join("summary.json")).unwrap();
    assert_eq!(summary("many"), summary("one"));
}

#[test]
fn what_is_too_much_is_refused_with_its_place() {
    let mut points = String::new();
    for n in 0..501 {
        let voltages = "input_voltage = \"380 V\"\noutput_voltage = \"48 V\"";
        let name = format!("name = \"p{n}\"");
        points += &["[[operating_point]]", &name, voltages, "output_power = \"3 kW\"\n"].join("\n");
    }
    let (head, rest) = SHELF.split_once("[[operating_point]]").unwrap();
    let tables = &rest[rest.find("\n[tolerance").unwrap()..];
    let loads: Vec<String> = (1..=51).map(|n| format!("\"{n} %\"")).collect();
    let folder = folder_with(&[
        ("points.toml", &format!("{head}{points}{tables}")),
        ("loads.toml", &format!("{SHELF}\n[gain]\nloads = [{}]\n", loads.join(", "))),
    ]);
    for (arguments, words, expected) in [
        ("check points.toml", "501 operating points", "at most 500 with 3 phases"),
        ("gain loads.toml", "`loads` has 51 items", "at most 50"),
    ] {
        let said = fairphase(folder.path(), arguments);
        assert_eq!(said.status, 2, "{}", said.stderr);
        assert!(said.stderr.contains(words) && said.stderr.contains(expected), "{}", said.stderr);
        assert!(said.stderr.contains(".toml:"), "{}", said.stderr);
    }
}
