//! `draft`: a scenario to begin from, which works at once and overwrites nothing.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::process::Stdio;

use fairphase::scenario::draft::{DRAFT, complete};

use crate::support::{changed, command, entries, fairphase, folder_with, succeed};

/// The file of measured parts that the draft names.
const RECTIFIERS: &str = include_str!("../../scenarios/incoming-rectifiers.csv");

#[test]
fn a_draft_checks_and_runs_at_once() {
    let folder = folder_with(&[]);
    let said = succeed(folder.path(), "draft my.toml");
    assert!(said.contains("my.toml") && said.contains("fairphase check my.toml"), "{said}");
    assert_eq!(fs::read_to_string(folder.path().join("my.toml")).unwrap(), DRAFT);
    assert_eq!(entries(folder.path()), ["my.toml"], "nothing else is written");
    succeed(folder.path(), "check my.toml");
    succeed(folder.path(), "gain my.toml --out gain");
    let said = succeed(folder.path(), "run my.toml --samples 600");
    assert!(said.contains("PASS"), "it meets its target with some room:\n{said}");
}

/// The draft with the tables of this path brought in, comments left.
fn with_tables(path: &str) -> String {
    let mut is_wanted = false;
    let mut text = String::new();
    for line in DRAFT.lines() {
        if line.starts_with('[') || line.starts_with("#[") {
            is_wanted = line.trim_start_matches(['#', '[']).starts_with(path);
        }
        let is_code = line.starts_with("#[")
            || line.starts_with('#') && line[1..].starts_with(char::is_alphanumeric);
        text += if is_wanted && is_code { &line[1..] } else { line };
        text.push('\n');
    }
    assert_ne!(text, DRAFT, "the draft has tables {path}");
    text
}

#[test]
fn every_block_of_a_draft_works_when_it_is_brought_in() {
    let prices = changed(&with_tables("bands.price"), "#samples      = 20000", "samples = 700");
    // Both together are the tables that `grades` needs.
    let costs = with_tables("grade");
    let folder = folder_with(&[
        ("prices.toml", &prices),
        ("grades.toml", &costs),
        ("sensors.toml", &with_tables("sensors")),
        ("all.toml", &complete()),
        ("measured.toml", &with_tables("tolerance.rectifier_drop")),
        ("losses.toml", &with_tables("converter.losses")),
        ("correlated.toml", &with_tables("correlation")),
        ("incoming-rectifiers.csv", RECTIFIERS),
    ]);
    succeed(folder.path(), "check losses.toml");
    succeed(folder.path(), "bands prices.toml --solver averaged");
    succeed(folder.path(), "grades grades.toml --samples 500 --solver averaged");
    succeed(folder.path(), "sensors sensors.toml --samples 100 --solver averaged");
    succeed(folder.path(), "run measured.toml --samples 50 --solver averaged --out measured");
    succeed(folder.path(), "run correlated.toml --samples 50 --solver averaged --out correlated");
    succeed(folder.path(), "check all.toml");
    // Limits of single parts need the exact solver.
    succeed(folder.path(), "run all.toml --samples 50");
    let said =
        fairphase(folder.path(), "run all.toml --samples 50 --solver averaged --out averaged");
    assert_eq!(said.status, 2, "{}", said.stderr);
    assert!(
        said.stderr.contains("limits of single parts need the exact solver"),
        "{}",
        said.stderr
    );
}

#[test]
fn without_its_tables_a_draft_is_refused_by_the_verbs_that_need_them() {
    let folder = folder_with(&[("my.toml", DRAFT)]);
    for (verb, table) in [("grades", "[grades]"), ("sensors", "[sensors]")] {
        let said = fairphase(folder.path(), &format!("{verb} my.toml"));
        assert_eq!(said.status, 2);
        assert!(said.stderr.contains(table), "{}", said.stderr);
    }
}

#[test]
fn nothing_that_exists_is_touched() {
    let folder = folder_with(&[("mine.toml", "mine")]);
    fs::create_dir(folder.path().join("folder.toml")).unwrap();
    let mut names = vec!["mine.toml", "folder.toml"];
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("elsewhere.toml", folder.path().join("link.toml")).unwrap();
        names.push("link.toml");
    }
    let before = entries(folder.path());
    for name in names {
        let said = fairphase(folder.path(), &format!("draft {name}"));
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{name}");
        let words = format!("{name} exists already");
        assert!(said.stderr.contains(&words), "{}", said.stderr);
        assert!(said.stderr.contains("name a file that does not exist"), "{}", said.stderr);
    }
    assert_eq!(entries(folder.path()), before, "a link is not followed either");
    assert_eq!(fs::read_to_string(folder.path().join("mine.toml")).unwrap(), "mine");
}

#[test]
fn without_a_folder_for_it_nothing_is_written() {
    let folder = folder_with(&[("file", "")]);
    for path in ["nowhere/my.toml", "file/my.toml"] {
        let said = fairphase(folder.path(), &format!("draft {path}"));
        assert_eq!(said.status, 2, "{}", said.stderr);
        assert!(said.stderr.contains(path) && said.stderr.contains("make it first"));
    }
    assert_eq!(fairphase(folder.path(), "draft ..").status, 2);
    assert_eq!(entries(folder.path()), ["file"]);
}

/// Of several programs that write the same file at once, one does.
#[test]
fn only_one_of_many_writes_the_file() {
    let folder = folder_with(&[]);
    let start = |_| {
        let mut command = command(folder.path(), "draft my.toml");
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    };
    let children: Vec<_> = (0..8).map(start).collect();
    let ended = children.into_iter().map(|mut child| child.wait().unwrap().code().unwrap());
    let mut statuses: Vec<_> = ended.collect();
    statuses.sort_unstable();
    assert_eq!(statuses, [0, 2, 2, 2, 2, 2, 2, 2]);
    assert_eq!(entries(folder.path()), ["my.toml"]);
    assert_eq!(fs::read_to_string(folder.path().join("my.toml")).unwrap(), DRAFT);
}

/// A draft is as readable as any file that a user makes.
#[cfg(unix)]
#[test]
fn a_draft_has_the_permissions_of_any_new_file() {
    use std::os::unix::fs::PermissionsExt;
    let folder = folder_with(&[("other", "")]);
    succeed(folder.path(), "draft my.toml");
    let mode = |name| fs::metadata(folder.path().join(name)).unwrap().permissions().mode();
    assert_eq!(mode("my.toml"), mode("other"));
}
