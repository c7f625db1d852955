//! Whole verbs on random legal scenarios, each within limits of processor time and memory: no panic, no
//! hang, no memory without bound, and an answer or a message.
//!
//! `FAIRPHASE_SCENARIOS` says how many scenarios, `FAIRPHASE_SCENARIOS_FROM` where to begin. A scenario
//! that breaks a rule is printed.
#![cfg(target_os = "linux")]
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Stdio};

use fairphase::scenario::Scenario;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

use crate::random_scenario::random_scenario;
use crate::support::{fairphase, folder_with};

const SCENARIOS: u64 = 4;
/// Seconds of processor time; what a run explains takes a dozen of them, also of few samples.
const SECONDS: u64 = 300;
/// Address space in KiB.
const MEMORY: u64 = 3 << 20;

const WORKS: [&str; 13] = [
    "check any.toml",
    "units any.toml --parts parts.csv --threads 1",
    "gain any.toml --threads 1",
    "run any.toml --samples 50 --threads 1",
    "bands any.toml --samples 700 --solver averaged --threads 1",
    "grades any.toml --samples 50 --threads 1",
    "sensors any.toml --samples 50 --threads 1",
    "faults any.toml --samples 20 --threads 1",
    "capacitors any.toml --samples 20 --threads 1",
    "run any.toml --samples 60 --seed 9 --solver averaged --threads 1 --out other",
    "compare out-run other",
    "shapes values.csv",
    "shapes values.csv --column measured_H --nominal 22µH --band K",
];

/// What goes wrong in a verb, if anything does.
fn complaint(folder: &Path, work: &str) -> Option<String> {
    let verb = work.split(' ').next().unwrap();
    let out = if work.contains("--out") { String::new() } else { format!("--out out-{verb}") };
    let limits = format!("ulimit -t {SECONDS}; ulimit -v {MEMORY};");
    let script = format!("{limits} exec \"$0\" {work} {out}");
    let mut command = Command::new("sh");
    command.args(["-c", &script, env!("CARGO_BIN_EXE_fairphase")]).current_dir(folder);
    let output = command.stdin(Stdio::null()).output().unwrap();
    let stderr = String::from_utf8_lossy(&output.stderr);
    let (code, signal) = (output.status.code(), output.status.signal());
    let is_told = code == Some(0) || stderr.starts_with("error: ");
    let is_right = matches!(code, Some(0 | 2)) && is_told && !stderr.contains("panicked");
    (!is_right).then(|| format!("{work}: {code:?} {signal:?} {stderr}"))
}

/// Measured values about a random one, some of them beyond all reason; the same number gives the same file.
fn values(number: u64) -> String {
    let mut random = ChaCha8Rng::seed_from_u64(number);
    let centre = 10_f64.powi(random.random_range(-12..12));
    let spread = 10_f64.powi(random.random_range(-9..2));
    let rows = (0..random.random_range(1..400)).map(|part| {
        let wild = if random.random_bool(0.01) { 1e200 } else { 1.0 };
        format!("{part},{:e}\n", wild * centre * (1.0 + spread * random.random_range(-1.0..1.0)))
    });
    std::iter::once("part,measured_H\n".to_owned()).chain(rows).collect()
}

fn parts_of(phases: usize) -> String {
    let head = "unit,phase,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,turns_ratio,\
                series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,flying_capacitance_return_leg_F\n";
    let rows = (1..=phases).map(|phase| format!("a,{phase},,,,,,,,\n"));
    std::iter::once(head.to_owned()).chain(rows).collect()
}

/// Whether `check` finds a steady state at every operating point.
fn is_solved(text: &str) -> bool {
    let folder = folder_with(&[("any.toml", text)]);
    fairphase(folder.path(), "check any.toml").status == 0
}

fn from_environment(name: &str) -> Option<u64> {
    std::env::var(name).ok().map(|text| text.parse().unwrap())
}

#[test]
fn every_verb_ends_on_any_legal_scenario() {
    let first = from_environment("FAIRPHASE_SCENARIOS_FROM").unwrap_or(0);
    let count = from_environment("FAIRPHASE_SCENARIOS").unwrap_or(SCENARIOS);
    for number in first..first + count {
        // Every other one keeps a nominal converter that can be solved: verbs go beyond it.
        let is_legal = |text: &str| {
            Scenario::parse("any.toml", text).is_ok() && (number % 2 == 0 || is_solved(text))
        };
        let text = random_scenario(number, is_legal);
        let phases = Scenario::parse("any.toml", &text).unwrap().nominal_converter().phases();
        let files = [
            ("any.toml", &text),
            ("parts.csv", &parts_of(phases)),
            ("values.csv", &values(number)),
        ];
        let folder = folder_with(&files.map(|(name, text)| (name, text.as_str())));
        let wrong = WORKS.iter().find_map(|work| complaint(folder.path(), work));
        assert_eq!(wrong, None, "scenario {number}:\n{text}");
    }
}
