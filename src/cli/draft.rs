//! `draft`: a commented scenario to begin from.

use std::fs::Permissions;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueHint};
use tempfile::NamedTempFile;

use super::error::CliError;
use super::exit::ExitStatus;
use super::output::print;
use crate::printable;
use crate::scenario::draft::DRAFT;

/// The command line of `draft`.
#[derive(Debug, Args)]
pub(super) struct DraftArguments {
    /// The scenario file to write; no file of this name may exist
    #[arg(value_name = "FILE.toml", value_hint = ValueHint::FilePath)]
    file: PathBuf,
}

/// Writes the draft under a name of its own, then links it to its place: it appears there whole,
/// and nothing that stands there is touched.
pub(super) fn write(arguments: &DraftArguments) -> Result<ExitStatus, CliError> {
    let file = &arguments.file;
    let shown = printable::path(file);
    if file.symlink_metadata().is_ok() {
        return Err(taken(file));
    }
    let folder = match file.parent() {
        Some(folder) if folder.as_os_str().is_empty() => Path::new("."),
        Some(folder) => folder,
        None => return Err(CliError::Input("error: name a file, such as my.toml".to_owned())),
    };
    if !folder.is_dir() {
        let folder = printable::path(folder);
        return Err(CliError::Input(format!(
            "error: cannot write {shown}: there is no folder {folder}; make it first"
        )));
    }
    let mut draft = unfinished(folder).with_context(|| format!("cannot write {shown}"))?;
    draft.write_all(DRAFT.as_bytes()).with_context(|| format!("cannot write {shown}"))?;
    match draft.persist_noclobber(file) {
        Ok(_) => {}
        Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
            return Err(taken(file));
        }
        Err(error) => return Err(error.error).with_context(|| format!("cannot write {shown}"))?,
    }
    print(&format!(
        "{shown} holds a scenario that works. Change its numbers, then:\n  fairphase check {shown}\n"
    ))?;
    Ok(ExitStatus::Done)
}

fn taken(file: &Path) -> CliError {
    CliError::Input(format!(
        "error: {} exists already and was not touched; name a file that does not exist",
        printable::path(file)
    ))
}

/// A file in the making, with the permissions that any new file has.
fn unfinished(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    let builder = builder.prefix(".unfinished-");
    #[cfg(unix)]
    let permissions: Permissions = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    #[cfg(unix)]
    let builder = builder.permissions(permissions);
    builder.tempfile_in(folder)
}
