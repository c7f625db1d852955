//! The same bytes on any x86-64: every verb under an emulator of an old and of a new processor, against
//! the processor of this machine.
#![cfg(all(target_os = "linux", target_arch = "x86_64"))]
#![allow(missing_docs, clippy::panic, clippy::print_stderr, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::support::entries;

/// The first has no wide vectors, the other one has them and fused multiplication too.
const PROCESSORS: [&str; 2] = ["Nehalem", "max"];

const EMULATOR: &str = "qemu-x86_64";

/// A small piece of work of every verb that computes.
const WORKS: [&str; 12] = [
    "check telecom-shelf.toml",
    "check foundry-magnet.toml",
    "run telecom-shelf.toml --samples 40 --solver averaged",
    "run ../tests/data/shelf.toml --samples 12",
    "gain ../tests/data/shelf.toml",
    "units pump-drive.toml --parts pump-drive-prototypes.csv --measured pump-drive-currents.csv",
    "bands ../tests/data/shelf.toml --samples 700 --solver averaged",
    "grades seabed-node.toml --samples 300 --solver averaged",
    "sensors greenhouse-lamps.toml --samples 60 --solver averaged",
    "capacitors ../tests/data/shelf.toml --samples 400 --solver averaged",
    "faults ../tests/data/shelf.toml --samples 3",
    "shapes incoming-rectifiers.csv",
];

/// What a piece of work prints, and all its files.
fn results(processor: Option<&str>, work: &str, out: &Path) -> Vec<(String, Vec<u8>)> {
    let program = env!("CARGO_BIN_EXE_fairphase");
    let mut command = match processor {
        None => Command::new(program),
        Some(name) => {
            let mut command = Command::new(EMULATOR);
            command.args(["-cpu", name, program]);
            command
        }
    };
    command.args(work.split_whitespace()).stdin(Stdio::null());
    let scenarios = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios");
    if !work.starts_with("check") {
        command.arg("--out").arg(out);
    }
    let output = command.current_dir(scenarios).output().unwrap();
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{processor:?}: {work}: {stderr}");
    let stdout = String::from_utf8(output.stdout).unwrap();
    let printed = stdout.replace(out.to_str().unwrap(), "out").into_bytes();
    let files = if out.exists() { entries(out) } else { Vec::new() };
    let read = files.into_iter().map(|name| (name.clone(), fs::read(out.join(name)).unwrap()));
    std::iter::once(("what it prints".to_owned(), printed)).chain(read).collect()
}

#[test]
fn any_processor_makes_the_same_bytes() {
    if Command::new(EMULATOR).arg("--version").stdout(Stdio::null()).status().is_err() {
        assert!(std::env::var_os("CI").is_none(), "{EMULATOR} is missing");
        eprintln!("{EMULATOR} is missing: not tested on other processors");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for (n, work) in WORKS.iter().enumerate() {
        let expected = results(None, work, &folder.path().join(format!("{n}-own")));
        for processor in PROCESSORS {
            let out = folder.path().join(format!("{n}-{processor}"));
            let found = results(Some(processor), work, &out);
            assert_eq!(expected.len(), found.len(), "{processor}: {work}");
            for ((name, own), (_, other)) in expected.iter().zip(&found) {
                assert!(own == other, "{processor}: {work}: {name}");
            }
        }
    }
}
