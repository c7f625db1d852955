//! The names of result files. Only files of these names are ever placed, replaced or removed.

/// The page that every verb writes.
pub(in crate::report) const PAGE: &str = "report.html";

/// The file that lists the others. It comes last into its folder, and leaves it first.
pub(super) const SUMMARY: &str = "summary.json";

/// Every file that a verb may write, the summary last.
pub(super) const RESULT_FILES: [&str; 17] = [
    PAGE,
    "samples.parquet",
    "population.parquet",
    "worst_converters.csv",
    "ratings.csv",
    "gain.csv",
    "units.csv",
    "unit_ratings.csv",
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

/// A name, if it is that of a result file.
pub(super) fn result_file(name: &str) -> Option<&'static str> {
    RESULT_FILES.into_iter().find(|known| *known == name)
}
