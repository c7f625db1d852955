//! `merge`: the parts of a run that `run --shard` writes, and when they are complete.
//!
//! A part is a folder of result files with the seal that all of them have: `tallies.bin` (`part`), which names
//! the run and the samples that it holds, and their `samples.parquet`. What `merge` shows and writes of all of
//! them is what `run` does.

mod division;
mod error;
mod json;
mod part;
mod part_set;
mod terminal;

pub use self::division::{PartPlace, most_parts};
pub use self::error::PartError;
pub(in crate::report) use self::json::PartResults;
pub use self::part::{NamedText, OpenedPart, PartHeader, PartRun, RunPart, SAMPLES_FILE, TALLIES};
pub use self::part_set::{RunParts, is_of};
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::common::settings::Settings;

/// What a part shows and writes, beside its tallies and samples.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    settings: &Settings,
    header: &PartHeader,
) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(scenario, settings, header),
        summary: json::summary(scenario, settings, header).text()?,
        files: Vec::new(),
    })
}
