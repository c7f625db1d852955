//! Runs the program itself, and reads what it writes.
#![allow(dead_code, missing_docs, unreachable_pub, reason = "each test uses its part")]
#![allow(clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use serde_json::Value;

/// One operating point, one tolerance; the data in it are invented.
pub const SHELF: &str = include_str!("../data/shelf.toml");
/// Four operating points, all tolerances, all limits; invented too.
pub const TELECOM: &str = include_str!("../../scenarios/telecom-shelf.toml");

/// All files of a run.
pub const RUN_FILES: [&str; 6] = [
    "population.parquet",
    "ratings.csv",
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

/// How long anything may take that is waited for, on a busy machine.
pub const PATIENCE: Duration = Duration::from_mins(5);

/// Waits until something is true of a program at work; it must not end before.
#[track_caller]
pub fn wait_until(child: &mut Child, mut is_so: impl FnMut(&Child) -> bool) {
    let started = Instant::now();
    while !is_so(child) {
        if let Some(status) = child.try_wait().unwrap() {
            panic!("it ended while it was waited for: {status}");
        }
        if started.elapsed() > PATIENCE {
            child.kill().unwrap();
            panic!("nothing seen of it for {PATIENCE:?}");
        }
        sleep(Duration::from_millis(5));
    }
}

/// Whether result files are in the making in a folder, which a program holds by its lock: the place for
/// former files comes after that.
pub fn is_in_the_making(out: &Path) -> bool {
    out.join(".unfinished-results/old").is_dir()
}

/// Whether a program has begun its work: to read its files and to open its folder takes some hundredths
/// of this.
pub fn is_past_opening(child: &Child) -> bool {
    processor_time(child) > 1.0
}

/// Processor time that a program has taken on all its threads, in seconds; proc(5), where the 14th and
/// 15th fields count hundredths.
pub fn processor_time(child: &Child) -> f64 {
    let stat = fs::read_to_string(format!("/proc/{}/stat", child.id())).unwrap();
    let after_name = stat.rsplit_once(')').unwrap().1;
    let fields: Vec<&str> = after_name.split_whitespace().collect();
    fields[11..13].iter().map(|ticks| ticks.parse::<f64>().unwrap() / 100.0).sum()
}

/// Sends a signal.
pub fn signal(child: &Child, name: &str) {
    let status = Command::new("kill").args(["-s", name, &child.id().to_string()]).status();
    assert!(status.unwrap().success());
}

/// Asks a program to stop in the middle of its work, with something finished and much left: what it
/// says then, with exit status 3. The work must take thousands of seconds of processor time; the wish is
/// made after a few, and after more of them as long as nothing was finished by then.
#[track_caller]
pub fn interrupted(folder: &Path, arguments: &str, out: &Path) -> Said {
    for seconds in [2.0, 8.0, 32.0, 128.0] {
        let mut command = command(folder, arguments);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        wait_until(&mut child, |child| processor_time(child) > seconds);
        signal(&child, "INT");
        let said = said(child.wait_with_output().unwrap());
        assert_eq!(said.status, 3, "{}", said.stderr);
        if !said.stdout.is_empty() {
            return said;
        }
        assert!(said.stderr.contains("interrupted"), "{}", said.stderr);
        assert!(!out.exists(), "nothing found: nothing left");
    }
    panic!("nothing was finished in two minutes of processor time");
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

/// The columns of a Parquet file by their names.
#[derive(Debug, PartialEq)]
pub struct Frame(BTreeMap<String, Vec<Field>>);

impl Frame {
    pub fn height(&self) -> usize {
        self.0.values().next().map_or(0, Vec::len)
    }

    /// So many rows from this one on.
    pub fn rows(&self, first: usize, rows: usize) -> Self {
        let part = |(name, column): (&String, &Vec<Field>)| {
            (name.clone(), column[first..first + rows].to_vec())
        };
        Self(self.0.iter().map(part).collect())
    }

    pub fn width(&self) -> usize {
        self.0.len()
    }

    fn column<T>(&self, name: &str, value: impl Fn(&Field) -> Option<T>) -> Vec<T> {
        let column = self.0.get(name).unwrap_or_else(|| panic!("no column {name}"));
        column
            .iter()
            .map(|field| value(field).unwrap_or_else(|| panic!("{name}: {field}")))
            .collect()
    }
}

pub fn parquet(path: &Path) -> Frame {
    let reader = SerializedFileReader::new(fs::File::open(path).unwrap()).unwrap();
    let mut columns: BTreeMap<String, Vec<Field>> = BTreeMap::new();
    for row in reader.get_row_iter(None).unwrap() {
        for (name, field) in row.unwrap().into_columns() {
            columns.entry(name).or_default().push(field);
        }
    }
    Frame(columns)
}

/// The values of a column; NaN where there is none.
pub fn floats(frame: &Frame, name: &str) -> Vec<f64> {
    frame.column(name, |field| match field {
        Field::Double(x) => Some(*x),
        Field::Null => Some(f64::NAN),
        _ => None,
    })
}

pub fn words(frame: &Frame, name: &str) -> Vec<String> {
    frame.column(name, |field| match field {
        Field::Str(text) => Some(text.clone()),
        _ => None,
    })
}

pub fn counts(frame: &Frame, name: &str) -> Vec<u64> {
    frame.column(name, |field| match field {
        Field::ULong(n) => Some(*n),
        _ => None,
    })
}

pub fn truths(frame: &Frame, name: &str) -> Vec<bool> {
    frame.column(name, |field| match field {
        Field::Bool(x) => Some(*x),
        _ => None,
    })
}

/// A scenario with another number of phases: input voltages and outputs follow it, so that a phase of the
/// chain carries what it did before.
pub fn with_phases(text: &str, phases: u32) -> String {
    let mut table: toml::Table = text.parse().unwrap();
    let converter = table["converter"].as_table_mut().unwrap();
    let before = converter["phases"].as_integer().unwrap();
    converter.insert("phases".to_owned(), i64::from(phases).into());
    let factor = f64::from(phases) / before as f64;
    for point in table["operating_point"].as_array_mut().unwrap() {
        let point = point.as_table_mut().unwrap();
        for key in ["input_voltage", "output_power", "output_current"] {
            if let Some(value) = point.get(key).and_then(|value| value.as_str()) {
                let (number, unit) = value.split_once(' ').unwrap();
                let number = number.parse::<f64>().unwrap() * factor;
                point.insert(key.to_owned(), format!("{number:.3} {unit}").into());
            }
        }
    }
    if let Some(gain) = table.get_mut("gain").and_then(|gain| gain.as_table_mut()) {
        gain.remove("input_voltage");
    }
    toml::to_string(&table).unwrap()
}
