//! `run --resume`: a run that was interrupted, by whatever and whenever, goes on to the same bytes.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::Duration;

use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

use crate::support::{
    SHELF, command, entries, fairphase, folder_with, run_files, said, signal, succeed, wait_until,
};

/// Five steps.
const RUN: &str = "run shelf.toml --samples 24_000 --solver averaged --no-explain --quiet";

fn start(folder: &Path, options: &str) -> Child {
    let mut command = command(folder, &format!("{RUN} {options}"));
    command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
}

/// Folders of steps that are whole.
fn steps(out: &Path) -> usize {
    let Ok(folders) = fs::read_dir(out.join("steps")) else { return 0 };
    folders.filter(|folder| folder.as_ref().unwrap().path().join("summary.json").exists()).count()
}

/// Killed at random moments until it ends, before the first step, in between, and while the results are put
/// in their places; each attempt begins behind what the former ones kept.
#[test]
fn killed_at_random_moments_it_goes_on_to_the_same_bytes() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), &format!("{RUN} --out one"));
    let expected = run_files(&folder.path().join("one"));
    let mut rng = ChaCha8Rng::seed_from_u64(15);
    for (options, trials) in [("--threads 2", 3), ("--threads 1", 2)] {
        for trial in 0..trials {
            let name = format!("killed-{trial}-{}", options.len());
            let out = folder.path().join(&name);
            let mut kept = 0;
            for attempt in 0..200 {
                let mut child = start(folder.path(), &format!("{options} --resume --out {name}"));
                // Longer and longer, so that it ends however slow the machine is.
                sleep(Duration::from_millis(rng.random_range(1..400 + 150 * attempt)));
                child.kill().unwrap();
                let is_done = child.wait().unwrap().success();
                let now = steps(&out);
                assert!(
                    is_done || now >= kept || out.join("summary.json").exists(),
                    "steps were lost"
                );
                kept = now;
                if is_done {
                    break;
                }
            }
            // What was killed while the steps were removed is brought in order by the next command.
            succeed(folder.path(), &format!("{RUN} --resume --out {name}"));
            assert!(run_files(&out) == expected, "{name}");
        }
    }
}

/// Killed while the steps were removed, each of which loses its summary last: the next command solves again
/// what is no longer whole.
#[test]
fn steps_that_lost_files_are_solved_again() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), &format!("{RUN} --out one"));
    let expected = run_files(&folder.path().join("one"));
    for lost in [["samples.parquet"].as_slice(), &["samples.parquet", "tallies.bin"]] {
        let out = folder.path().join(format!("lost-{}", lost.len()));
        let name = out.file_name().unwrap().to_str().unwrap();
        let mut child = start(folder.path(), &format!("--resume --out {name}"));
        wait_until(&mut child, |_| steps(&out) > 1);
        child.kill().unwrap();
        child.wait().unwrap();
        for file in lost {
            fs::remove_file(out.join("steps/step-01-of-5").join(file)).unwrap();
        }
        succeed(folder.path(), &format!("{RUN} --resume --out {name}"));
        assert!(run_files(&out) == expected, "{lost:?}");
        assert!(!out.join("steps").exists(), "{lost:?}");
    }
}

/// A wish to stop says what is kept and how to go on.
#[test]
fn an_interrupted_run_tells_what_it_keeps() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("out");
    let mut child = start(folder.path(), "--samples 1e9 --resume --out out");
    assert_eq!(child.wait().unwrap().code(), Some(2), "samples are given twice");
    let run = RUN.replace("24_000", "100_000");
    let begin = || {
        let mut command = command(folder.path(), &format!("{run} --resume --out out"));
        command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let mut child = begin();
    wait_until(&mut child, |_| steps(&out) > 1);
    signal(&child, "INT");
    let said = said(child.wait_with_output().unwrap());
    assert_eq!(said.status, 3, "{}", said.stderr);
    let kept = format!("interrupted; {} of 24 steps are kept in out/steps", steps(&out));
    assert!(said.stderr.contains(&kept), "{}", said.stderr);
    assert_eq!(entries(&out), ["steps"], "nothing that looks like a result");
    // Another run does not go on with these steps, nor remove them.
    let kept = steps(&out);
    for (options, expected) in
        [("--seed 2", "its seed is 1, not 2"), ("--shard 1/2", "another part")]
    {
        let other = fairphase(folder.path(), &format!("{run} --resume --out out {options}"));
        assert_eq!(other.status, 2, "{options}: {}", other.stderr);
        assert!(other.stderr.contains(expected), "{options}: {}", other.stderr);
        assert_eq!(steps(&out), kept, "{options}");
    }
    // A run from the begin leaves them too, and says so.
    let whole = run.replace(" --quiet", "").replace("100_000", "2000");
    let other = fairphase(folder.path(), &format!("{whole} --out out"));
    assert_eq!(other.status, 0, "{}", other.stderr);
    assert!(other.stderr.contains("note: out/steps holds steps of a run"), "{}", other.stderr);
    assert_eq!(steps(&out), kept);
    let decided = fairphase(folder.path(), "run shelf.toml --decide --resume --out out");
    assert_eq!(decided.status, 2);
    assert!(decided.stderr.contains("--resume and --decide exclude each other"));
}

/// Interrupted while it explains, or just before: all steps are kept, and this is said whether results are there
/// without the explanation or none are.
#[test]
fn a_run_that_is_interrupted_after_its_last_step_tells_that_it_keeps_all() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("out");
    let run = RUN.replace(" --no-explain", "");
    let mut command = command(folder.path(), &format!("{run} --resume --out out"));
    let mut child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    wait_until(&mut child, |_| steps(&out) == 5);
    signal(&child, "INT");
    let said = said(child.wait_with_output().unwrap());
    assert_eq!(said.status, 3, "{}", said.stderr);
    let kept = "5 of 5 steps are kept in out/steps. The same command goes on from there";
    assert!(said.stderr.contains(kept), "{}", said.stderr);
    assert_eq!(steps(&out), 5);
    succeed(folder.path(), &format!("{run} --resume --out out"));
    assert!(!out.join("steps").exists());
    succeed(folder.path(), &format!("{run} --out one"));
    assert!(run_files(&out) == run_files(&folder.path().join("one")));
}

/// A part of a run goes on too, and is then what one process makes of it.
#[test]
fn an_interrupted_part_goes_on() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("resumed");
    let mut child = start(folder.path(), "--shard 2/2 --resume --out resumed");
    wait_until(&mut child, |_| steps(&out) > 0);
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(steps(&out) < 2, "it was killed in the middle");
    succeed(folder.path(), &format!("{RUN} --shard 2/2 --resume --out resumed"));
    succeed(folder.path(), &format!("{RUN} --shard 2/2 --out at-once"));
    for name in ["samples.parquet", "summary.json", "tallies.bin"] {
        let [resumed, at_once] =
            ["resumed", "at-once"].map(|out| fs::read(folder.path().join(out).join(name)).unwrap());
        assert!(resumed == at_once, "{name}");
    }
    assert_eq!(entries(&out), ["samples.parquet", "summary.json", "tallies.bin"]);
}
