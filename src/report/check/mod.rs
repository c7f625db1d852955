//! The nominal converter: its design table and summary.

mod json;
mod terminal;

use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::nominal::Baseline;

/// What `check` shows; it writes no files.
pub fn report(scenario: &Scenario, method: Method, baselines: &[Baseline]) -> Report {
    Report {
        text: terminal::text(scenario, baselines),
        summary: json::summary(scenario, method, baselines),
        files: Vec::new(),
    }
}
