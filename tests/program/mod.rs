//! Runs the program itself, and reads what it writes.
#![allow(dead_code, missing_docs, unreachable_pub, reason = "each test uses its part")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use polars::prelude::{DataFrame, ParquetReader, SerReader};
use serde_json::Value;

/// One operating point, one tolerance; the data in it are invented.
pub const SHELF: &str = include_str!("../data/shelf.toml");
/// Four operating points, all tolerances, all limits; invented too.
pub const TELECOM: &str = include_str!("../../scenarios/telecom-shelf.toml");

/// All files of a run.
pub const RUN_FILES: [&str; 5] = [
    "population.parquet",
    "report.html",
    "samples.parquet",
    "summary.json",
    "worst_converters.csv",
];

/// The program, about to be started in a folder.
pub fn command(folder: &Path, arguments: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_fairphase"));
    command.current_dir(folder).args(arguments.split_whitespace()).stdin(Stdio::null());
    command
}

/// What the program said, and its exit status.
#[derive(Debug)]
pub struct Said {
    pub status: i32,
    pub stdout: String,
    pub stderr: String,
}

pub fn said(output: Output) -> Said {
    Said {
        status: output.status.code().expect("the program was ended by a signal"),
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Runs the program in a folder with arguments that stand apart by blanks.
pub fn fairphase(folder: &Path, arguments: &str) -> Said {
    said(command(folder, arguments).output().unwrap())
}

/// The same where nothing may go wrong: status 0, and nothing on standard error.
#[track_caller]
pub fn succeed(folder: &Path, arguments: &str) -> String {
    let said = fairphase(folder, arguments);
    assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{arguments}");
    said.stdout
}

/// A folder of its own that holds these files.
pub fn folder_with(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

/// `text` with one place changed.
#[track_caller]
pub fn changed(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "`{from}` must stand once in the text");
    text.replace(from, to)
}

/// Names of all entries of a folder, hidden ones too, in order.
pub fn entries(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// The bytes of every file of a run.
pub fn run_files(folder: &Path) -> Vec<(&'static str, Vec<u8>)> {
    assert_eq!(entries(folder), RUN_FILES, "the files of a run");
    RUN_FILES.map(|name| (name, fs::read(folder.join(name)).unwrap())).into()
}

pub fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

pub fn parquet(path: &Path) -> DataFrame {
    ParquetReader::new(fs::File::open(path).unwrap()).finish().unwrap()
}

/// The values of a column; NaN where there is none.
pub fn floats(frame: &DataFrame, name: &str) -> Vec<f64> {
    let column = frame.column(name).unwrap().f64().unwrap();
    column.iter().map(|x| x.unwrap_or(f64::NAN)).collect()
}

pub fn words(frame: &DataFrame, name: &str) -> Vec<String> {
    let column = frame.column(name).unwrap().str().unwrap();
    column.iter().map(|x| x.unwrap().to_owned()).collect()
}

pub fn counts(frame: &DataFrame, name: &str) -> Vec<u64> {
    frame.column(name).unwrap().u64().unwrap().iter().map(Option::unwrap).collect()
}

pub fn truths(frame: &DataFrame, name: &str) -> Vec<bool> {
    frame.column(name).unwrap().bool().unwrap().iter().map(Option::unwrap).collect()
}
