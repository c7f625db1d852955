//! What the verbs' outputs share: numbers and names, tolerances, the page's frame and style, figures,
//! the envelope of summaries, CSV and Parquet, and the output folder.
//!
//! Nothing here knows of one verb, and nothing here computes results: what a verb says lives in its
//! folder of `report`, what it finds lives in `study`.

pub(in crate::report) mod blocks;
pub(in crate::report) mod command;
pub(in crate::report) mod commutation;
pub(in crate::report) mod conditions;
pub(in crate::report) mod configuration;
pub(in crate::report) mod csv;
pub mod extracts;
pub(in crate::report) mod faults;
pub(in crate::report) mod figures;
pub mod folder;
pub mod json;
pub mod missed;
pub(in crate::report) mod names;
pub mod numbers;
pub(in crate::report) mod page;
pub(in crate::report) mod parquet;
pub(in crate::report) mod parquet_read;
pub(in crate::report) mod part_loads;
pub(in crate::report) mod premises;
pub(in crate::report) mod ratings;
pub mod screen;
pub mod summary;
pub(in crate::report) mod switching;
pub(in crate::report) mod terminal;
pub(in crate::report) mod tolerance;
pub(in crate::report) mod waveforms;
pub(in crate::report) mod what_if;

use self::screen::Screen;
use self::summary::SummaryText;

/// What a verb shows and writes.
#[derive(Debug)]
pub struct Report {
    /// For the terminal.
    pub screen: Screen,
    /// `summary.json`.
    pub summary: SummaryText,
    /// Names and contents of the other text files.
    pub files: Vec<(&'static str, String)>,
}

impl Report {
    /// The page; empty where the verb has none.
    pub fn page(&self) -> &str {
        let page = self.files.iter().find(|(name, _)| *name == "report.html");
        page.map_or("", |(_, page)| page)
    }
}
