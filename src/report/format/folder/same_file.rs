//! Whether two names are those of one file.

use std::fs::File;
use std::path::Path;

/// Whether both paths lead to one existing file: through links of either kind, or in another spelling.
#[cfg(unix)]
pub fn is_same_file(one: &Path, other: &Path) -> bool {
    match (one.metadata(), other.metadata()) {
        (Ok(first), Ok(second)) => identity(&first) == identity(&second),
        _ => false,
    }
}

/// Whether a path still leads to an open file.
#[cfg(unix)]
pub(super) fn leads_to(path: &Path, file: &File) -> std::io::Result<bool> {
    let opened = file.metadata()?;
    Ok(path.symlink_metadata().is_ok_and(|found| identity(&found) == identity(&opened)))
}

/// Device and inode, which only names of one file have in common.
#[cfg(unix)]
fn identity(found: &std::fs::Metadata) -> [u64; 2] {
    use std::os::unix::fs::MetadataExt;
    [found.dev(), found.ino()]
}

/// Whether both paths lead to one existing file, by the path without links.
#[cfg(not(unix))]
pub fn is_same_file(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(first), Ok(second)) => first == second,
        _ => false,
    }
}

/// Whether a path still leads to an open file: an open file cannot be removed here.
#[cfg(not(unix))]
pub(super) fn leads_to(path: &Path, _file: &File) -> std::io::Result<bool> {
    Ok(path.exists())
}
