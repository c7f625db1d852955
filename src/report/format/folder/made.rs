//! Folders that were made for results, and go again where there are none.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Folders that were not there before, the innermost first; removed when dropped, if empty.
#[derive(Debug)]
pub(super) struct MadeFolders(Vec<PathBuf>);

impl MadeFolders {
    /// Makes a folder and those around it.
    pub(super) fn make(out: &Path) -> io::Result<Self> {
        let missing = out.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists());
        let made = Self(missing.map(Path::to_owned).collect());
        fs::create_dir_all(out)?;
        Ok(made)
    }

    /// Lets them stay: those that were made.
    pub(super) fn keep(&mut self) -> Vec<PathBuf> {
        std::mem::take(&mut self.0)
    }
}

impl Drop for MadeFolders {
    fn drop(&mut self) {
        for folder in &self.0 {
            // Only an empty folder can be removed so: one that somebody uses by now stays.
            if fs::remove_dir(folder).is_err() {
                return;
            }
        }
    }
}
