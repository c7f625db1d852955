//! Why results are not written to a folder.

use std::path::{Path, PathBuf};

use crate::printable;

/// Why results are not written to a folder.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// They would take the place of an input file.
    #[error(
        "the input file {} is {}a result file of this folder. Name another folder with --out",
        printable::path(input),
        other_name(input, target)
    )]
    Input {
        /// The input file as the user named it.
        input: PathBuf,
        /// The same file by the name of a result file.
        target: PathBuf,
    },
    /// They would take the place of files that are not ours, or are no longer as we wrote them.
    #[error("{}.\nMove away what is in the way, or name another folder with --out", .0.join(".\nerror: "))]
    InTheWay(Vec<String>),
    /// Another process writes to the folder.
    #[error(
        "another fairphase is at work in the folder {}. Wait for its end, or name another folder \
         with --out",
        printable::path(.0)
    )]
    Busy(PathBuf),
    /// The system refuses.
    #[error(transparent)]
    Failed(#[from] anyhow::Error),
}

impl FolderError {
    /// A file or folder that is in the way, and why it is not replaced.
    pub(super) fn in_the_way(path: &Path, reason: &str) -> Self {
        Self::InTheWay(vec![format!("{} {reason}", printable::path(path))])
    }

    /// Whether another choice of files or folder mends it.
    pub fn is_refusal(&self) -> bool {
        matches!(self, Self::Input { .. } | Self::InTheWay(_))
    }
}

/// The name of a result file, where it is not the one that the user gave.
fn other_name(input: &Path, target: &Path) -> String {
    if input == target { String::new() } else { format!("{}, ", printable::path(target)) }
}
