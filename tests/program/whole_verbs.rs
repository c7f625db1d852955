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

use crate::random_scenario::random_scenario;
use crate::support::{fairphase, folder_with};

const SCENARIOS: u64 = 4;
/// Seconds of processor time; what a run explains takes a dozen of them, also of few samples.
const SECONDS: u64 = 300;
/// Address space in KiB.
const MEMORY: u64 = 3 << 20;

const WORKS: [&str; 9] = [
    "check",
    "units --parts parts.csv",
    "gain",
    "run --samples 50",
    "bands --samples 700 --solver averaged",
    "grades --samples 50",
    "sensors --samples 50",
    "faults --samples 20",
    "capacitors --samples 20",
];

/// What goes wrong in a verb, if anything does.
fn complaint(folder: &Path, work: &str) -> Option<String> {
    let (verb, options) = work.split_once(' ').unwrap_or((work, ""));
    let limits = format!("ulimit -t {SECONDS}; ulimit -v {MEMORY};");
    let script = format!("{limits} exec \"$0\" {verb} any.toml {options} --threads 1 --out out");
    let mut command = Command::new("sh");
    command.args(["-c", &script, env!("CARGO_BIN_EXE_fairphase")]).current_dir(folder);
    let output = command.stdin(Stdio::null()).output().unwrap();
    let stderr = String::from_utf8_lossy(&output.stderr);
    let (code, signal) = (output.status.code(), output.status.signal());
    let is_told = code == Some(0) || stderr.starts_with("error: ");
    let is_right = matches!(code, Some(0 | 2)) && is_told && !stderr.contains("panicked");
    (!is_right).then(|| format!("{work}: {code:?} {signal:?} {stderr}"))
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
        let folder = folder_with(&[("any.toml", &text), ("parts.csv", &parts_of(phases))]);
        let wrong = WORKS.iter().find_map(|work| complaint(folder.path(), work));
        assert_eq!(wrong, None, "scenario {number}:\n{text}");
    }
}
