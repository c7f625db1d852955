//! A run that is ended early leaves no result file that looks complete.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::sleep;
use std::time::Duration;

use fairphase::converter::Arrangement;
use fairphase::engine::{Case, Engine, EngineError};
use fairphase::population::Population;
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::baseline::baselines;

fn start(out: &Path, samples: &str) -> Child {
    let scenario = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/telecom-shelf.toml");
    Command::new(env!("CARGO_BIN_EXE_fairphase"))
        .args(["run", scenario, "--quiet", "--samples", samples, "--out"])
        .arg(out)
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Names of the files that do not say themselves that they are unfinished.
fn visible(out: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(out) else { return Vec::new() };
    let names = entries.map(|e| e.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> = names.filter(|n| !n.starts_with(".unfinished-")).collect();
    names.sort();
    names
}

fn signal(child: &Child, name: &str) {
    let status = Command::new("kill").args(["-s", name, &child.id().to_string()]).status();
    assert!(status.unwrap().success());
}

#[test]
fn killed_at_any_moment_nothing_looks_complete() {
    let folder = tempfile::tempdir().unwrap();
    for milliseconds in [20, 100, 300, 800] {
        let mut child = start(folder.path(), "10000000");
        sleep(Duration::from_millis(milliseconds));
        child.kill().unwrap();
        child.wait().unwrap();
        assert_eq!(visible(folder.path()), Vec::<String>::new(), "after {milliseconds} ms");
    }
}

#[test]
fn killed_over_earlier_results_these_stay_whole() {
    let folder = tempfile::tempdir().unwrap();
    assert!(start(folder.path(), "50").wait().unwrap().success());
    let names = visible(folder.path());
    let before: Vec<_> = names.iter().map(|n| fs::read(folder.path().join(n)).unwrap()).collect();
    let mut child = start(folder.path(), "10000000");
    sleep(Duration::from_millis(400));
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(visible(folder.path()), names);
    let after: Vec<_> = names.iter().map(|n| fs::read(folder.path().join(n)).unwrap()).collect();
    assert!(before == after);
}

#[test]
fn asked_to_stop_it_cleans_up_and_exits_with_3() {
    for name in ["INT", "TERM"] {
        let folder = tempfile::tempdir().unwrap();
        let mut child = start(folder.path(), "10000000");
        sleep(Duration::from_millis(500));
        signal(&child, name);
        assert_eq!(child.wait().unwrap().code(), Some(3), "{name}");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "{name}");
    }
}

/// Converters may take long, a batch of them much longer: nobody waits for its end, and nobody is
/// given a batch that was not filled.
#[test]
fn the_wish_to_stop_is_heard_within_a_batch() {
    let scenario = Scenario::parse("shelf.toml", include_str!("data/shelf.toml")).unwrap();
    let cases: Vec<Case> =
        baselines(&scenario, Method::Exact).unwrap().into_iter().map(|b| b.case).collect();
    assert_eq!(cases.len(), Arrangement::ALL.len());
    let engine = Engine {
        population: &Population::new(&scenario, 1),
        cases: &cases,
        method: Method::Exact,
        band: scenario.frequency,
        threads: 1,
    };
    let (stop, solved) = (AtomicBool::new(false), AtomicU64::new(0));
    let measure = |_: &_, _: &_, _: &_, _: &mut [f64]| {
        if solved.fetch_add(1, Ordering::SeqCst) == 10 {
            stop.store(true, Ordering::SeqCst);
        }
    };
    let result = engine.run(1000, 1, &stop, measure, |_| panic!("an unfilled batch"));
    assert!(matches!(result, Err(EngineError::Interrupted(0))), "{result:?}");
    // The wish came at the eleventh solution; the sixth sample's other one was still made.
    assert_eq!(solved.into_inner(), 12);
}
