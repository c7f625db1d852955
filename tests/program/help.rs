//! What the program says about itself: help, completions and the manual page.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::support::{command, fairphase, folder_with, said, succeed};

/// In the order in which one works.
const VERBS: [&str; 16] = [
    "draft",
    "shapes",
    "check",
    "gain",
    "run",
    "merge",
    "units",
    "bands",
    "grades",
    "sensors",
    "capacitors",
    "faults",
    "compare",
    "schema",
    "completions",
    "manual",
];

fn help(arguments: &str, columns: &str) -> String {
    let folder = folder_with(&[]);
    let mut command = command(folder.path(), arguments);
    let said = said(command.env("COLUMNS", columns).output().unwrap());
    assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{arguments}");
    said.stdout
}

/// Every option that help shows, of all verbs.
fn options() -> BTreeSet<String> {
    let is_of_option = |c: char| c.is_ascii_lowercase() || c == '-';
    let mut all = BTreeSet::new();
    for verb in VERBS {
        for line in help(&format!("{verb} -h"), "80").lines() {
            let option = line.trim_start().trim_start_matches("-h, ");
            if line.starts_with("  ") && option.starts_with("--") {
                all.insert(option.chars().take_while(|c| is_of_option(*c)).collect());
            }
        }
    }
    all
}

#[test]
fn verbs_are_listed_in_the_order_of_the_work() {
    let help = help("--help", "80");
    let listed: Vec<_> = help
        .lines()
        .skip_while(|line| !line.starts_with("Verbs"))
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.strip_prefix("  ")?.split_whitespace().next())
        .filter(|word| VERBS.contains(word))
        .collect();
    assert_eq!(listed, VERBS);
    assert!(help.contains("The way of working"), "{help}");
}

#[test]
fn every_verb_says_what_it_answers_with_an_example_and_what_it_writes() {
    for verb in VERBS {
        let text = help(&format!("{verb} --help"), "80");
        assert!(text.contains("\nExample"), "{verb}");
        assert!(text.contains(&format!("\n  fairphase {verb}")), "{verb}");
        assert!(text.contains("\nWrites: ") || text.contains("\nPrints "), "{verb}:\n{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{verb}:\n{line}");
        }
    }
}

/// In a narrow terminal paragraphs wrap, so that no line but that of the usage is longer.
#[test]
fn help_fits_a_narrow_terminal() {
    for verb in VERBS.into_iter().chain([""]) {
        for line in help(&format!("{verb} --help"), "48").lines() {
            let fits = line.chars().count() <= 48 || line.starts_with("Usage: ");
            assert!(fits, "{verb}:\n{line}");
        }
    }
}

/// The advice to write `--` before an unknown option would not help; that of a like one does.
#[test]
fn unknown_options_bring_no_advice_that_fails() {
    let folder = folder_with(&[]);
    for arguments in ["check x.toml --require-pass", "run x --foo 3", "units x --bar", "schema --x"]
    {
        let said = fairphase(folder.path(), arguments);
        assert_eq!(said.status, 2);
        assert!(said.stderr.contains("unexpected argument '--"), "{}", said.stderr);
        assert!(!said.stderr.contains("as a value"), "{}", said.stderr);
    }
    let said = fairphase(folder.path(), "run x --sampels 3");
    assert!(said.stderr.contains("'--samples'"), "{}", said.stderr);
}

fn is_installed(program: &str) -> bool {
    let version = Command::new(program).arg("--version").stdin(Stdio::null()).output();
    version.is_ok_and(|output| output.status.success())
}

/// The commands of the examples in a text; one that ends in a backslash goes on in the next line.
fn examples(text: &str) -> Vec<String> {
    let joined = text.replace("\\\n", "");
    let lines = joined.lines().skip_while(|line| !line.starts_with("Example")).skip(1);
    lines.take_while(|line| line.starts_with("  ")).map(|line| line.trim().to_owned()).collect()
}

/// Every example does its work, on fewer samples than it would have.
#[test]
fn examples_of_help_work() {
    if !is_installed("bash") {
        return;
    }
    let project = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let folder = folder_with(&[]);
    fs::create_dir(folder.path().join("scenarios")).unwrap();
    for entry in fs::read_dir(project).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, folder.path().join("scenarios").join(path.file_name().unwrap())).unwrap();
    }
    let program = Path::new(env!("CARGO_BIN_EXE_fairphase")).parent().unwrap();
    let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap());
    for verb in VERBS {
        let examples = examples(&help(&format!("{verb} --help"), "80"));
        assert!(!examples.is_empty(), "{verb}");
        for example in examples {
            if example.starts_with("man ") && !is_installed("man") {
                continue;
            }
            let samples = match verb {
                _ if example.contains("--decide") => " --solver averaged",
                "bands" => " --samples 700 --solver averaged",
                "run" | "grades" | "sensors" => " --samples 100 --solver averaged",
                "merge" if example.contains("--shard") => " --samples 300 --solver averaged",
                _ if example.starts_with("fairphase run") => " --samples 100",
                _ => "",
            };
            let output = Command::new("bash")
                .args(["-c", &format!("{example}{samples}")])
                .env("PATH", &path)
                .current_dir(folder.path())
                .stdin(Stdio::null())
                .output()
                .unwrap();
            let errors = String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{example}{samples}:\n{errors}");
        }
    }
}

#[test]
fn completions_hold_every_verb_and_option() {
    let folder = folder_with(&[]);
    let options = options();
    assert!(options.contains("--require-pass") && options.len() >= 12, "{options:?}");
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = succeed(folder.path(), &format!("completions {shell}"));
        for verb in VERBS {
            assert!(script.contains(verb), "{shell}: {verb}");
        }
        for option in &options {
            let option = if shell == "fish" { &option[2..] } else { option.as_str() };
            assert!(script.contains(option), "{shell}: {option}");
        }
        let file = folder.path().join(shell);
        fs::write(&file, script).unwrap();
        if ["bash", "fish", "zsh"].contains(&shell) && is_installed(shell) {
            let read = Command::new(shell).arg("-n").arg(&file).output().unwrap();
            assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
        }
    }
}

/// What bash offers for words of a command line.
fn offered(folder: &Path, words: &str) -> String {
    let script = format!(
        "source ./bash; COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); \
         _fairphase fairphase \"${{COMP_WORDS[COMP_CWORD]}}\" \
         \"${{COMP_WORDS[COMP_CWORD - 1]}}\"; echo \"${{COMPREPLY[@]}}\""
    );
    let output = Command::new("bash").args(["-c", &script]).current_dir(folder).output().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn bash_completes_verbs_and_options() {
    if !is_installed("bash") {
        return;
    }
    let folder = folder_with(&[]);
    fs::write(folder.path().join("bash"), succeed(folder.path(), "completions bash")).unwrap();
    assert_eq!(offered(folder.path(), "fairphase sen").trim(), "sensors");
    assert_eq!(offered(folder.path(), "fairphase grades --sto").trim(), "--stock");
    assert_eq!(offered(folder.path(), "fairphase run x.toml --solver a").trim(), "averaged");
}

#[test]
fn the_manual_page_holds_every_verb_and_option() {
    let folder = folder_with(&[]);
    let page = succeed(folder.path(), "manual");
    assert!(page.lines().any(|line| line.starts_with(".TH ")), "{page}");
    let plain = page.replace('\\', "");
    for verb in VERBS {
        assert!(plain.contains(&format!("fairphase {verb}")), "{verb}");
    }
    for option in options() {
        assert!(plain.contains(&option), "{option}");
    }
    fs::write(folder.path().join("fairphase.1"), page).unwrap();
    if is_installed("groff") {
        let mut groff = Command::new("groff");
        let groff = groff.args(["-man", "-Tutf8", "-ww", "-Kutf8", "fairphase.1"]);
        let set = groff.current_dir(folder.path()).output().unwrap();
        let errors = String::from_utf8_lossy(&set.stderr);
        assert!(set.status.success() && errors.is_empty(), "{errors}");
        assert!(String::from_utf8_lossy(&set.stdout).contains("tolerance bands"));
    }
}
