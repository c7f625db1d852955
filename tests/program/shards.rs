//! `run --shard` and `merge`: the parts of a run, joined in any order, are the run, byte for byte.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;

use crate::support::{SHELF, TELECOM, changed, entries, fairphase, folder_with, json, succeed};

const FERRY: &str = include_str!("../../scenarios/ferry-lighting.toml");
const DOME: &str = include_str!("../../scenarios/observatory-dome.toml");

/// The files of a folder that is named in its scenario too.
fn with_measured_parts() -> Vec<(&'static str, &'static str)> {
    vec![
        ("shelf.toml", SHELF),
        ("telecom.toml", TELECOM),
        ("ferry.toml", FERRY),
        ("dome.toml", DOME),
        ("incoming-cores.csv", include_str!("../../scenarios/incoming-cores.csv")),
        ("incoming-transformers.csv", include_str!("../../scenarios/incoming-transformers.csv")),
        ("incoming-rectifiers.csv", include_str!("../../scenarios/incoming-rectifiers.csv")),
    ]
}

/// Every file of a folder with its bytes.
fn bytes(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let read = |name: String| (name.clone(), fs::read(folder.join(name)).unwrap());
    entries(folder).into_iter().map(read).collect()
}

#[track_caller]
fn assert_same(folder: &Path, one: &str, other: &str) {
    let [one, other] = [one, other].map(|name| bytes(&folder.join(name)));
    let names = |files: &[(String, Vec<u8>)]| -> Vec<String> {
        files.iter().map(|(name, _)| name.clone()).collect()
    };
    assert_eq!(names(&one), names(&other));
    for ((name, one), (_, other)) in one.iter().zip(&other) {
        assert!(one == other, "{name} differs");
    }
}

/// Makes the parts of a run, each with other threads, and joins them in an order that is not theirs.
fn in_parts(folder: &Path, run: &str, parts: usize, merge: &str) {
    let mut names = Vec::new();
    for number in 1..=parts {
        let name = format!("part-{number}-of-{parts}");
        let threads = 1 + number % 3;
        let line =
            format!("{run} --shard {number}/{parts} --threads {threads} --quiet --out {name}");
        succeed(folder, &line);
        names.push(name);
    }
    names.rotate_left(parts / 2);
    names.reverse();
    let line = format!("merge {} --out of-{parts} --quiet {merge}", names.join(" "));
    succeed(folder, &line);
}

/// Whatever is asked: two operating points and more, every limit, measured parts, lots, correlated parts and
/// delivered batches, either solver, columns or none, with and without the explanation.
#[test]
fn joined_parts_are_one_run() {
    let explained = "run telecom.toml --samples 700 --solver averaged";
    for (run, merge, parts) in [
        (explained, "--figures --threads 1", &[1, 2, 5][..]),
        ("run telecom.toml --samples 300", "", &[3]),
        ("run telecom.toml --samples 2100 --no-explain --columns none", "--threads 2", &[2]),
        ("run dome.toml --samples 900 --no-explain --solver averaged --seed 7", "", &[3]),
        ("run ferry.toml --samples 900 --no-explain --stream 3 --columns sharing_error", "", &[2]),
        // As many parts as there can be: 128 samples each, the last one with what is left.
        ("run shelf.toml --samples 1000 --solver averaged", "", &[8]),
        // Values are counted in bins beyond 32 768 of them; the first parts hold none of those.
        ("run shelf.toml --samples 40_000 --solver averaged --no-explain --columns none", "", &[3]),
    ] {
        let folder = folder_with(&with_measured_parts());
        let figures = if merge.contains("--figures") { "--figures" } else { "" };
        succeed(folder.path(), &format!("{run} --out one --quiet {figures}"));
        for parts in parts {
            in_parts(folder.path(), run, *parts, merge);
            assert_same(folder.path(), "one", &format!("of-{parts}"));
        }
    }
}

/// The parts hold all that is needed: neither the scenario nor files of measured parts are read again. These may
/// lie elsewhere on each machine: the first part names them.
#[test]
fn parts_are_joined_without_the_scenario() {
    let folder = folder_with(&with_measured_parts());
    let run = "run dome.toml --samples 300 --no-explain --solver averaged";
    succeed(folder.path(), &format!("{run} --out one --quiet"));
    succeed(folder.path(), &format!("{run} --shard 1/2 --out 1 --quiet"));
    let other = folder_with(&[]);
    fs::create_dir(other.path().join("copies")).unwrap();
    for (name, text) in with_measured_parts() {
        fs::write(other.path().join("copies").join(name), text).unwrap();
    }
    let by_copy = run.replace("dome.toml", "copies/dome.toml");
    let out = folder.path().join("2");
    let out = out.to_str().unwrap();
    succeed(other.path(), &format!("{by_copy} --shard 2/2 --out {out} --quiet"));
    let elsewhere = folder_with(&[]);
    for name in ["1", "2"] {
        fs::create_dir(elsewhere.path().join(name)).unwrap();
        for (file, content) in bytes(&folder.path().join(name)) {
            fs::write(elsewhere.path().join(name).join(file), content).unwrap();
        }
    }
    let said = succeed(elsewhere.path(), "merge 2 1 --json");
    let written = fs::read_to_string(elsewhere.path().join("reports/dome/summary.json")).unwrap();
    assert_eq!(said, written, "the default folder is that of the scenario");
    assert_eq!(written, fs::read_to_string(folder.path().join("one/summary.json")).unwrap());
}

#[test]
fn a_part_tells_which_samples_it_holds() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let said = succeed(folder.path(), "run shelf.toml --samples 1000 --shard 2/3 --out part-2");
    for words in ["Part 2 of 3: samples 256 to 639 of 1", "fairphase merge part-2 …"] {
        assert!(said.contains(words), "{words}:\n{said}");
    }
    let out = folder.path().join("part-2");
    assert_eq!(entries(&out), ["samples.parquet", "summary.json", "tallies.bin"]);
    let summary = json(&out.join("summary.json"));
    let told = ["part", "parts", "first_sample", "samples_of_part", "samples"];
    assert_eq!(told.map(|key| summary[key].as_u64().unwrap()), [2, 3, 256, 384, 1000]);
}

/// What cannot be joined, and what is said of it; nothing is written.
#[test]
fn parts_that_do_not_belong_together_are_refused() {
    let folder = folder_with(&[("shelf.toml", SHELF), ("telecom.toml", TELECOM)]);
    let run = "run shelf.toml --samples 800 --solver averaged --quiet";
    for (options, out) in [
        ("--shard 1/4", "1"),
        ("--shard 2/4", "2"),
        ("--shard 4/4", "4"),
        ("--shard 2/5", "of-five"),
        ("--shard 3/4 --seed 2", "seed"),
        ("--shard 3/4 --stream 2", "stream"),
        ("--shard 3/4 --no-explain", "no-explain"),
        ("--shard 3/4 --columns none", "columns"),
    ] {
        succeed(folder.path(), &format!("{run} {options} --out {out}"));
    }
    let exact = "run shelf.toml --samples 800 --no-explain --quiet --shard 3/4 --out exact";
    succeed(folder.path(), exact);
    let more = run.replace("800", "801");
    succeed(folder.path(), &format!("{more} --shard 3/4 --out more"));
    let other = run.replace("shelf.toml", "telecom.toml");
    succeed(folder.path(), &format!("{other} --shard 3/4 --out other"));
    let text = changed(SHELF, "\"4.56 µH\"", "\"4.57 µH\"");
    fs::write(folder.path().join("shelf.toml"), text).unwrap();
    succeed(folder.path(), &format!("{run} --shard 3/4 --out text"));
    succeed(folder.path(), "run telecom.toml --samples 20 --no-explain --quiet --out whole");
    for (parts, expected) in [
        ("1 2 4", "part 3 of 4 is missing"),
        ("4", "parts 1 to 3 of 4 are missing"),
        ("2 4", "parts 1, 3 of 4 are missing"),
        ("1 2", "`fairphase run shelf.toml --shard 3/4` and so on"),
        ("1 2 4 2", "part 2/4 is there twice"),
        ("1 of-five", "it is one of 5 parts, not of 4"),
        ("1 2 seed 4", "its seed is 2, not 1"),
        ("1 2 stream 4", "its random stream is 2, not 0"),
        ("1 2 no-explain 4", "its option --no-explain is given, not left out"),
        ("1 2 columns 4", "its option --columns is none, not all"),
        ("1 2 exact 4", "its solver is exact, not averaged"),
        ("1 2 more 4", "its number of samples is 801, not 800"),
        ("1 2 other 4", "its scenario telecom.toml has another text than shelf.toml"),
        ("1 2 text 4", "its scenario shelf.toml had another text"),
        ("1 whole", "whole: it holds no part of a run"),
        ("1 nowhere", "nowhere: it holds no results"),
    ] {
        let said = fairphase(folder.path(), &format!("merge {parts} --out out"));
        assert_eq!(said.status, 2, "{parts}: {}", said.stderr);
        assert!(said.stderr.contains(expected), "{parts}: {}", said.stderr);
        assert!(said.stdout.is_empty() && !folder.path().join("out").exists(), "{parts}");
    }
    // Nor do results take the place of the parts that they are made of.
    let said = fairphase(folder.path(), "merge 1 2 4 --out 1");
    assert_eq!(said.status, 2);
}

/// A part that was changed after it was written: whichever of its files.
#[test]
fn changed_parts_are_refused() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let run = "run shelf.toml --samples 300 --solver averaged --no-explain --quiet";
    for number in [1, 2] {
        succeed(folder.path(), &format!("{run} --shard {number}/2 --out {number}"));
    }
    for name in ["tallies.bin", "samples.parquet", "summary.json"] {
        let path = folder.path().join("2").join(name);
        let whole = fs::read(&path).unwrap();
        for place in [0, whole.len() / 3, whole.len() - 1] {
            let mut damaged = whole.clone();
            damaged[place] ^= 1;
            fs::write(&path, damaged).unwrap();
            let said = fairphase(folder.path(), "merge 1 2 --out out");
            assert_eq!(said.status, 2, "{name} {place}: {}", said.stderr);
            assert!(said.stderr.starts_with("error: 2: "), "{}", said.stderr);
            assert!(!folder.path().join("out").exists());
        }
        fs::remove_file(&path).unwrap();
        assert_eq!(fairphase(folder.path(), "merge 1 2 --out out").status, 2, "{name}");
        fs::write(&path, whole).unwrap();
    }
    succeed(folder.path(), "merge 1 2 --out out --quiet");
}

#[test]
fn options_that_a_part_cannot_follow_are_refused() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    for (options, expected) in [
        ("--shard 1/2 --decide", "--shard and --decide exclude each other"),
        ("--shard 1/2 --figures", "--figures does not go with --shard"),
        ("--shard 1/2 --require-pass", "--require-pass does not go with --shard"),
        ("--shard 3/2", "expected K/N with K from 1 to N"),
        ("--shard 1/9 --samples 1000", "expected K/N with N up to 8"),
    ] {
        let said = fairphase(folder.path(), &format!("run shelf.toml {options} --out out"));
        assert_eq!(said.status, 2, "{options}: {}", said.stderr);
        assert!(said.stderr.contains(expected), "{options}: {}", said.stderr);
        assert!(!folder.path().join("out").exists());
    }
    let said = fairphase(folder.path(), "run shelf.toml --shard 1/2");
    assert!(said.status == 2 && said.stderr.contains("--shard needs --out"), "{}", said.stderr);
}

/// `merge` gives what `run` gives with the same verdict: its exit status too.
#[test]
fn a_merged_verdict_decides_the_exit_status() {
    let folder = folder_with(&[("shelf.toml", &changed(SHELF, "\"99 %\"", "\"99.99 %\""))]);
    let run = "run shelf.toml --samples 300 --solver averaged --no-explain --quiet";
    succeed(folder.path(), &format!("{run} --shard 1/1 --out part"));
    assert_eq!(fairphase(folder.path(), "merge part --out out --require-pass --quiet").status, 1);
}
