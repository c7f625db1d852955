//! Input files, each read once: what is read later, such as the place of an error, is in memory.

use std::fs::{File, FileType};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::input::diagnostics::{Diagnostic, Diagnostics, InputError, without_mark};
use crate::printable;

/// Most bytes of an input file. No list of parts is that long, and a stream without an end would
/// fill the memory.
const MOST: u64 = 1 << 28;

/// The name under which a program finds what is piped into it.
const STANDARD_INPUT: &str = "/dev/stdin";

/// The path and the whole text of an input file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputFile {
    /// The file as the user named it.
    pub path: PathBuf,
    /// Its text, without a byte-order mark.
    pub text: String,
}

impl InputFile {
    /// Reads a file of UTF-8 text. It may be a pipe such as `/dev/stdin`, but neither a device nor
    /// a named pipe: there is no telling whether somebody will ever write to that.
    ///
    /// # Errors
    ///
    /// When the system cannot read it, when it is longer than 256 MiB, or when it is not UTF-8.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        let unreadable = |cause| InputError::Unreadable { path: path.to_owned(), cause };
        let bytes = bytes(path, MOST).map_err(unreadable)?;
        let text = String::from_utf8(bytes).map_err(|error| not_utf8(path, &error))?;
        Ok(Self { path: path.to_owned(), text: without_mark(&text).to_owned() })
    }

    /// What messages call the file.
    pub fn name(&self) -> String {
        self.path.display().to_string()
    }
}

fn bytes(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    if path == Path::new(STANDARD_INPUT) {
        return all_of(io::stdin().lock(), most);
    }
    let found = path.metadata()?;
    if let Some(reason) = refusal(path, found.file_type()) {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, reason));
    }
    all_of(File::open(path)?, most)
}

/// The whole of a stream, unless it is longer than `most`.
fn all_of(stream: impl Read, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    stream.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        let reason = format!("it is longer than {} MiB", most >> 20);
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, reason));
    }
    Ok(bytes)
}

/// Why a file that is no plain one is not opened; none of a pipe without a name, which the shell
/// has opened already.
#[cfg(unix)]
fn refusal(path: &Path, kind: FileType) -> Option<&'static str> {
    use std::os::unix::fs::FileTypeExt;
    let has_name = || path.canonicalize().is_ok_and(|found| found.exists());
    if kind.is_fifo() && has_name() {
        Some("it is a named pipe; name a file, or /dev/stdin and pipe the text in")
    } else if kind.is_char_device() || kind.is_block_device() {
        Some("it is a device; name a file")
    } else {
        None
    }
}

#[cfg(not(unix))]
fn refusal(_path: &Path, _kind: FileType) -> Option<&'static str> {
    None
}

fn not_utf8(path: &Path, error: &std::string::FromUtf8Error) -> Diagnostics {
    let bad = error.utf8_error().valid_up_to();
    let text = String::from_utf8_lossy(error.as_bytes());
    let length = text[bad..].chars().next().map_or(0, char::len_utf8);
    let is_wide =
        [[0xff, 0xfe], [0xfe, 0xff]].iter().any(|mark| error.as_bytes().starts_with(mark));
    let message = if is_wide { "the file is UTF-16 text" } else { "the file is not UTF-8 text" };
    let error = Diagnostic::new(bad..bad + length, message, "expected UTF-8")
        .with_help(Some("save the file in the encoding UTF-8".to_owned()));
    Diagnostics::new(printable::path(path), text, [error])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stream_without_an_end_is_refused() {
        assert_eq!(all_of(&b"abc"[..], 3).unwrap(), b"abc");
        let error = all_of(io::repeat(b'x'), 2 << 20).unwrap_err();
        assert_eq!(error.to_string(), "it is longer than 2 MiB");
    }
}
