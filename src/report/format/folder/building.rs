//! The hidden folder in which a set of result files is built, and whose lock keeps others out.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use anyhow::Context;

use super::error::FolderError;
use super::result_file::{is_result_file, result_files_in};
use super::same_file::leads_to;
use crate::printable;

/// The hidden folder, in the folder of the results.
const BUILDING: &str = ".unfinished-results";
/// The file whose lock a process at work holds; the system frees it when the process ends.
const LOCK: &str = "lock";
/// Files in the making.
const NEW: &str = "new";
/// Files of the former set while the new one takes their places.
const OLD: &str = "old";

/// How often the hidden folder may vanish while it is opened: each time another process ended.
const ATTEMPTS: usize = 100;

/// The hidden folder, held by this process. Dropped, it goes with all that is in it, unless it is to
/// be kept.
#[derive(Debug)]
pub(super) struct BuildingFolder {
    path: PathBuf,
    /// Holds the lock for as long as it lives.
    _lock: File,
    /// Whether the files in it stay.
    keeps_files: bool,
}

impl BuildingFolder {
    /// Makes the hidden folder, or takes over that of a process that was killed. What that left is in
    /// it, and stays until [`discard_files`](Self::discard_files).
    pub(super) fn open(out: &Path) -> Result<Self, FolderError> {
        for _ in 0..ATTEMPTS {
            if let Some(folder) = Self::attempt(out)? {
                return Ok(folder);
            }
        }
        Err(FolderError::Busy(out.to_owned()))
    }

    /// None where another process has just removed the hidden folder.
    fn attempt(out: &Path) -> Result<Option<Self>, FolderError> {
        let path = out.join(BUILDING);
        let cannot_write = || format!("cannot write to the output folder {}", printable::path(out));
        match fs::create_dir(&path) {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => {
                return Err(anyhow::Error::from(error).context(cannot_write()).into());
            }
            _ => refuse_foreign(&path)?,
        }
        let lock_file = path.join(LOCK);
        let opened = OpenOptions::new().create(true).truncate(false).write(true).open(&lock_file);
        let lock = match opened {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            opened => opened.with_context(cannot_write)?,
        };
        match lock.try_lock() {
            Err(TryLockError::WouldBlock) => return Err(FolderError::Busy(out.to_owned())),
            Err(TryLockError::Error(error)) => {
                let shown = printable::path(&lock_file);
                return Err(anyhow::Error::from(error)
                    .context(format!("cannot lock {shown}"))
                    .into());
            }
            Ok(()) => {}
        }
        if !leads_to(&lock_file, &lock).with_context(cannot_write)? {
            return Ok(None);
        }
        let folder = Self { path, _lock: lock, keeps_files: true };
        for part in [folder.new_files(), folder.old_files()] {
            fs::create_dir_all(part).with_context(cannot_write)?;
        }
        Ok(Some(folder))
    }

    /// Where files in the making are.
    pub(super) fn new_files(&self) -> PathBuf {
        self.path.join(NEW)
    }

    /// Where files of the former set are put aside.
    pub(super) fn old_files(&self) -> PathBuf {
        self.path.join(OLD)
    }

    /// Removes the files in it, now and when it is dropped.
    pub(super) fn discard_files(&mut self) {
        self.keeps_files = false;
        self.remove_files();
    }

    /// Lets the files in it stay for the next process.
    pub(super) fn keep_files(&mut self) {
        self.keeps_files = true;
    }

    /// What cannot be removed stays for the next process to remove.
    fn remove_files(&self) {
        for part in [self.new_files(), self.old_files()] {
            for name in result_files_in(&part).unwrap_or_default() {
                let _ = fs::remove_file(part.join(name));
            }
        }
    }
}

impl Drop for BuildingFolder {
    fn drop(&mut self) {
        if !self.keeps_files {
            self.remove_files();
        }
        // Only empty folders can be removed so. The lock goes before its folder: whoever opened it
        // meanwhile sees that it is gone.
        let _ = fs::remove_dir(self.new_files());
        let _ = fs::remove_dir(self.old_files());
        let _ = fs::remove_file(self.path.join(LOCK));
        let _ = fs::remove_dir(&self.path);
    }
}

/// Refuses a folder of the hidden name that holds what this program puts into none.
fn refuse_foreign(path: &Path) -> Result<(), FolderError> {
    let is_folder = |path: &Path| path.symlink_metadata().is_ok_and(|found| found.is_dir());
    let is_file = |path: &Path| path.symlink_metadata().is_ok_and(|found| found.is_file());
    let foreign = |path: &Path| Err(FolderError::in_the_way(path, "is not of this program"));
    if path.symlink_metadata().is_ok() && !is_folder(path) {
        return foreign(path);
    }
    for (name, entry) in entries(path)? {
        let is_known = match name.as_str() {
            LOCK => is_file(&entry),
            NEW | OLD => is_folder(&entry),
            _ => false,
        };
        // What vanishes meanwhile was of a process that ended.
        if !is_known && entry.symlink_metadata().is_ok() {
            return foreign(&entry);
        }
    }
    // The lock comes before all files and goes after them: without it they are not of this program.
    let is_marked = is_file(&path.join(LOCK));
    for part in [path.join(NEW), path.join(OLD)] {
        for (name, entry) in entries(&part)? {
            let is_known = is_marked && is_result_file(&name) && is_file(&entry);
            if !is_known && entry.symlink_metadata().is_ok() {
                return foreign(&entry);
            }
        }
    }
    Ok(())
}

/// Names and paths of a folder's entries; nothing where it is not there.
fn entries(folder: &Path) -> Result<Vec<(String, PathBuf)>, FolderError> {
    let cannot_read = || format!("cannot read the folder {}", printable::path(folder));
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.with_context(cannot_read)?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry.with_context(cannot_read)?;
        found.push((entry.file_name().to_string_lossy().into_owned(), entry.path()));
    }
    Ok(found)
}
