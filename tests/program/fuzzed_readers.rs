//! What a fuzzer has found worth keeping, given to the readers of files again. `tests/fuzz/Cargo.toml` says how
//! to look for more.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::unwrap_used,
    unreachable_pub,
    reason = "a test"
)]

#[path = "../fuzz/readers.rs"]
mod readers;

use std::fs;
use std::path::Path;

use self::readers::{READERS, read};
use crate::support::entries;

#[test]
fn what_a_fuzzer_has_found_is_read_or_refused() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus");
    assert_eq!(entries(&corpus).len(), READERS.len());
    for reader in READERS {
        let folder = corpus.join(reader);
        let files = entries(&folder);
        assert!(files.len() > 10, "{reader}: {} files", files.len());
        for name in files {
            read(reader, &fs::read(folder.join(name)).unwrap());
        }
    }
}
