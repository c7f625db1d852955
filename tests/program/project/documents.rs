//! Documents are short, name what exists, link to what exists and speak in short sentences.

use std::fs;
use std::path::{Path, PathBuf};

use clap::CommandFactory;

use super::{root, sources};

/// Most lines of a document.
const LENGTHS: [(&str, usize); 2] = [("DEVELOPERS.md", 270), ("README.md", 200)];

/// Most words of a sentence.
const WORDS: usize = 25;

/// Folders whose paths are checked where a document names them.
const FOLDERS: [&str; 5] = ["src/", "tests/", "benches/", "scenarios/", ".ci/"];

/// Documents of the project with their texts.
fn documents() -> Vec<(PathBuf, String)> {
    let mut files: Vec<PathBuf> =
        ["DEVELOPERS.md", "README.md"].iter().map(|name| root().join(name)).collect();
    for folder in ["benches", "reports", "scenarios", "src", "tests"] {
        files.extend(sources(&root().join(folder)));
    }
    files.retain(|path| path.extension().is_some_and(|ending| ending == "md"));
    assert!(files.len() >= 5, "the documents were found: {files:?}");
    files.into_iter().map(|path| (path.clone(), fs::read_to_string(path).unwrap())).collect()
}

/// What a rule finds wrong in any document.
fn complaints(rule: impl Fn(&Path, &str) -> Vec<String>) -> Vec<String> {
    let told = |(path, text): &(PathBuf, String)| {
        let name = path.strip_prefix(root()).unwrap().display().to_string();
        let found = rule(path, text).into_iter();
        found.map(|wrong| format!("{name}: {wrong}")).collect::<Vec<_>>()
    };
    documents().iter().flat_map(told).collect()
}

fn is_too_long(name: &str, text: &str) -> bool {
    LENGTHS.iter().any(|(document, most)| *document == name && text.lines().count() > *most)
}

#[test]
fn documents_are_short() {
    for (name, _) in LENGTHS {
        let text = fs::read_to_string(root().join(name)).unwrap();
        assert!(!is_too_long(name, &text), "{name} has {} lines", text.lines().count());
    }
    assert!(is_too_long("README.md", &"line\n".repeat(201)));
    assert!(!is_too_long("README.md", &"line\n".repeat(200)));
}

/// Verbs in the first column of a table, in its order.
fn verbs_in_table(text: &str) -> Vec<&str> {
    let rows = text.lines().filter_map(|line| line.strip_prefix("| `fairphase "));
    rows.filter_map(|row| row.split([' ', '`']).next()).collect()
}

#[test]
fn the_table_of_commands_is_that_of_the_program() {
    let text = fs::read_to_string(root().join("README.md")).unwrap();
    let command = fairphase::cli::Cli::command();
    let verbs: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
    assert_eq!(verbs_in_table(&text), verbs);
    assert_eq!(verbs_in_table("| `fairphase a X` | b |\n| `fairphase c` | d |"), ["a", "c"]);
}

/// Paths in backticks that do not exist.
fn missing_paths(text: &str) -> Vec<String> {
    let tokens = text.split('`').skip(1).step_by(2);
    let paths = tokens.filter(|token| {
        FOLDERS.iter().any(|start| token.starts_with(start)) && !token.contains([' ', '<', '*'])
    });
    paths.filter(|path| !root().join(path).exists()).map(str::to_owned).collect()
}

#[test]
fn paths_named_in_documents_exist() {
    assert_eq!(complaints(|_, text| missing_paths(text)), Vec::<String>::new());
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    assert!(text.matches("`src/").count() > 15, "paths are named");
    assert_eq!(missing_paths("`src/lib.rs` and `src/gone.rs`"), ["src/gone.rs"]);
}

/// Tests that a table names after their file, and that the file does not hold.
fn missing_tests(text: &str) -> Vec<String> {
    let mut missing = Vec::new();
    for cell in text.lines().filter(|line| line.starts_with('|')).flat_map(|line| line.split('|')) {
        let Some((file, tests)) = cell.trim().trim_start_matches('`').split_once("`: `") else {
            continue;
        };
        let source = fs::read_to_string(root().join(file)).unwrap_or_default();
        let tests = tests.split('`').step_by(2).filter(|test| !test.is_empty());
        let is_missing = |test: &&str| {
            !source.contains(&format!("#[test]\n    fn {test}()"))
                && !source.contains(&format!("#[test]\nfn {test}()"))
        };
        missing.extend(tests.filter(is_missing).map(|test| format!("{file}: {test}")));
    }
    missing
}

#[test]
fn tests_that_count_the_errors_of_statements_exist() {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    assert_eq!(missing_tests(&text), Vec::<String>::new());
    assert!(text.matches("`: `").count() > 15, "tests are named");
    let table = "| a | `tests/study/grades.rs`: `gone`, `picking_from_the_short_list_makes_no_passes` |\n\
                 | b | `tests/gone.rs`: `also` |";
    assert_eq!(missing_tests(table), ["tests/study/grades.rs: gone", "tests/gone.rs: also"]);
}

/// Targets of links that are neither addresses nor names of code.
fn link_targets(text: &str) -> Vec<&str> {
    let after = text.split("](").skip(1);
    let targets = after.filter_map(|rest| rest.split_once(')').map(|(target, _)| target));
    targets.filter(|target| !target.contains("::") && !target.contains(' ')).collect()
}

/// The name by which a page can be entered at a heading.
fn anchor(heading: &str) -> String {
    let kept = heading.trim_start_matches('#').trim().to_lowercase();
    let allowed = |c: &char| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_');
    kept.chars().filter(allowed).map(|c| if c == ' ' { '-' } else { c }).collect()
}

fn has_heading(text: &str, name: &str) -> bool {
    text.lines().any(|line| line.starts_with('#') && anchor(line) == name)
}

/// Relative links of a document that lead nowhere.
fn broken_links(path: &Path, text: &str) -> Vec<String> {
    let works = |target: &&str| {
        let (file, heading) = target.split_once('#').unwrap_or((target, ""));
        if target.contains("://") {
            return true;
        }
        let linked = if file.is_empty() { path.to_owned() } else { path.with_file_name(file) };
        if heading.is_empty() {
            return linked.exists();
        }
        let inside = if file.is_empty() { Ok(text.to_owned()) } else { fs::read_to_string(linked) };
        inside.is_ok_and(|inside| has_heading(&inside, heading))
    };
    link_targets(text).into_iter().filter(|t| !works(t)).map(str::to_owned).collect()
}

#[test]
fn links_work() {
    assert_eq!(complaints(broken_links), Vec::<String>::new());
    let readme = root().join("README.md");
    let text = "# A heading, `too`\n[a](LICENSE) [b](gone.md) [c](#a-heading-too) [d](#gone) \
                [e](https://example.org/) [f](crate::study)";
    assert_eq!(broken_links(&readme, text), ["gone.md", "#gone"]);
}

/// Paragraphs, items, headings and cells of tables, without code and pictures.
fn blocks(text: &str) -> Vec<String> {
    let mut blocks = vec![String::new()];
    let mut is_code = false;
    for line in text.lines().map(|line| line.trim().trim_start_matches("> ")) {
        if line.starts_with("```") {
            is_code = !is_code;
        }
        if is_code || line.starts_with("```") || line.starts_with("![") {
            continue;
        }
        if line.starts_with('|') {
            blocks.extend(line.split('|').map(str::to_owned));
            continue;
        }
        let number = line.trim_start_matches(|c: char| c.is_ascii_digit());
        let is_item = line.starts_with("- ") || line.starts_with("* ");
        let is_numbered = number.len() < line.len() && number.starts_with(". ");
        if line.is_empty() || line.starts_with('#') || is_item || is_numbered {
            blocks.push(String::new());
        }
        let current = blocks.len() - 1;
        blocks[current].push_str(line);
        blocks[current].push(' ');
        if line.starts_with('#') {
            blocks.push(String::new());
        }
    }
    blocks
}

/// A block with each piece of code as one word, and links as their texts.
fn plain(block: &str) -> String {
    let pieces = block.split('`').enumerate();
    let words: String = pieces.map(|(k, piece)| if k % 2 == 1 { "code" } else { piece }).collect();
    let mut parts = words.split("](");
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |text, part| text + part.split_once(')').map_or("", |(_, rest)| rest))
}

/// Whether a sentence ends with this word: not so after an initial or an abbreviation.
fn ends_sentence(word: &str) -> bool {
    let bare = word.trim_end_matches(['*', '_', ')', '"', ']']);
    let stem = bare.trim_end_matches('.').trim_start_matches('(');
    let is_short = stem.chars().count() == 1 && stem.chars().all(char::is_uppercase);
    let is_abbreviation = is_short || ["e.g", "i.e", "cf", "vs", "no", "vol"].contains(&stem);
    bare.ends_with(['!', '?']) || (bare.ends_with('.') && !is_abbreviation)
}

/// Sentences of more words than allowed.
fn long_sentences(text: &str) -> Vec<String> {
    let mut long = Vec::new();
    for block in blocks(text) {
        let block = plain(&block);
        let words: Vec<&str> = block.split_whitespace().collect();
        for sentence in words.split_inclusive(|word| ends_sentence(word)) {
            let count = sentence.iter().filter(|w| w.contains(char::is_alphanumeric)).count();
            if count > WORDS {
                long.push(format!("{count} words: {}", sentence.join(" ")));
            }
        }
    }
    long
}

#[test]
fn sentences_are_short() {
    let wrong = complaints(|_, text| long_sentences(text));
    assert!(wrong.is_empty(), "{} long sentences:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn long_sentences_are_seen() {
    let (most, more) = ("word ".repeat(WORDS), "word ".repeat(WORDS + 1));
    let found = |text: String| long_sentences(&text).len();
    assert_eq!(found(format!("{most}.")), 0);
    assert_eq!(found(format!("{more}.")), 1);
    assert_eq!(found(format!("{more}, by R. W. Smith. {most}.\n\n- {more}\n- {most}")), 2);
    assert_eq!(found(format!("| {most} | {most} |\n|---|---|\n| {more} | {most} |")), 1);
    assert_eq!(found(format!("```text\n{more}\n```\n`{more}` counts as one word")), 0);
    assert_eq!(found(format!("{most} [`{more}`]({more})")), 1, "a link counts as its text");
}
