//! Which file uses which: layers, and no cycles.

use std::collections::{BTreeMap, BTreeSet};

use pathfinding::prelude::{bfs_loop, strongly_connected_components};

use super::source::{Crate, Files};
use super::{files_of_the_crate, texts};

/// Modules of the crate, each with those that it may use.
const LAYERS: [(&str, &[&str]); 13] = [
    ("units", &[]),
    ("printable", &[]),
    ("statistics", &[]),
    ("input", &["units", "printable"]),
    ("converter", &["units"]),
    ("scenario", &["units", "printable", "statistics", "converter", "input"]),
    ("population", &["units", "statistics", "converter", "input", "scenario"]),
    ("solver", &["units", "converter"]),
    ("engine", &["units", "converter", "population", "solver"]),
    ("study", &["units", "converter", "scenario", "population", "solver", "statistics", "engine"]),
    (
        "report",
        &[
            "units",
            "printable",
            "converter",
            "scenario",
            "population",
            "solver",
            "statistics",
            "engine",
            "study",
        ],
    ),
    (
        "cli",
        &[
            "units",
            "printable",
            "statistics",
            "input",
            "converter",
            "scenario",
            "population",
            "solver",
            "engine",
            "study",
            "report",
        ],
    ),
    ("main", &["cli"]),
];

/// Files with the files that each uses, and the path that names them there.
type Uses = BTreeMap<String, BTreeMap<String, String>>;

fn uses(files: &Files) -> Uses {
    let mut modules = Crate::read(files, "lib.rs");
    if files.contains_key("main.rs") {
        modules.add_program(files, "main.rs");
    }
    let mut found = Uses::new();
    for (path, module) in &modules.modules {
        found.entry(module.file.clone()).or_default().extend(modules.uses(path));
    }
    found
}

/// The first segment of a file's path: its module at the top of the crate.
fn layer(file: &str) -> &str {
    file.split(['/', '.']).next().unwrap_or(file)
}

/// What breaks the order of the layers.
fn upward(uses: &Uses, layers: &[(&str, &[&str])]) -> Vec<String> {
    let mut wrong = Vec::new();
    for (file, used) in uses {
        let from = layer(file);
        if from == "lib" {
            continue;
        }
        let Some((_, allowed)) = layers.iter().find(|(name, _)| *name == from) else {
            wrong.push(format!("{file} lives in no layer that is known"));
            continue;
        };
        for (target, path) in used {
            let to = layer(target);
            if to != from && !allowed.contains(&to) {
                wrong.push(format!("{file} uses {target} as {path}"));
            }
        }
    }
    wrong
}

/// A shortest cycle of every group of files that use each other.
fn cycles(uses: &Uses) -> Vec<String> {
    let files: Vec<&String> = uses.keys().collect();
    let targets = |file: &&String| -> Vec<&String> {
        uses.get(*file).into_iter().flat_map(BTreeMap::keys).collect()
    };
    let groups = strongly_connected_components(&files, targets);
    let mut found = Vec::new();
    for group in groups.iter().filter(|group| group.len() > 1) {
        let inside: BTreeSet<&String> = group.iter().copied().collect();
        let shortest = inside
            .iter()
            .filter_map(|file| bfs_loop(file, targets))
            .min_by_key(Vec::len)
            .unwrap_or_default();
        let told: Vec<String> = shortest
            .windows(2)
            .map(|pair| format!("{} uses {} as {}", pair[0], pair[1], uses[pair[0]][pair[1]]))
            .collect();
        found.push(format!("{} of {} files: {}", told.len(), inside.len(), told.join("; ")));
    }
    found.sort();
    found
}

#[test]
fn no_module_uses_one_above_it() {
    let uses = uses(&files_of_the_crate());
    let count: usize = uses.values().map(BTreeMap::len).sum();
    assert!(count > 300, "the paths were read: {count}");
    assert_eq!(upward(&uses, &LAYERS), Vec::<String>::new());
    let known: BTreeSet<&str> = LAYERS.iter().map(|(name, _)| *name).collect();
    let found: BTreeSet<&str> =
        uses.keys().map(|file| layer(file)).filter(|name| *name != "lib").collect();
    assert_eq!(known, found);
}

#[test]
fn no_files_use_each_other_in_a_circle() {
    assert_eq!(cycles(&uses(&files_of_the_crate())), Vec::<String>::new());
}

const TWO_LAYERS: [(&str, &[&str]); 2] = [("low", &[]), ("high", &["low"])];

#[test]
fn an_upward_use_is_seen_however_it_is_written() {
    for inside in [
        "use crate::high::Name;",
        "fn f() { let _ = crate::high::Name; }",
        "use super::high::Name;",
        "use crate::{high::Name};",
        "use crate::high; fn f() -> high::Name { loop {} }",
        "fn f() { html! { (super::high::Name) } }",
        "use crate::Name;",
    ] {
        let files = texts(&[
            ("lib.rs", "mod low; mod high; pub use high::Name;"),
            ("low.rs", inside),
            ("high.rs", "pub struct Name;"),
        ]);
        let wrong = upward(&uses(&files), &TWO_LAYERS);
        assert_eq!(wrong.len(), 1, "{inside}: {wrong:?}");
    }
    let files = texts(&[
        ("lib.rs", "mod low; mod high;"),
        ("low.rs", "pub struct Name; #[cfg(test)] mod tests { use crate::high::f; }"),
        ("high.rs", "use crate::low::Name; pub fn f() {}"),
    ]);
    assert_eq!(upward(&uses(&files), &TWO_LAYERS), Vec::<String>::new());
}

#[test]
fn a_program_that_passes_its_command_line_over_is_seen() {
    let files = texts(&[
        ("lib.rs", "pub mod low; pub mod cli;"),
        ("low.rs", "pub struct Name;"),
        ("cli.rs", ""),
        ("main.rs", "use fairphase::low::Name; fn main() { let _ = Name; }"),
    ]);
    let layers: [(&str, &[&str]); 3] = [("low", &[]), ("cli", &["low"]), ("main", &["cli"])];
    assert_eq!(upward(&uses(&files), &layers), ["main.rs uses low.rs as fairphase::low::Name"]);
}

#[test]
fn circles_are_seen_through_re_exports_and_parents() {
    let found = |folder: &str, first: &str, second: &str| {
        let files = texts(&[
            ("lib.rs", "mod folder;"),
            ("folder/mod.rs", folder),
            ("folder/first.rs", first),
            ("folder/second.rs", second),
        ]);
        cycles(&uses(&files))
    };
    let re_exports = "mod first; mod second; pub use self::first::A; pub use self::second::B;";
    let circle = found(re_exports, "use super::B; pub struct A;", "use super::A; pub struct B;");
    assert_eq!(
        circle,
        ["2 of 2 files: folder/first.rs uses folder/second.rs as super::B; \
          folder/second.rs uses folder/first.rs as super::A"]
    );
    let parent = "mod first; mod second; use self::first::A; pub const N: usize = A;";
    let circle = found(parent, "pub const A: usize = super::N;", "");
    assert_eq!(circle.len(), 1, "{circle:?}");
    let line = found(re_exports, "use super::B; pub struct A;", "pub struct B;");
    assert_eq!(line, Vec::<String>::new(), "what re-exports is no user");
}
