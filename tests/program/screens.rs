//! What every verb shows on a terminal: the answer in a screenful with its evidence, the files and the next
//! step, at 2, 3 and 12 phases; the tables behind `--tables`.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::path::Path;

use clap::CommandFactory;
use fairphase::cli::Cli;

use crate::support::{TELECOM, fairphase, folder_with, with_phases};

const CANAL: &str = include_str!("../../scenarios/canal-lock.toml");
const ELECTROLYSER: &str = include_str!("../../scenarios/electrolyser-supply.toml");
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
const RUNWAY: &str = include_str!("../../scenarios/runway-lights.toml");
const SEABED: &str = include_str!("../../scenarios/seabed-node.toml");
const TANKS: &str = include_str!("../../scenarios/seabed-node-tanks.csv");
const TRANSFORMERS: &str = include_str!("../../scenarios/incoming-transformers.csv");

/// Lines of a screenful, with all that a reader must not miss, and characters of a line.
const LINES: usize = 50;
const COLUMNS: usize = 80;
/// Symbols that no line may begin with where a number ends the line before.
const UNITS: [&str; 14] =
    ["%", "V", "A", "W", "kW", "kHz", "µH", "nH", "nF", "µF", "mΩ", "ns", "µs", "ppm"];

/// What a command prints that does its work; notes on standard error may warn of the few samples.
fn stdout(folder: &Path, line: &str) -> String {
    let said = fairphase(folder, line);
    assert_eq!(said.status, 0, "{line}: {}", said.stderr);
    said.stdout
}

/// What a verb shows, with and without its tables.
struct Shown {
    line: String,
    screen: String,
    all: String,
}

impl Shown {
    fn new(folder: &Path, line: &str) -> Self {
        let screen = stdout(folder, line);
        let all = stdout(folder, &format!("{line} --tables"));
        Self { line: line.to_owned(), screen, all }
    }

    /// Screenful, widths, and the order of the blocks.
    fn check(&self) {
        let Self { line, screen, all } = self;
        assert!(screen.lines().count() <= LINES, "{line}: {}\n{screen}", screen.lines().count());
        for text in [screen, all] {
            let mut before = "";
            for row in text.lines() {
                assert!(row.chars().count() <= COLUMNS, "{line}: too wide\n{row}\n{screen}");
                let first = row.split_whitespace().next().unwrap_or_default();
                let last = before.split_whitespace().last().unwrap_or_default();
                let is_torn = last.chars().all(|c| c.is_ascii_digit() || c == '.')
                    && !last.is_empty()
                    && (UNITS.contains(&first)
                        || (row.starts_with("  ")
                            && !row.starts_with("   ")
                            && first.starts_with(|c: char| c.is_ascii_digit())));
                assert!(!is_torn, "{line}: a number is torn\n{before}\n{row}\n{text}");
                before = row;
            }
            assert!(!text.contains('\u{1b}') && !text.contains("\n\n\n"), "{line}\n{text}");
        }
        let answer = screen.split("\nReport: ").next().unwrap();
        let answer = answer.split("\nAll tables: ").next().unwrap();
        assert!(all.starts_with(answer), "{line}: the tables take something away\n{all}");
        let is_told = screen.contains("\nAll tables: the same command with --tables.\nNext: ");
        assert_eq!(is_told, all != screen, "{line}\n{all}");
        assert!(!is_told || all.lines().count() > screen.lines().count(), "{line}\n{all}");
        assert!(is_told || line.contains("--allot-only"), "{screen}");
        assert!(!all.contains("All tables: "), "{all}");
        assert_eq!(line.starts_with("check"), !screen.contains("\nReport: "), "{screen}");
        assert_eq!(screen.contains("\nReport: "), screen.contains("  beside it: "), "{screen}");
        let picture = ['█', '━', '●', '▁', 'S'];
        assert!(screen.contains(picture), "{line}: no figure\n{screen}");
    }

    /// The command of the last line.
    fn next(&self) -> &str {
        let last = self.screen.lines().last().unwrap();
        let command = last.strip_prefix("  fairphase ").unwrap_or_else(|| panic!("{last}"));
        let words = last.split_whitespace();
        let parsed = Cli::command().try_get_matches_from(words);
        assert!(parsed.is_ok(), "{}: {last}: {:?}", self.line, parsed.err());
        command
    }
}

/// The demos of all verbs with few samples, for so many phases. The options keep the work small.
fn check_all(phases: u32) {
    let of = |text: &str| with_phases(text, phases);
    let files = [
        ("telecom.toml", of(TELECOM)),
        ("canal.toml", of(CANAL)),
        ("electrolyser.toml", of(ELECTROLYSER)),
        ("lamps.toml", of(LAMPS)),
        ("runway.toml", of(RUNWAY)),
        ("seabed.toml", of(SEABED)),
        ("tanks.csv", TANKS.to_owned()),
    ];
    let folder = folder_with(&files.each_ref().map(|(name, text)| (*name, text.as_str())));
    let few = "--solver averaged --samples";
    let lines = [
        "run telecom.toml --samples 60 --out run".to_owned(),
        format!("run telecom.toml {few} 60 --seed 5 --out other"),
        "compare run other --out compared".to_owned(),
        "check telecom.toml".to_owned(),
        "gain electrolyser.toml --solver averaged --out gain".to_owned(),
        "units telecom.toml --parts run/worst_converters.csv --out units".to_owned(),
        format!("bands runway.toml {few} 620 --out bands"),
        format!("grades seabed.toml {few} 300 --out grades"),
        format!("grades seabed.toml {few} 300 --stock tanks.csv --allot-only --out stock"),
        format!("sensors lamps.toml {few} 100 --out sensors"),
        "capacitors canal.toml --samples 20 --out capacitors".to_owned(),
        "faults telecom.toml --samples 20 --out faults".to_owned(),
    ];
    for line in &lines {
        let shown = Shown::new(folder.path(), line);
        shown.check();
        let next = shown.next();
        // What draws samples would take minutes.
        if ["check", "units", "gain", "compare"].iter().any(|verb| next.starts_with(verb)) {
            stdout(folder.path(), next);
        }
    }
}

#[test]
fn every_answer_fits_a_screenful_with_two_phases() {
    check_all(2);
}

#[test]
fn every_answer_fits_a_screenful_with_three_phases() {
    check_all(3);
}

#[test]
fn every_answer_fits_a_screenful_with_twelve_phases() {
    check_all(12);
}

#[test]
fn shapes_fit_a_screenful_with_the_lines_to_paste() {
    let folder = folder_with(&[("transformers.csv", TRANSFORMERS)]);
    let shown = Shown::new(folder.path(), "shapes transformers.csv");
    shown.check();
    assert!(shown.screen.contains("\n[tolerance.resonant_inductance]\n"), "{}", shown.screen);
    stdout(folder.path(), shown.next());
    assert!(folder.path().join("my.toml").exists(), "the draft was written");
}
