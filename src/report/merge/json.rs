//! The summary of a part.

use schemars::JsonSchema;
use serde::Serialize;

use super::part::PartHeader;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::study::common::settings::Settings;

/// Which samples a part of a run holds. What is found of them is in `tallies.bin`, for `merge`.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct PartResults {
    /// Which part it is, from 1.
    part: u64,
    /// The number of parts.
    parts: u64,
    /// The number of its first sample, from 0.
    first_sample: u64,
    /// Its samples.
    samples_of_part: u64,
}

pub(super) fn summary(
    scenario: &Scenario,
    settings: &Settings,
    header: &PartHeader,
) -> SummaryFile<PartResults> {
    let samples = header.samples();
    let results = PartResults {
        part: header.place.number,
        parts: header.place.of,
        first_sample: samples.start,
        samples_of_part: samples.end - samples.start,
    };
    SummaryFile::sampled("run --shard", scenario, settings, results)
}
