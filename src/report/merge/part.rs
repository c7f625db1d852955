//! A part of a run: what names the run, and what is kept of its samples.
//!
//! `tallies.bin` is a line with the format, then values in the wire format of `postcard` (version 1): the version
//! of the program, the header, and the tallies to the end of the file. That format is compact (counts of most
//! bins are small numbers), exact (floating-point numbers bit by bit) and the same on every machine. The seal of
//! the folder's summary tells whether the file is as it was written.

use std::fs::File;
use std::io::Read;
use std::ops::Range;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::division::PartPlace;
use super::error::PartError;
use crate::printable;
use crate::report::format::folder::{Folder, SealedFiles};
use crate::scenario::SAMPLES;

/// The file of a part's tallies.
pub const TALLIES: &str = "tallies.bin";
/// Its first line.
const FORMAT: &[u8] = b"fairphase-part/2\n";
/// Most bytes of it that are read: far more than ever written.
const MOST: u64 = 1 << 30;
/// The file of its samples.
pub const SAMPLES_FILE: &str = "samples.parquet";

/// What decides the results of a run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartRun {
    /// The scenario file as it was named, and its text.
    pub scenario: NamedText,
    /// The files of measured parts.
    pub measured: Vec<NamedText>,
    /// Samples of the whole run.
    pub samples: u64,
    /// Seed of the random numbers.
    pub seed: u64,
    /// Random stream.
    pub stream: u64,
    /// Name of the solver.
    pub solver: String,
    /// Columns of the samples, as asked for.
    pub columns: String,
    /// Whether the run is explained.
    pub is_explained: bool,
}

/// A file with its text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NamedText {
    /// The path as it was named.
    pub path: String,
    /// The text.
    pub text: String,
}

impl PartRun {
    /// What tells another run from this one. Files may lie elsewhere, as on another machine: their text counts.
    pub(super) fn difference(&self, other: &Self) -> Option<String> {
        if self.scenario.text != other.scenario.text {
            let [own, other] = [self, other].map(|run| printable::line(&run.scenario.path));
            let is_same_file = own == other;
            return Some(if is_same_file {
                format!("its scenario {other} had another text")
            } else {
                format!("its scenario {other} has another text than {own}")
            });
        }
        let [own, others] = [self, other].map(|run| run.measured.iter().map(|file| &file.text));
        if !own.eq(others) {
            return Some("its files of measured parts had another text".to_owned());
        }
        let [own, others] = [self, other].map(Self::settings);
        let differing = own.into_iter().zip(others).find(|(own, other)| own != other);
        differing.map(|(own, other)| {
            let SettingText { name, value } = own;
            printable::line(&format!("its {name} is {}, not {value}", other.value)).into_owned()
        })
    }

    /// What the command line decides.
    fn settings(&self) -> [SettingText; 6] {
        let explained = if self.is_explained { "left out" } else { "given" };
        let setting = |name, value: &dyn ToString| SettingText { name, value: value.to_string() };
        [
            setting("number of samples", &self.samples),
            setting("seed", &self.seed),
            setting("random stream", &self.stream),
            setting("solver", &self.solver),
            setting("option --columns", &self.columns),
            setting("option --no-explain", &explained),
        ]
    }
}

/// A setting as messages tell it.
#[derive(Debug, PartialEq, Eq)]
struct SettingText {
    name: &'static str,
    value: String,
}

/// What a part tells of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartHeader {
    /// The run.
    pub run: PartRun,
    /// The samples that are divided into parts: all of the run, or those of one of its parts.
    pub whole: Range<u64>,
    /// Which part of them it is.
    pub place: PartPlace,
}

impl PartHeader {
    /// The numbers of its samples.
    pub fn samples(&self) -> Range<u64> {
        self.place.samples(&self.whole)
    }

    fn is_sound(&self) -> bool {
        SAMPLES.contains(&self.run.samples)
            && self.whole.end <= self.run.samples
            && self.place.is_within(&self.whole)
    }
}

/// A part in its folder.
#[derive(Debug)]
pub struct RunPart {
    /// The folder.
    pub folder: PathBuf,
    /// The samples that are divided into parts.
    pub whole: Range<u64>,
    /// Which part of them it is.
    pub place: PartPlace,
    has_samples: bool,
}

/// A part with the run that it names. Parts of one run need not keep it each.
#[derive(Debug)]
pub struct OpenedPart {
    /// The part.
    pub part: RunPart,
    /// Its run.
    pub run: PartRun,
}

impl RunPart {
    /// Writes what is kept of a part's samples into its folder in the making.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn write(folder: &Folder, header: &PartHeader, tallies: &[u8]) -> anyhow::Result<()> {
        let version = postcard::to_extend(&env!("CARGO_PKG_VERSION"), FORMAT.to_vec())?;
        let mut bytes = postcard::to_extend(header, version)?;
        bytes.extend_from_slice(tallies);
        folder.write(TALLIES, &bytes)
    }

    /// Reads what a part tells of itself.
    ///
    /// # Errors
    ///
    /// [`PartError::NoPart`] where a folder holds none, or its files were changed.
    pub fn open(folder: &Path) -> Result<OpenedPart, PartError> {
        let wrong = |reason: &str| PartError::no_part(folder, reason);
        let sealed = SealedFiles::open(folder).ok_or_else(|| {
            let has_summary = folder.join("summary.json").exists();
            wrong(if has_summary { "its summary.json was changed" } else { "it holds no results" })
        })?;
        if !sealed.holds(TALLIES) {
            return Err(wrong("it holds no part of a run"));
        }
        if let Some(changed) = sealed.changed() {
            return Err(PartError::no_part(
                folder,
                format!("{changed} was changed, or is missing"),
            ));
        }
        let bytes = bytes(folder)?;
        let PartHeader { run, whole, place } = parsed(folder, &bytes)?.header;
        let has_samples = sealed.holds(SAMPLES_FILE);
        let part = Self { folder: folder.to_owned(), whole, place, has_samples };
        Ok(OpenedPart { part, run })
    }

    /// The numbers of its samples.
    pub fn samples(&self) -> Range<u64> {
        self.place.samples(&self.whole)
    }

    /// What is kept of its samples.
    ///
    /// # Errors
    ///
    /// When the file was changed since it was opened.
    pub fn tallies(&self) -> Result<Vec<u8>, PartError> {
        let mut bytes = bytes(&self.folder)?;
        let Parsed { header, tallies } = parsed(&self.folder, &bytes)?;
        if header.whole != self.whole || header.place != self.place {
            return Err(PartError::no_part(&self.folder, "it changes while it is read"));
        }
        Ok(bytes.split_off(bytes.len() - tallies))
    }

    /// The files that are read of it.
    pub fn files(&self) -> impl Iterator<Item = PathBuf> {
        let samples = self.has_samples.then_some(SAMPLES_FILE);
        ["summary.json", TALLIES].into_iter().chain(samples).map(|name| self.folder.join(name))
    }

    /// The file of its samples, if there is one.
    pub fn samples_file(&self) -> Option<PathBuf> {
        self.has_samples.then(|| self.folder.join(SAMPLES_FILE))
    }
}

/// A header, and how many bytes of tallies follow it.
struct Parsed {
    header: PartHeader,
    tallies: usize,
}

fn parsed(folder: &Path, bytes: &[u8]) -> Result<Parsed, PartError> {
    let wrong = |reason: &str| PartError::no_part(folder, reason);
    let damaged = |_| wrong("tallies.bin is damaged");
    let Some(rest) = bytes.strip_prefix(FORMAT) else {
        return Err(wrong("tallies.bin has a format that this version does not read"));
    };
    let (version, rest) = postcard::take_from_bytes::<String>(rest).map_err(damaged)?;
    let own = env!("CARGO_PKG_VERSION");
    if version != own {
        let version = printable::line(&version);
        let reason = format!("fairphase {version} wrote it, and this is fairphase {own}");
        return Err(PartError::no_part(folder, reason));
    }
    let (header, rest) = postcard::take_from_bytes::<PartHeader>(rest).map_err(damaged)?;
    if !header.is_sound() {
        return Err(wrong("tallies.bin is damaged"));
    }
    Ok(Parsed { header, tallies: rest.len() })
}

fn bytes(folder: &Path) -> Result<Vec<u8>, PartError> {
    let unreadable = |error: std::io::Error| {
        PartError::no_part(folder, format!("cannot read {TALLIES}: {error}"))
    };
    let mut bytes = Vec::new();
    let file = File::open(folder.join(TALLIES)).map_err(unreadable)?;
    file.take(MOST + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() as u64 > MOST {
        return Err(PartError::no_part(folder, "tallies.bin is longer than 1 GiB"));
    }
    Ok(bytes)
}
