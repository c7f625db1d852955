//! What the program prints.

use std::io::{self, Write};

/// Prints on standard output; a reader that has gone away is no error.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    match io::stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => Ok(other?),
    }
}

/// Prints a line on standard error that is no error.
pub(super) fn note(text: &str) -> anyhow::Result<()> {
    Ok(writeln!(io::stderr(), "note: {text}")?)
}
