//! `draft`: a commented scenario to begin from.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueHint};

use super::error::CliError;
use super::exit::ExitStatus;
use super::named_file::{folder_for, unfinished};
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
    let folder = folder_for(file)?;
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
