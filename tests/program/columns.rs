//! `run --columns`: which columns the file of the samples has, and whether there is one.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::fs;

use crate::support::{SHELF, fairphase, floats, folder_with, json, parquet, succeed};

const RUN: &str = "run shelf.toml --samples 40 --solver averaged --no-explain --quiet";

/// The named columns hold what they hold among all others.
#[test]
fn named_columns_are_those_of_the_whole_file() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), &format!("{RUN} --out all"));
    // A figure of a switch has a column where it is asked for alone.
    let names = "loss_W,sharing_error,high_1_switch_rms_current_A";
    succeed(folder.path(), &format!("{RUN} --columns {names} --out some"));
    let [all, some] =
        ["all", "some"].map(|out| parquet(&folder.path().join(out).join("samples.parquet")));
    for name in ["sharing_error", "loss_W"] {
        assert_eq!(floats(&all, name), floats(&some, name), "{name}");
    }
    let rms = floats(&some, "high_1_switch_rms_current_A");
    assert!(rms.iter().all(|rms| *rms > 0.0), "{rms:?}");
    assert_eq!(some.width(), 5 + 3, "columns that say what a row is about, and those asked for");
    let of = |out: &str| fs::read(folder.path().join(out).join("report.html")).unwrap();
    assert!(of("all") == of("some"), "columns change the page");
}

/// Without files of the samples all else is the same, files of a former run go, and nothing speaks of
/// them.
#[test]
fn a_run_without_columns_writes_no_file_of_samples() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), &format!("{RUN} --out out"));
    let out = folder.path().join("out");
    let before = json(&out.join("summary.json"));
    succeed(folder.path(), &format!("{RUN} --out out --columns none"));
    let after = json(&out.join("summary.json"));
    for name in ["samples.parquet", "population.parquet"] {
        assert!(!out.join(name).exists(), "{name}");
        assert!(!after["files"].as_array().unwrap().iter().any(|file| file == name), "{name}");
    }
    assert_eq!(before["sampling"]["samples_in_files"], 40);
    assert_eq!(after["sampling"]["samples_in_files"], 0);
    for key in ["joint", "results", "ratings"] {
        assert!(!after[key].is_null() && before[key] == after[key], "{key}");
    }
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(!page.contains("samples.parquet") && page.contains("--columns none"));
    assert!(!page.contains("population.parquet"));
}

#[test]
fn a_column_that_is_not_there_is_an_error() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    for (columns, expected) in [
        ("shring_error", "did you mean sharing_error?"),
        ("loss_W,,sharing_error", "expected all, none, or names of columns"),
        ("sharing_error,status", "\"status\" is in samples.parquet always"),
    ] {
        let said = fairphase(folder.path(), &format!("{RUN} --columns {columns}"));
        assert_eq!(said.status, 2, "{columns}: {}", said.stderr);
        assert!(said.stderr.contains(expected), "{columns}: {}", said.stderr);
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "something was written");
}
