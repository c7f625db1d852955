//! The table `[run]`: how much is sampled, from which seed.

use std::ops::RangeInclusive;

use super::reader::Table;

/// The numbers of samples that a run may have.
pub const SAMPLES: RangeInclusive<u64> = 1..=1_000_000_000;

/// How much is sampled, from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunSettings {
    /// Number of converters drawn.
    pub samples: u64,
    /// Most converters that are drawn until the verdict is decided.
    pub most_samples: u64,
    /// Seed of all random streams.
    pub seed: u64,
    /// Whether `run` explains its verdict, and `bands` tries other assumptions.
    pub explain: bool,
    /// Whether `samples.parquet` holds the loads of every part.
    pub rating_columns: bool,
}

impl Default for RunSettings {
    fn default() -> Self {
        Self {
            samples: 20_000,
            most_samples: 10_000_000,
            seed: 1,
            explain: true,
            rating_columns: false,
        }
    }
}

/// Reads `[run]`.
pub(super) fn read(mut table: Table<'_>) -> Option<RunSettings> {
    let default = RunSettings::default();
    let samples = table
        .key("samples", "number of converters that are drawn")
        .integer(&SAMPLES)
        .or(default.samples);
    let most_samples = table
        .key("most_samples", "most converters that `run --decide` draws")
        .integer(&SAMPLES)
        .or(default.most_samples);
    let seed =
        table.key("seed", "seed of all random numbers").integer(&(0..=u64::MAX)).or(default.seed);
    let explain = table
        .key("explain", "whether `run` explains its verdict, at the cost of as many samples again, and `bands` tries other assumptions")
        .boolean()
        .or(default.explain);
    let rating_columns = table
        .key("rating_columns", "whether `samples.parquet` of `run` holds the loads of every part")
        .boolean()
        .or(default.rating_columns);
    table.finish();
    Some(RunSettings {
        samples: samples?,
        most_samples: most_samples?,
        seed: seed?,
        explain: explain?,
        rating_columns: rating_columns?,
    })
}
