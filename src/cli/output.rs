//! What the program prints.

use std::io::{self, Write};

use anyhow::Context;

/// Prints on standard output; a reader that has gone away is no error.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    match io::stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.context("cannot write to standard output"),
    }
}

/// Prints a line on standard error that is no error. Work goes on where nobody can read it.
pub(super) fn note(text: &str) {
    let _ = writeln!(io::stderr(), "note: {text}");
}
