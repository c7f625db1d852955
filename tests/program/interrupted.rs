//! A run that is ended early leaves no result file that looks complete.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::support::{PATIENCE, is_in_the_making, signal, wait_until};
use fairphase::engine::{Batch, EngineError, Layout, Status, Workers};
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Method};
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::run::{SampleSink, SampleSize, run};

/// More samples than any machine solves while a test lasts.
const ENDLESS: &str = "1000000000";

fn start(out: &Path, samples: &str) -> Child {
    let scenario = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/telecom-shelf.toml");
    Command::new(env!("CARGO_BIN_EXE_fairphase"))
        .args(["run", scenario, "--quiet", "--samples", samples, "--out"])
        .arg(out)
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// A run that is solving samples.
#[track_caller]
fn at_work(out: &Path) -> Child {
    let mut child = start(out, ENDLESS);
    wait_until(&mut child, |_| is_in_the_making(out));
    child
}

/// Names of the files that do not say themselves that they are unfinished.
fn visible(out: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(out) else { return Vec::new() };
    let names = entries.map(|e| e.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> = names.filter(|n| !n.starts_with(".unfinished-")).collect();
    names.sort();
    names
}

/// The exit status, once there is one; a run that does not end is killed, and fails.
fn ended(child: &mut Child) -> Option<i32> {
    let asked = Instant::now();
    while asked.elapsed() < PATIENCE {
        if let Some(status) = child.try_wait().unwrap() {
            return status.code();
        }
        sleep(Duration::from_millis(10));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    panic!("still at work {PATIENCE:?} after it was asked to stop");
}

/// At any moment, from before it solves anything to amid its samples.
#[test]
fn killed_at_any_moment_nothing_looks_complete() {
    for milliseconds in [0, 3, 20, 100, 500] {
        let folder = tempfile::tempdir().unwrap();
        let mut child = start(folder.path(), ENDLESS);
        if milliseconds > 3 {
            wait_until(&mut child, |_| is_in_the_making(folder.path()));
        }
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
    let mut child = at_work(folder.path());
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
        fs::create_dir(folder.path().join("mine")).unwrap();
        for (out, stays) in [("new/below", false), ("mine", true)] {
            let out = folder.path().join(out);
            let mut child = at_work(&out);
            signal(&child, name);
            assert_eq!(ended(&mut child), Some(3), "{name}");
            // What was there stays, empty as it is; what the run made goes.
            assert_eq!(out.is_dir(), stays, "{name}");
            assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "{name}");
        }
        assert_eq!(fs::read_dir(folder.path().join("mine")).unwrap().count(), 0, "{name}");
    }
}

/// Wishes to stop once the last sample is done.
struct Impatient<'a>(&'a AtomicBool);

impl SampleSink for Impatient<'_> {
    fn begin(&mut self, _: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        Ok(())
    }

    fn take(
        &mut self,
        batch: &Batch,
        _: usize,
        _: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        self.0.store(batch.first + batch.len() as u64 == 50, Ordering::SeqCst);
        Ok(())
    }
}

/// The comparison of both solvers goes through samples of its own: their number tells nobody
/// anything.
#[test]
fn stopped_while_solvers_are_compared_it_says_so() {
    let scenario = Scenario::parse("shelf.toml", include_str!("../data/shelf.toml")).unwrap();
    let settings = Settings { samples: 50, seed: 1, method: Method::Averaged, threads: 1 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let stopped = run(
        &session,
        1.into(),
        SampleSize::Fixed(settings.samples),
        &mut Impatient(&stop),
        &mut Silent,
    );
    let message = stopped.unwrap_err().to_string();
    assert!(message.contains("after all samples, while both solvers were compared"), "{message}");
}

/// Converters may take long, a batch of them much longer: nobody waits for its end, and nobody is
/// given a batch that was not filled.
#[test]
fn the_wish_to_stop_is_heard_within_a_batch() {
    let (stop, filled) = (AtomicBool::new(false), AtomicU64::new(0));
    let workers = Workers::new(1, &stop).unwrap();
    let fill = |_: u64, statuses: &mut [Status], _: &mut [f64]| {
        statuses.fill(Status::Solved);
        if filled.fetch_add(1, Ordering::SeqCst) == 10 {
            stop.store(true, Ordering::SeqCst);
        }
    };
    let layout = Layout::of_rows(2, 1);
    let result = workers.batches(layout, 1000, fill, |_| panic!("an unfilled batch"));
    assert!(matches!(result, Err(EngineError::Interrupted(0))), "{result:?}");
    // The wish came with the eleventh sample; no further one was begun.
    assert_eq!(filled.into_inner(), 11);
    let again = workers.map(&[1, 2, 3], |n| n * n);
    assert!(matches!(again, Err(EngineError::Stopped)), "{again:?}");
}
