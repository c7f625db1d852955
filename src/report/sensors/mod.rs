//! What `sensors` says and writes: terminal, page, summary, and the words that they share.
//!
//! Numbers, names and the page's frame that other verbs use too live in `report::format`; what is
//! computed lives in `study::sensors`.

mod json;
mod page;
mod terminal;
mod words;

use crate::report::format::Report;
use crate::scenario::{Scenario, SensorRequest};
use crate::study::sensors::SensorStudy;

/// What `sensors` shows and writes.
pub fn report(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Report {
    Report {
        text: terminal::text(scenario, request, study),
        summary: json::summary(scenario, request, study),
        files: vec![("report.html", page::page(scenario, request, study))],
    }
}
