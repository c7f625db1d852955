//! Why parts are not joined.

use std::path::{Path, PathBuf};

use crate::printable;

/// Why parts are not joined.
#[derive(Debug, thiserror::Error)]
pub enum PartError {
    /// A folder holds no part, or not all of it as it was written.
    #[error(
        "{}: {reason}\n  expected a folder that `fairphase run --shard K/N` wrote",
        printable::path(folder)
    )]
    NoPart {
        /// The folder.
        folder: PathBuf,
        /// Why not.
        reason: String,
    },
    /// Two parts are not of one run.
    #[error(
        "{} is of another run than {}: {difference}\n  expected parts of one run: the same scenario, \
         version, samples, seed and options",
        printable::path(folder),
        printable::path(first)
    )]
    OtherRun {
        /// The folder of the first part.
        first: PathBuf,
        /// That of the other one.
        folder: PathBuf,
        /// What differs.
        difference: String,
    },
    /// One part is there twice.
    #[error(
        "part {place} is there twice: in {} and in {}\n  expected each part once",
        printable::path(first),
        printable::path(second)
    )]
    Twice {
        /// The part.
        place: String,
        /// One folder.
        first: PathBuf,
        /// The other one.
        second: PathBuf,
    },
    /// Parts are missing.
    #[error("{parts} of {of} missing\n  expected all parts: run them with {command}")]
    Missing {
        /// Their numbers.
        parts: String,
        /// The number of all parts, with the verb.
        of: String,
        /// The command that makes the first of them.
        command: String,
    },
}

impl PartError {
    pub(super) fn no_part(folder: &Path, reason: impl Into<String>) -> Self {
        Self::NoPart { folder: folder.to_owned(), reason: reason.into() }
    }
}
