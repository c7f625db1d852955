//! A file of a name that the user gave: it appears whole or not at all.

use std::fs::{File, Permissions};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use tempfile::NamedTempFile;

use super::error::CliError;
use super::question::Task;
use crate::printable;
use crate::report::format::folder::is_same_file;

/// A result in the making under a name of its own. Dropped before it is placed, it is gone.
pub(super) struct NamedFile {
    path: PathBuf,
    unfinished: BufWriter<NamedTempFile>,
}

impl NamedFile {
    /// Begins the file, before any work. It replaces only a file with this first line: a former one of its
    /// kind.
    pub(super) fn open(path: &Path, first_line: &str, task: &Task<'_>) -> Result<Self, CliError> {
        let shown = printable::path(path);
        let refused =
            |why: &str| Err(CliError::Input(format!("error: cannot write {shown}: {why}")));
        if task.read.iter().any(|input| is_same_file(input, path)) {
            return refused("this command reads it; name another file");
        }
        if task.folder.is_place_of_result(path) {
            return refused("a result file has this name there; name another file");
        }
        if path.symlink_metadata().is_ok() && !begins_with(path, first_line) {
            return refused(
                "it is there already and is no former file of this kind; name another one",
            );
        }
        let unfinished = unfinished(folder_for(path)?);
        let unfinished = unfinished.with_context(|| format!("cannot write {shown}"))?;
        Ok(Self { path: path.to_owned(), unfinished: BufWriter::new(unfinished) })
    }

    /// Brings it to disk and gives it its name, which it returns.
    pub(super) fn place(self) -> anyhow::Result<PathBuf> {
        let cannot = || format!("cannot write {}", printable::path(&self.path));
        let file = self.unfinished.into_inner().map_err(io::IntoInnerError::into_error);
        let file = file.with_context(cannot)?;
        file.as_file().sync_all().with_context(cannot)?;
        file.persist(&self.path).map_err(|error| error.error).with_context(cannot)?;
        Ok(self.path)
    }
}

impl Write for NamedFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.unfinished.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.unfinished.flush()
    }
}

/// Whether a plain file begins with this line.
fn begins_with(path: &Path, first_line: &str) -> bool {
    let is_plain = path.symlink_metadata().is_ok_and(|found| found.is_file());
    let read = || {
        let mut line = String::new();
        let most = first_line.len() as u64 + 1;
        BufReader::new(File::open(path)?.take(most)).read_line(&mut line)?;
        io::Result::Ok(line)
    };
    is_plain && read().is_ok_and(|line| line.trim_end() == first_line)
}

/// The folder that a file is to be in.
///
/// # Errors
///
/// When the path names no file, when there is no such folder.
pub(super) fn folder_for(file: &Path) -> Result<&Path, CliError> {
    let folder = match file.parent() {
        Some(folder) if folder.as_os_str().is_empty() => Path::new("."),
        Some(folder) => folder,
        None => return Err(CliError::Input("error: name a file, such as my.toml".to_owned())),
    };
    if folder.is_dir() {
        return Ok(folder);
    }
    Err(CliError::Input(format!(
        "error: cannot write {}: there is no folder {}; make it first",
        printable::path(file),
        printable::path(folder)
    )))
}

/// A file in the making, with the permissions that any new file has.
pub(super) fn unfinished(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    let builder = builder.prefix(".unfinished-");
    #[cfg(unix)]
    let permissions: Permissions = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    #[cfg(unix)]
    let builder = builder.permissions(permissions);
    builder.tempfile_in(folder)
}
