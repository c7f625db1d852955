//! The exit status of the program: the only place where its numbers are told.

use std::process::ExitCode;

/// How the program ends; the numbers are part of the command line's contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ExitStatus {
    /// The verb did its work, whatever the verdict.
    Done = 0,
    /// The verb did its work and the verdict is not a pass, which `--require-pass` asks for.
    NotAPass = 1,
    /// The command line or an input file is wrong.
    WrongInput = 2,
    /// The work could not be finished: interrupted, disk full.
    Unfinished = 3,
}

impl From<ExitStatus> for ExitCode {
    fn from(status: ExitStatus) -> Self {
        Self::from(status as u8)
    }
}
