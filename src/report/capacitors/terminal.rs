//! What `capacitors` found, on the terminal: the answers first, then a table a question.

use super::{drift, settling, size, start_up};
use crate::report::format::numbers::{count, quantity, without_needless_zeros};
use crate::report::format::screen::{Blocks, NextQuestion, Screen, quick_look};
use crate::report::format::{premises, switching, tolerance};
use crate::scenario::Scenario;
use crate::study::capacitors::CapacitorStudy;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, study: &CapacitorStudy) -> Screen {
    let settings = &study.settings;
    let basis = format!(
        "{} samples of each size, seed {}, {} solver, {} phases",
        count(settings.samples),
        settings.seed,
        settings.method.name(),
        scenario.phases
    );
    let tolerances = scenario.tolerances.iter().map(|(_, own)| own);
    let alone = tolerance::measured_parts_alone(tolerances);
    let before = quick_look(settings.method).to_owned() + &premises::text(scenario, None);
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: before + &alone.map_or_else(String::new, |alone| alone + "\n\n"),
        answer: size::terminal::answer(scenario, &study.size)
            + &switching::shift_line(scenario, study.sharing_shift.as_ref())
            + &basis,
        figure: size::terminal::figure(scenario, &study.size),
        notes: notes(scenario, study),
    };
    let next = NextQuestion::verb("faults", "what is left when one part fails?");
    blocks.screen(&tables(scenario, study), next)
}

/// How the capacitors settle, drift and start, in their first sentences.
fn notes(scenario: &Scenario, study: &CapacitorStudy) -> String {
    let own = without_needless_zeros(&quantity(scenario.flying_capacitance));
    [
        format!("Settling, drift and start, with the scenario’s {own}:"),
        settling::terminal::first(&study.settling),
        drift::terminal::first(scenario, &study.drift),
        start_up::terminal::first(&study.start_up, &study.drift),
        premises::exact_text(scenario, None),
    ]
    .join("\n")
}

fn tables(scenario: &Scenario, study: &CapacitorStudy) -> String {
    [
        size::terminal::text(scenario, &study.size),
        settling::terminal::text(scenario, &study.settling),
        drift::terminal::text(scenario, &study.drift),
        start_up::terminal::text(&study.start_up, &study.drift),
    ]
    .join("\n")
}
