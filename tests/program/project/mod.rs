//! Rules of the project itself.
#![allow(missing_docs, unreachable_pub, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::{Path, PathBuf};

mod code;
mod dependencies;
mod documents;
mod packages;
mod sinks;
mod source;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All files below a place; packages that checks of pages have installed are none of the project's.
fn sources(place: &Path) -> Vec<PathBuf> {
    if place.is_file() {
        return vec![place.to_owned()];
    }
    if place.ends_with("node_modules") {
        return Vec::new();
    }
    let entries = fs::read_dir(place).unwrap().map(|e| e.unwrap().path());
    entries.flat_map(|path| sources(&path)).collect()
}

/// Texts by name, for rules to be tried on.
fn texts(pairs: &[(&str, &str)]) -> source::Files {
    pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
}

/// The program's source, by path from the folder `src`.
fn files_of_the_crate() -> source::Files {
    let folder = root().join("src");
    let is_code = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "rs");
    let named = |path: PathBuf| {
        let name = path.strip_prefix(&folder).unwrap().to_str().unwrap().to_owned();
        (name, fs::read_to_string(&path).unwrap())
    };
    sources(&folder).into_iter().filter(is_code).map(named).collect()
}

/// Functions whose last digit the standard library leaves to the platform; `libm` has them all
/// in portable arithmetic, so that results are the same bytes on every machine.
const OF_THE_PLATFORM: [&str; 18] = [
    "exp", "exp2", "exp_m1", "ln", "ln_1p", "log", "log2", "log10", "powf", "cbrt", "hypot", "sin",
    "cos", "tan", "sin_cos", "asin", "atan2", "atanh",
];

#[test]
fn results_are_computed_in_portable_arithmetic() {
    for file in sources(&root().join("src")) {
        let text = fs::read_to_string(&file).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap();
        if file.ends_with("published.rs") {
            continue; // tests alone
        }
        if file.extension().is_some_and(|own| own == "js") {
            continue; // what a script draws is no result
        }
        for function in OF_THE_PLATFORM {
            let call = format!(".{function}(");
            assert!(!code.contains(&call), "{}: {call}", file.display());
        }
    }
}

/// What the top level may hold, beside dot files and the build's folder.
const TOP_LEVEL: [&str; 10] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "benches",
    "reports",
    "scenarios",
    "src",
    "tests",
];

/// Of the files under version control, or, in a copy without it, of all files.
#[test]
fn the_top_level_holds_what_it_should() {
    let git = std::process::Command::new("git").arg("ls-files").current_dir(root()).output();
    let mut names: Vec<String> = match git {
        Ok(output) if output.status.success() => {
            let files = String::from_utf8(output.stdout).unwrap();
            files.lines().filter_map(|line| Some(line.split('/').next()?.to_owned())).collect()
        }
        _ => fs::read_dir(root())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect(),
    };
    names.retain(|name| !name.starts_with('.') && name != "target");
    names.sort();
    names.dedup();
    assert_eq!(names, TOP_LEVEL);
}
