//! A complete set of result files takes the places of the former one: all of it, or nothing.
//!
//! The former files move into a hidden folder, then the new ones move out of another. Where each file
//! lies tells how far that has come. So a swap that was cut off at any moment can be carried on, or
//! taken back, by whoever comes next.

use std::fs;
use std::io;
use std::path::Path;

use anyhow::{Context, bail};
use tempfile::TempPath;

use super::result_file::result_files_in;
use super::result_set::{FileState, ResultSet};
use crate::printable;

/// Moves a file to a name that nothing has.
pub(super) type Mover<'a> = &'a dyn Fn(&Path, &Path) -> io::Result<()>;

/// The folders of a swap, and how files are moved between them.
pub(super) struct Swap<'a> {
    /// Where the results belong.
    pub(super) out: &'a Path,
    /// The new set, complete with its summary.
    pub(super) new: &'a Path,
    /// The former set.
    pub(super) old: &'a Path,
    /// How a file is moved.
    pub(super) mover: Mover<'a>,
}

/// Why a new set did not take its place.
#[derive(Debug)]
pub(super) enum SwapError {
    /// The former set is in its place again, the new one where it was built.
    TakenBack(anyhow::Error),
    /// The reason, and why it was not taken back: both sets are there, in two folders each.
    Torn(anyhow::Error, anyhow::Error),
}

impl Swap<'_> {
    /// Carries the swap to its end from wherever it is; what cannot be done is taken back.
    pub(super) fn finish(&self) -> Result<(), SwapError> {
        let Err(reason) = self.carry_on() else { return Ok(()) };
        match self.take_back() {
            Ok(()) => Err(SwapError::TakenBack(reason)),
            Err(further) => Err(SwapError::Torn(reason, further)),
        }
    }

    /// The summary leaves first and comes last, so that no moment shows it beside files of another set.
    fn carry_on(&self) -> anyhow::Result<()> {
        // The new summary leaves its folder last: without it there, all files are in their places.
        let Some(new) = ResultSet::read(self.new) else { return Ok(()) };
        if let Some(former) = ResultSet::read(self.old).or_else(|| ResultSet::read(self.out)) {
            for name in former.known() {
                self.put_aside(&former, &new, name)?;
            }
        }
        for name in new.files().filter(|name| exists(&self.new.join(name))) {
            self.shift(self.new, self.out, name)?;
        }
        Ok(())
    }

    fn put_aside(&self, former: &ResultSet, new: &ResultSet, name: &str) -> anyhow::Result<()> {
        // Already placed, or an input, which stays.
        let stays = new.knows(name) && !exists(&self.new.join(name));
        if stays || exists(&self.old.join(name)) {
            return Ok(());
        }
        match former.state(self.out, name)? {
            FileState::Missing => Ok(()),
            FileState::Unchanged => self.shift(self.out, self.old, name),
            FileState::Changed if !new.holds(name) => Ok(()),
            FileState::Changed => {
                bail!("{} was changed meanwhile", printable::path(&self.out.join(name)))
            }
        }
    }

    /// Moves new files back, then former ones, each with its summary at the end of its way.
    fn take_back(&self) -> anyhow::Result<()> {
        if let Some(new) = ResultSet::read(self.new) {
            for name in new.files().filter(|name| !exists(&self.new.join(name))) {
                if new.state(self.out, name)? == FileState::Unchanged {
                    self.shift(self.out, self.new, name)?;
                }
            }
        }
        self.restore()
    }

    /// Moves former files back into their places.
    pub(super) fn restore(&self) -> anyhow::Result<()> {
        for name in result_files_in(self.old)? {
            self.shift(self.old, self.out, &name)?;
        }
        Ok(())
    }

    fn shift(&self, from: &Path, to: &Path, name: &str) -> anyhow::Result<()> {
        let (from, to) = (from.join(name), to.join(name));
        (self.mover)(&from, &to).with_context(|| {
            format!("cannot move {} to {}", printable::path(&from), printable::path(&to))
        })
    }
}

fn exists(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// Moves a file to a name that nothing has; the system refuses where something has it.
pub(super) fn move_file(from: &Path, to: &Path) -> io::Result<()> {
    let Err(refused) = TempPath::try_from_path(from)?.persist_noclobber(to) else { return Ok(()) };
    // Otherwise the file that was not moved would be removed.
    refused.path.keep().map_err(|error| error.error)?;
    if exists(to) {
        return Err(refused.error);
    }
    // Some drives know neither a move that refuses nor links.
    fs::rename(from, to)
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;
    use std::path::PathBuf;

    use serde_json::json;

    use super::*;
    use crate::report::format::folder::result_file::SUMMARY;
    use crate::report::format::folder::result_set::{Checksums, sealed};
    use crate::report::format::summary::SummaryText;

    /// Files of the former set and of the new one: one in each, and one in both.
    const FORMER: [&str; 2] = ["report.html", "gain.csv"];
    const NEW: [&str; 2] = ["report.html", "units.csv"];

    /// Three folders: the former set in its place, the new one complete.
    struct Folders {
        root: tempfile::TempDir,
    }

    impl Folders {
        fn new() -> Self {
            let folders = Self { root: tempfile::tempdir().unwrap() };
            for name in ["out", "new", "old"] {
                fs::create_dir(folders.path(name)).unwrap();
            }
            write_set(&folders.path("out"), "gain", &FORMER);
            write_set(&folders.path("new"), "units", &NEW);
            folders
        }

        fn path(&self, name: &str) -> PathBuf {
            self.root.path().join(name)
        }

        fn finish(&self, mover: Mover<'_>) -> Result<(), SwapError> {
            let (out, new, old) = (self.path("out"), self.path("new"), self.path("old"));
            Swap { out: &out, new: &new, old: &old, mover }.finish()
        }

        /// Names of the files in a folder, in order.
        fn names(&self, folder: &str) -> Vec<String> {
            let entries = fs::read_dir(self.path(folder)).unwrap();
            let mut names: Vec<String> =
                entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
            names.sort();
            names
        }

        /// The verb whose whole and unchanged set a folder holds.
        fn verb(&self, folder: &str) -> Option<String> {
            let folder = self.path(folder);
            let set = ResultSet::read(&folder)?;
            let is_whole =
                set.files().all(|n| set.state(&folder, n).unwrap() == FileState::Unchanged);
            is_whole.then_some(set.verb)
        }
    }

    fn write_set(folder: &Path, verb: &str, files: &[&'static str]) {
        for name in files {
            fs::write(folder.join(name), verb).unwrap();
        }
        let summary = json!({ "schema": "fairphase-summary/2", "verb": verb });
        let summary =
            sealed(SummaryText::of(&summary).unwrap(), folder, files, Checksums::new()).unwrap();
        fs::write(folder.join(SUMMARY), summary).unwrap();
    }

    /// Moves files until so many are moved; the moves after these fail that `fails` tells by number.
    fn faulty<'a>(
        count: &'a Cell<usize>,
        fails: impl Fn(usize) -> bool + 'a,
    ) -> impl Fn(&Path, &Path) -> io::Result<()> + 'a {
        move |from, to| {
            count.set(count.get() + 1);
            if fails(count.get()) { Err(io::Error::other("refused")) } else { move_file(from, to) }
        }
    }

    const GAIN: [&str; 3] = ["gain.csv", "report.html", SUMMARY];
    const UNITS: [&str; 3] = ["report.html", SUMMARY, "units.csv"];

    #[test]
    fn a_new_set_takes_the_place_of_the_former_one() {
        let folders = Folders::new();
        folders.finish(&move_file).unwrap();
        assert_eq!(
            (folders.names("out"), folders.names("new").len()),
            (UNITS.map(String::from).to_vec(), 0)
        );
        assert_eq!(folders.verb("out").as_deref(), Some("units"));
        assert_eq!(folders.verb("old").as_deref(), Some("gain"));
    }

    /// Three files leave and three come: the first, the second, … of these six moves fails.
    #[test]
    fn a_swap_that_fails_at_any_move_is_taken_back() {
        for failing in 1..=6 {
            let (folders, count) = (Folders::new(), Cell::new(0));
            let failed = folders.finish(&faulty(&count, |n| n == failing));
            assert!(matches!(failed, Err(SwapError::TakenBack(_))), "{failing}: {failed:?}");
            assert_eq!(folders.names("out"), GAIN, "{failing}");
            assert_eq!(folders.verb("out").as_deref(), Some("gain"), "{failing}");
            assert_eq!(folders.verb("new").as_deref(), Some("units"), "{failing}");
            assert_eq!(folders.names("old").len(), 0, "{failing}");
        }
    }

    /// Killed after any number of moves, on the way forward or back, it is carried to its end.
    #[test]
    fn a_swap_that_is_cut_off_at_any_move_is_carried_to_its_end() {
        let mut torn = 0;
        for first in 1..=6 {
            for second in first + 1..=first + 6 {
                let (folders, count) = (Folders::new(), Cell::new(0));
                let cut = folders.finish(&faulty(&count, |n| n == first || n >= second));
                torn += usize::from(matches!(cut, Err(SwapError::Torn(..))));
                let files = ["out", "new", "old"].map(|name| folders.names(name).len());
                assert_eq!(files.iter().sum::<usize>(), 6, "{first} {second}: nothing is lost");
                assert!(
                    folders.verb("out").is_none_or(|verb| verb == "gain"),
                    "{first} {second}: a summary beside files of another set"
                );
                folders.finish(&move_file).unwrap();
                assert_eq!(folders.names("out"), UNITS, "{first} {second}");
                assert_eq!(folders.verb("out").as_deref(), Some("units"), "{first} {second}");
                assert_eq!(folders.verb("old").as_deref(), Some("gain"), "{first} {second}");
            }
        }
        assert!(torn > 6, "the swap was cut off: {torn}");
    }

    #[test]
    fn what_was_changed_or_came_meanwhile_is_not_touched() {
        let changed = Folders::new();
        fs::write(changed.path("out/report.html"), "measured").unwrap();
        let foreign = Folders::new();
        fs::write(foreign.path("out/units.csv"), "measured").unwrap();
        for (folders, name) in [(&changed, "report.html"), (&foreign, "units.csv")] {
            let failed = folders.finish(&move_file);
            assert!(matches!(failed, Err(SwapError::TakenBack(_))), "{failed:?}");
            assert_eq!(fs::read_to_string(folders.path("out").join(name)).unwrap(), "measured");
            assert_eq!(folders.verb("new").as_deref(), Some("units"));
            assert_eq!(folders.names("old").len(), 0);
        }
        assert_eq!(foreign.verb("out").as_deref(), Some("gain"));
        let elsewhere = Folders::new();
        fs::write(elsewhere.path("out/gain.csv"), "measured").unwrap();
        elsewhere.finish(&move_file).unwrap();
        assert_eq!(fs::read_to_string(elsewhere.path("out/gain.csv")).unwrap(), "measured");
        assert_eq!(elsewhere.verb("out").as_deref(), Some("units"));
    }
}
