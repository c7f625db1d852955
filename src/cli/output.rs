//! What the program prints: no other file writes to the terminal, but for the progress bars. What
//! comes from outside is made safe to show here, so that no verb can forget it.

use std::io::{self, Write};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use anyhow::{Context, bail};

use super::progress::is_stop_wanted;
use crate::printable;

/// How long a reader may take nothing, once the user asks to stop.
const PATIENCE: Duration = Duration::from_millis(500);

/// Prints on standard output; a reader that has gone away is no error. A reader that takes nothing,
/// such as a paused pager, does not keep the program from ending once the user asks to stop.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    const CANNOT: &str = "cannot write to standard output";
    let text = printable::lines(text).into_owned();
    let (done, written) = mpsc::channel();
    let write = move || {
        let mut out = io::stdout().lock();
        let result = out.write_all(text.as_bytes()).and_then(|()| out.flush());
        // Nobody waits any longer where the user asked to stop.
        let _ = done.send(result);
    };
    thread::Builder::new().spawn(write).context(CANNOT)?;
    loop {
        let was_stop_wanted = is_stop_wanted();
        match written.recv_timeout(PATIENCE) {
            Ok(Err(error)) if error.kind() == io::ErrorKind::BrokenPipe => return Ok(()),
            Ok(result) => return result.context(CANNOT),
            Err(RecvTimeoutError::Timeout) if !was_stop_wanted => {}
            Err(_) => bail!("{CANNOT}: interrupted while nobody reads it"),
        }
    }
}

/// Columns of the terminal that standard output is; none where it is a file or a pipe.
pub(super) fn columns() -> Option<u16> {
    terminal_size::terminal_size_of(io::stdout()).map(|(width, _)| width.0)
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
