//! A set of result files that this program wrote, and whether its files are still as they were.
//!
//! The summary of a set holds the XXH64 checksum of every file, its own among them. So a folder tells
//! by itself which of its files are results that nobody has changed since.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::hash::Hasher;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use anyhow::Context;
use serde::Deserialize;
use twox_hash::XxHash64;

use super::result_file::{SUMMARY, is_result_file};
use crate::printable;
use crate::report::format::summary::{SCHEMA_NAME, SetEntries, SummaryText};

/// What stands in the summary for its own checksum while that is taken.
const BLANK: &str = "0000000000000000";

/// A set of result files, as its summary lists them.
#[derive(Debug, Clone)]
pub(super) struct ResultSet {
    /// The verb that wrote it.
    pub(super) verb: String,
    /// Whether the work was stopped before its end.
    pub(super) is_partial: bool,
    /// Of its files, and of files of a former set that stay.
    checksums: Checksums,
    files: Vec<String>,
}

/// Checksums of files by their names.
pub(super) type Checksums = BTreeMap<String, String>;

/// What became of a file of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FileState {
    /// It is as it was written.
    Unchanged,
    /// Something else has its name.
    Changed,
    /// Nothing has its name.
    Missing,
}

/// The keys of a summary by which it is recognised.
#[derive(Debug, Deserialize)]
struct SealedSummary {
    schema: String,
    verb: String,
    #[serde(default)]
    partial: bool,
    files: Vec<String>,
    checksums: Checksums,
}

impl ResultSet {
    /// The set that a folder holds; none where its summary is not one that this program wrote, or
    /// has been changed.
    pub(super) fn read(folder: &Path) -> Option<Self> {
        let path = folder.join(SUMMARY);
        path.symlink_metadata().ok().filter(fs::Metadata::is_file)?;
        let text = fs::read_to_string(path).ok()?;
        let found: SealedSummary = serde_json::from_str(&text).ok()?;
        let seal = found.checksums.get(SUMMARY)?;
        let is_ours = found.schema.starts_with(SCHEMA_NAME) && is_sealed(text, seal);
        let all_known = found.checksums.keys().chain(&found.files).all(|name| is_result_file(name));
        (is_ours && all_known).then_some(Self {
            verb: found.verb,
            is_partial: found.partial,
            checksums: found.checksums,
            files: found.files,
        })
    }

    /// Names of its files, the summary last.
    pub(super) fn files(&self) -> impl DoubleEndedIterator<Item = &str> {
        self.files.iter().map(String::as_str)
    }

    /// Names of the files that this program wrote: those of the set, then those of a former one that
    /// stayed as inputs.
    pub(super) fn known(&self) -> impl Iterator<Item = &str> {
        let stayed = self.checksums.keys().map(String::as_str).filter(|name| !self.holds(name));
        self.files().rev().chain(stayed)
    }

    /// Whether this program wrote the file of a name.
    pub(super) fn knows(&self, name: &str) -> bool {
        self.checksums.contains_key(name)
    }

    /// Whether a file is one of the set itself.
    pub(super) fn holds(&self, name: &str) -> bool {
        self.files().any(|held| held == name)
    }

    /// The checksums of some of the files.
    pub(super) fn checksums_of(&self, is_wanted: impl Fn(&str) -> bool) -> Checksums {
        let wanted = self.checksums.iter().filter(|(name, _)| is_wanted(name));
        wanted.map(|(name, checksum)| (name.clone(), checksum.clone())).collect()
    }

    /// What became of one of its files in a folder.
    pub(super) fn state(&self, folder: &Path, name: &str) -> anyhow::Result<FileState> {
        let path = folder.join(name);
        let Ok(found) = path.symlink_metadata() else { return Ok(FileState::Missing) };
        let is_unchanged = found.is_file()
            && if name == SUMMARY {
                // It was recognised when it was read; it is the same where it still has its seal.
                Self::read(folder).is_some_and(|set| set.checksums == self.checksums)
            } else {
                let checksum = checksum(&path)
                    .with_context(|| format!("cannot read {}", printable::path(&path)))?;
                self.checksums.get(name) == Some(&checksum)
            };
        Ok(if is_unchanged { FileState::Unchanged } else { FileState::Changed })
    }
}

/// A set of result files that a command reads.
#[derive(Debug)]
pub struct SealedFiles {
    folder: PathBuf,
    set: ResultSet,
}

impl SealedFiles {
    /// The set in a folder; none where its summary is not one that this program wrote.
    pub fn open(folder: &Path) -> Option<Self> {
        let set = ResultSet::read(folder)?;
        Some(Self { folder: folder.to_owned(), set })
    }

    /// Whether a file is one of them.
    pub fn holds(&self, name: &str) -> bool {
        self.set.holds(name)
    }

    /// The name of a file that is not as it was written, or cannot be read.
    pub fn changed(&self) -> Option<&str> {
        self.set
            .files()
            .find(|name| !matches!(self.set.state(&self.folder, name), Ok(FileState::Unchanged)))
    }
}

/// The text of the summary of a complete set: `files` and `checksums` of the files `names` of a folder
/// are added, the checksums of files of the former set that stay, and its own checksum.
pub(super) fn sealed(
    summary: SummaryText,
    folder: &Path,
    names: &[&str],
    stay: Checksums,
) -> anyhow::Result<String> {
    let mut checksums = stay;
    checksums.insert(SUMMARY.to_owned(), BLANK.to_owned());
    for name in names {
        let path = folder.join(name);
        let sum =
            checksum(&path).with_context(|| format!("cannot read {}", printable::path(&path)))?;
        checksums.insert((*name).to_owned(), sum);
    }
    let mut files = names.to_vec();
    files.sort_unstable();
    files.push(SUMMARY);
    let mut text = summary.with(&SetEntries { files: &files, checksums: &checksums })?;
    let seal = hexadecimal(XxHash64::oneshot(0, text.as_bytes()));
    replace_seal(&mut text, BLANK, &seal).context("the summary has no place for its checksum")?;
    Ok(text)
}

/// Replaces the text's own checksum, in its place; none where that is not `from`.
fn replace_seal(text: &mut String, from: &str, to: &str) -> Option<()> {
    let entry = |checksum: &str| format!("\"{SUMMARY}\": \"{checksum}\"");
    let at = text.rfind(&entry(from))?;
    text.replace_range(at..at + entry(from).len(), &entry(to));
    Some(())
}

fn is_sealed(mut text: String, seal: &str) -> bool {
    replace_seal(&mut text, seal, BLANK).is_some()
        && hexadecimal(XxHash64::oneshot(0, text.as_bytes())) == seal
}

fn checksum(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hasher = XxHash64::with_seed(0);
    let mut buffer = vec![0; 1 << 16];
    loop {
        let length = file.read(&mut buffer)?;
        if length == 0 {
            return Ok(hexadecimal(hasher.finish()));
        }
        hasher.write(&buffer[..length]);
    }
}

fn hexadecimal(checksum: u64) -> String {
    format!("{checksum:016x}")
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn summary(value: &Value) -> SummaryText {
        SummaryText::of(value).unwrap()
    }

    /// `xxhsum -H64` of these texts, from memory: the empty one and `abc` are among the published
    /// vectors of the algorithm.
    #[test]
    fn checksums_are_those_of_the_published_algorithm() {
        let folder = tempfile::tempdir().unwrap();
        for (text, expected) in [("", "ef46db3751d8e999"), ("abc", "44bc2cf5ad770999")] {
            let path = folder.path().join("text");
            fs::write(&path, text).unwrap();
            assert_eq!(checksum(&path).unwrap(), expected);
        }
    }

    #[test]
    fn a_changed_summary_is_not_recognised() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(SUMMARY);
        fs::write(folder.path().join("gain.csv"), "1,2\n").unwrap();
        let summary =
            summary(&json!({ "schema": "fairphase-summary/2", "verb": "gain", "note": "a" }));
        let text = sealed(summary, folder.path(), &["gain.csv"], Checksums::new()).unwrap();
        fs::write(&path, &text).unwrap();
        let set = ResultSet::read(folder.path()).unwrap();
        assert_eq!(set.files().collect::<Vec<_>>(), ["gain.csv", SUMMARY]);
        assert_eq!(set.state(folder.path(), "gain.csv").unwrap(), FileState::Unchanged);
        for (from, to) in [("\"a\"", "\"b\""), ("gain.csv\",", "unit.csv\","), ("/2", "/3")] {
            assert_ne!(text.replacen(from, to, 1), text, "{from}");
            fs::write(&path, text.replacen(from, to, 1)).unwrap();
            assert!(ResultSet::read(folder.path()).is_none(), "{from}");
        }
        fs::write(&path, &text).unwrap();
        fs::write(folder.path().join("gain.csv"), "1,3\n").unwrap();
        assert_eq!(set.state(folder.path(), "gain.csv").unwrap(), FileState::Changed);
    }

    /// A sealed list of names that are no results is of no use to who made it up.
    #[test]
    fn names_of_other_files_are_not_recognised() {
        let folder = tempfile::tempdir().unwrap();
        let seal = |name: &'static str| {
            fs::write(folder.path().join("notes.csv"), "of the user").unwrap();
            let summary = summary(&json!({ "schema": "fairphase-summary/2", "verb": "run" }));
            let text = sealed(summary, folder.path(), &[name], Checksums::new()).unwrap();
            fs::write(folder.path().join(SUMMARY), text).unwrap();
        };
        seal("notes.csv");
        assert!(ResultSet::read(folder.path()).is_none());
        fs::write(folder.path().join("units.csv"), "").unwrap();
        seal("units.csv");
        assert!(ResultSet::read(folder.path()).is_some());
    }
}
