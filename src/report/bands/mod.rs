//! Tolerance bands: terminal, page, summary, and the words that they share.

mod json;
mod page;
mod terminal;
mod words;

use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::study::bands::Bands;

/// What `bands` shows and writes.
pub fn report(scenario: &Scenario, bands: &Bands) -> Report {
    Report {
        text: terminal::text(scenario, bands),
        summary: json::summary(scenario, bands),
        files: vec![("report.html", page::page(scenario, bands))],
    }
}
