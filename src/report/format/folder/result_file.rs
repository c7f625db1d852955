//! The names of result files. Only files of these names are ever placed, replaced or removed.

use std::fs;
use std::io;
use std::path::Path;

use anyhow::Context;

use crate::printable;

/// The page that every verb writes.
pub(in crate::report) const PAGE: &str = "report.html";

/// The file that lists the others. It comes last into its folder, and leaves it first.
pub(super) const SUMMARY: &str = "summary.json";

/// Every fixed name, the summary last.
const FIXED: [&str; 20] = [
    PAGE,
    "brief.html",
    "tallies.bin",
    "samples.parquet",
    "population.parquet",
    "worst_converters.csv",
    "ratings.csv",
    "gain.csv",
    "units.csv",
    "unit_ratings.csv",
    "unit_losses.csv",
    "commutation.csv",
    "over_load.csv",
    "grades.csv",
    "build_list.csv",
    "not_passing.csv",
    "capacitors.csv",
    "faults.csv",
    "comparison.csv",
    SUMMARY,
];

/// How the names of figures and tables of a page begin and end.
const OF_A_PAGE: [(&str, &str); 2] = [("figure-", ".svg"), ("table-", ".csv")];

/// Whether a name is that of a result file.
pub(super) fn is_result_file(name: &str) -> bool {
    FIXED.contains(&name) || is_of_a_page(name)
}

/// Whether a name is that of a figure or a table of a page, with its number and its words, such as
/// `figure-07-yield.svg`.
pub(super) fn is_of_a_page(name: &str) -> bool {
    OF_A_PAGE.iter().any(|(kind, ending)| {
        let inside = name.strip_prefix(kind).and_then(|rest| rest.strip_suffix(ending));
        inside.and_then(|inside| inside.split_once('-')).is_some_and(|(number, words)| {
            let is_number = number.bytes().all(|c| c.is_ascii_digit());
            let is_word = |c: u8| c.is_ascii_lowercase() || c.is_ascii_digit() || c == b'-';
            is_number && number.len() >= 2 && !words.is_empty() && words.bytes().all(is_word)
        })
    })
}

/// Names of the result files that a folder holds, of whatever kind these entries are; the summary last.
pub(super) fn result_files_in(folder: &Path) -> anyhow::Result<Vec<String>> {
    let cannot_read = || format!("cannot read the folder {}", printable::path(folder));
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.with_context(cannot_read)?,
    };
    let mut found = Vec::new();
    for entry in entries {
        // A name that is no text is none of ours.
        let name = entry.with_context(cannot_read)?.file_name();
        found.extend(name.to_str().filter(|name| is_of_a_page(name)).map(str::to_owned));
    }
    found.sort_unstable();
    // Looked up one by one: some systems find them in other letters.
    let fixed = FIXED.into_iter().filter(|name| folder.join(name).symlink_metadata().is_ok());
    found.extend(fixed.map(str::to_owned));
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_results_are_known() {
        for name in ["report.html", "brief.html", "figure-07-yield.svg", "table-123-of-2-kw.csv"] {
            assert!(is_result_file(name), "{name}");
        }
        for name in [
            "figure-7-yield.svg",
            "figure-07.svg",
            "figure-07-.svg",
            "figure-aa-yield.svg",
            "figure-07-Yield.svg",
            "figure-07-../x.svg",
            "figure-07-yield.csv",
            "table-07-yield.svg",
            "my-figure-07-yield.svg",
            "figure-07-yield.svg.bak",
        ] {
            assert!(!is_result_file(name), "{name}");
        }
    }

    #[test]
    fn the_summary_comes_last() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["summary.json", "table-01-a.csv", "report.html", "notes.svg"] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        let found = result_files_in(folder.path()).unwrap();
        assert_eq!(found, ["table-01-a.csv", PAGE, SUMMARY]);
        assert!(result_files_in(&folder.path().join("none")).unwrap().is_empty());
    }
}
