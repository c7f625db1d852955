//! What `capacitors` found, on the terminal: the answers first, then a table a question.

use super::{drift, settling, size, start_up};
use crate::report::format::numbers::count;
use crate::report::format::terminal::{CAUTION, QUICK_LOOK, folded};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::capacitors::CapacitorStudy;

/// All parts.
pub(super) fn text(scenario: &Scenario, study: &CapacitorStudy) -> String {
    let settings = &study.settings;
    let mut text = format!(
        "{}\n{} samples of each size, seed {}, {} solver, {} phases\n\n",
        scenario.title,
        count(settings.samples),
        settings.seed,
        settings.method.name(),
        scenario.phases
    );
    if settings.method == Method::Averaged {
        text += QUICK_LOOK;
    }
    text += &size::terminal::text(scenario, &study.size);
    text.push('\n');
    text += &settling::terminal::text(scenario, &study.settling);
    text.push('\n');
    text += &drift::terminal::text(scenario, &study.drift);
    text.push('\n');
    text += &start_up::terminal::text(&study.start_up);
    text.push('\n');
    text += CAUTION;
    folded(&text)
}
