//! The table `[lots]`: how many converters share the lots of their parts.

use std::ops::RangeInclusive;

use super::reader::Table;

/// Converters of a batch.
const CONVERTERS: RangeInclusive<u64> = 2..=1_000_000;
/// Batches that are drawn.
const BATCHES: RangeInclusive<u64> = LotSettings::FEWEST..=100_000;
/// Converters that are drawn at most.
const MOST: u64 = 100_000_000;

/// Batches of converters whose parts come from the same lots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LotSettings {
    /// Converters that share the lots of all their parts: a delivered batch.
    pub converters: u64,
    /// Batches that are drawn.
    pub batches: u64,
}

impl LotSettings {
    /// The fewest batches that can be drawn.
    pub const FEWEST: u64 = 20;
}

/// Reads `[lots]`; `None` within where there is none.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
pub(super) fn read(root: &mut Table<'_>) -> Option<Option<LotSettings>> {
    let meaning = "delivered batches, whose converters share the lots of their parts, for `run` and \
                   the series of `grades`";
    match root.key("lots", meaning).table().optional("no batches are drawn")? {
        Some(table) => read_table(table).map(Some),
        None => Some(None),
    }
}

fn read_table(mut table: Table<'_>) -> Option<LotSettings> {
    let converters = table
        .key("converters", "converters of a delivered batch, which share the lots of all parts")
        .integer(&CONVERTERS)
        .required();
    let batches = table
        .key("batches", "batches that `run` draws, and series that `grades` draws")
        .integer(&BATCHES)
        .or(200);
    let (converters, batches) = (converters?, batches?);
    if converters * batches > MOST {
        let message = format!("{batches} batches of {converters} converters are too many");
        table.report_at(None, message, &format!("expected {MOST} converters in all at most"));
        return None;
    }
    table.finish();
    Some(LotSettings { converters, batches })
}
