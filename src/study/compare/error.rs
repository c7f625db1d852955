//! Why results cannot be compared. Texts of the files are told in one line, without characters that steer.

/// Why results cannot be compared: always something about the files that were named.
#[derive(Debug, thiserror::Error)]
pub enum CompareError {
    /// A file is no summary of this program.
    #[error("error: {path}: {reason}; expected a folder of results, or its summary.json")]
    NoSummary {
        /// The file.
        path: String,
        /// What is wrong with it.
        reason: String,
    },
    /// A yield that cannot be.
    #[error(
        "error: {path}: {}: {successes} of {trials} samples pass; expected at most all of them",
        subject.escape_debug()
    )]
    Yield {
        /// The file.
        path: String,
        /// What the yield is of.
        subject: String,
        /// Samples that pass.
        successes: u64,
        /// All samples.
        trials: u64,
    },
    /// A summary of another version of the schema.
    #[error(
        "error: {path}: its schema is {}; expected {expected}: names may mean something else. Make these \
         results again with this version",
        found.escape_debug()
    )]
    OtherSchema {
        /// The file.
        path: String,
        /// Its schema.
        found: String,
        /// That of this version.
        expected: String,
    },
    /// Results of a verb that reads no scenario.
    #[error(
        "error: {path}: results of `{}`, which reads no scenario; expected results of a verb that reads one",
        verb.escape_debug()
    )]
    NoScenario {
        /// The file.
        path: String,
        /// The verb.
        verb: String,
    },
    /// Results of several verbs.
    #[error(
        "error: {path}: results of `{}`; expected results of `{expected}`, as the first ones are",
        found.escape_debug()
    )]
    OtherVerb {
        /// The file.
        path: String,
        /// Its verb.
        found: String,
        /// The verb of the first.
        expected: String,
    },
    /// `samples.parquet` is not the one that its summary tells of.
    #[error("error: {path}: {reason}; expected the file that its summary lists")]
    Samples {
        /// The file.
        path: String,
        /// What is wrong with it.
        reason: String,
    },
}
