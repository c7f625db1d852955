//! What the program prints: no other file writes to the terminal, but for the progress bars. What
//! comes from outside is made safe to show here, so that no verb can forget it.

use std::io::{self, Write};

use anyhow::Context;

use crate::printable;

/// Prints on standard output; a reader that has gone away is no error.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    match io::stdout().write_all(printable::lines(text).as_bytes()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.context("cannot write to standard output"),
    }
}

/// Prints a line on standard error that is no error. Work goes on where nobody can read it.
pub(super) fn note(text: &str) {
    let _ = writeln!(io::stderr(), "note: {}", printable::lines(text));
}

/// Prints on standard error why the program did not do its work.
pub(super) fn complain(text: &str) {
    // Nobody is left to tell when standard error is closed.
    let _ = writeln!(io::stderr(), "{}", printable::lines(text.trim_end()));
}
