//! Characters that a terminal obeys, that reorder text, or that a spreadsheet takes for a formula:
//! refused in files, written out in names of files, harmless in everything that the program writes.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;
use std::process::Output;

use crate::support::{SHELF, changed, command, entries, folder_with, json, said, succeed};

/// Characters of category Cc, of Unicode Standard Annex #9, section 2, and of Unicode's property
/// `Default_Ignorable_Code_Point` (from memory).
const HOSTILE: [char; 16] = [
    '\u{0}',
    '\u{1b}',
    '\u{7}',
    '\u{7f}',
    '\u{9b}',
    '\u{202e}',
    '\u{2066}',
    '\u{200f}',
    '\u{61c}',
    '\u{ad}',
    '\u{180e}',
    '\u{200b}',
    '\u{200d}',
    '\u{2060}',
    '\u{feff}',
    '\u{e0041}',
];

/// Whether a text of several lines may be shown on a terminal.
fn is_harmless(text: &str) -> bool {
    let hostile = |c: char| {
        (c.is_control() && c != '\n' && c != '\t')
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}')
            || matches!(c, '\u{2066}'..='\u{2069}' | '\u{ad}' | '\u{180e}' | '\u{200b}'..='\u{200d}')
            || matches!(c, '\u{2060}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}')
    };
    !text.contains(hostile)
}

/// The program with arguments that may hold any character.
fn run(folder: &Path, arguments: &[&str]) -> Output {
    command(folder, "").args(arguments).output().unwrap()
}

#[track_caller]
fn check_said(output: Output, status: i32, words: &str) {
    let said = said(output);
    assert_eq!(said.status, status, "{}", said.stderr);
    let all = said.stdout + &said.stderr;
    assert!(is_harmless(&all), "{all:?}");
    assert!(all.contains(words), "`{words}` is missing in {all}");
}

#[test]
fn names_of_files_are_written_out() {
    // Red, cleared screen, reversed order, and a line of its own: names that a system allows.
    let name = "a\u{1b}[31m\u{202e}\u{9b}2J\u{200b}\u{e0041}\nnote: all is well.toml";
    let folder = folder_with(&[(name, SHELF), ("wrong\u{1b}.toml", "title = 1\n")]);
    let out = "out\u{1b}]0;x\u{7}";
    check_said(run(folder.path(), &["run", "nowhere\u{1b}.toml"]), 2, "nowhere\\u{1b}.toml");
    check_said(run(folder.path(), &["run", "wrong\u{1b}.toml"]), 2, "wrong\\u{1b}.toml:1:9");
    check_said(run(folder.path(), &["run", "\u{202e}", "--samples", "\u{202e}x"]), 2, "\\u{202e}x");
    check_said(run(folder.path(), &["walk\u{202e}"]), 2, "walk\\u{202e}");
    let arguments = ["run", name, "--samples", "20", "--out", out];
    check_said(run(folder.path(), &arguments), 0, "out\\u{1b}]0;x\\u{7}/report.html");
    let made = folder.path().join(out);
    let page = fs::read_to_string(made.join("report.html")).unwrap();
    assert!(is_harmless(&page) && page.contains("a\\u{1b}[31m\\u{202e}"));
    let summary = fs::read_to_string(made.join("summary.json")).unwrap();
    assert!(is_harmless(&summary));
    assert_eq!(json(&made.join("summary.json"))["scenario"], name, "the same text, escaped");
    // A second verb says whose results it replaced.
    let arguments = ["gain", name, "--out", out];
    let output = run(folder.path(), &arguments);
    check_said(output, 0, "note: the results of `run` in out\\u{1b}]0;x\\u{7} were replaced");
    check_said(run(folder.path(), &["check", "missing\nnote: fine"]), 2, "missing\\u{a}note: fine");
    check_said(run(folder.path(), &["draft", "new\u{1b}.toml"]), 0, "new\\u{1b}.toml holds");
}

#[test]
fn hostile_characters_in_a_scenario_are_refused_with_their_place() {
    for c in HOSTILE {
        for (place, from) in [("1:9", "Shelf supply"), ("22:8", "full load")] {
            let escape = format!("\\U{:08x}", u32::from(c));
            let text = changed(SHELF, from, &format!("{from} {escape}"));
            let folder = folder_with(&[("shelf.toml", &text)]);
            let output = run(folder.path(), &["check", "shelf.toml"]);
            check_said(output, 2, &format!("shelf.toml:{place}\n"));
            let output = run(folder.path(), &["check", "shelf.toml"]);
            check_said(output, 2, &format!("holds the character {}", c.escape_unicode()));
        }
    }
    // A key that nobody asked for is shown in its error.
    let text = changed(SHELF, "phases = 3", "phases = 3\n\"\\u001b[2J\\u202e\" = 1");
    let folder = folder_with(&[("shelf.toml", &text)]);
    check_said(
        run(folder.path(), &["check", "shelf.toml"]),
        2,
        "unknown key `\\u{1b}[2J\\u{202e}`",
    );
}

/// The head of a page allows its own style and its own script, and nothing else.
#[test]
fn a_page_may_load_nothing() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), "gain shelf.toml --quiet --out out");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    let policy = page.split("http-equiv=\"Content-Security-Policy\" content=\"").nth(1).unwrap();
    let policy = policy.split('"').next().unwrap();
    assert!(policy.starts_with("default-src 'none';"), "{policy}");
    let scripts = policy.split("; ").find(|part| part.starts_with("script-src")).unwrap();
    assert!(scripts.starts_with("script-src 'sha256-") && !scripts.contains("unsafe"), "{policy}");
    assert!(page.find("http-equiv") < page.find("<title>"), "before all that it governs");
    assert_eq!(entries(folder.path()), ["out", "shelf.toml"]);
}
