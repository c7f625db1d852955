//! The page of `capacitors`: a section a question, the answers first.

use maud::{Markup, html};

use super::{brief, drift, settling, size, start_up};
use crate::report::format::numbers::samples;
use crate::report::format::page::parts::section;
use crate::report::format::page::{assumed, briefed_document, generator, prose};
use crate::report::format::switching;
use crate::report::format::tolerance::measured_parts_alone;
use crate::report::format::{command, names};
use crate::scenario::Scenario;
use crate::study::capacitors::CapacitorStudy;

/// The whole page.
pub(super) fn page(scenario: &Scenario, study: &CapacitorStudy) -> String {
    let settings = &study.settings;
    let fields = [
        scenario.source_name.clone(),
        generator(),
        format!("{} a size", samples(settings.samples)),
        format!("seed {}", settings.seed),
        format!("{} solver", names::method(settings.method).long),
    ];
    let sections = sections(scenario, study);
    let inside = html! { @for s in &sections { (section(s.id, s.heading, &s.inside)) } };
    let sheet = brief::sheet(scenario, study);
    briefed_document("Flying capacitors", &scenario.title, &fields, &sheet, inside)
}

/// A section of the page.
struct PageSection {
    id: &'static str,
    heading: &'static str,
    inside: Markup,
}

fn sections(scenario: &Scenario, study: &CapacitorStudy) -> Vec<PageSection> {
    let sections = [
        ("size", "How large?", size_and_shift(scenario, study)),
        ("sizes", "Every size", size::page::sizes(&study.size)),
        (
            "settling",
            "How fast do they settle?",
            settling::page::section(scenario, &study.settling),
        ),
        ("drift", "How far do they drift?", drift::page::section(scenario, &study.drift)),
        ("start-up", "Which start?", start_up::page::section(&study.start_up, &study.drift)),
        ("assumed", "Parts as assumed", assumed::assumed(scenario)),
        ("methods", "Methods", methods(scenario, study)),
        ("validity", "Assumptions and limits of validity", prose::model(scenario, &study.drives)),
        ("cautions", "Cautions", prose::cautions()),
        ("reproduce", "Making it again", reproduce(scenario, study)),
    ];
    sections.map(|(id, heading, inside)| PageSection { id, heading, inside }).into()
}

/// The size, what it holds for, and by how much the dead time shifts sharing.
fn size_and_shift(scenario: &Scenario, study: &CapacitorStudy) -> Markup {
    let alone = measured_parts_alone(scenario.tolerances.iter().map(|(_, own)| own));
    html! {
        @if let Some(alone) = alone { p class="notice" { (alone) } }
        @if let Some(shift) = &study.sharing_shift {
            p class="notice" { (switching::shift_beside_limit(scenario, shift)) }
        }
        (size::page::answer(scenario, &study.size))
    }
}

fn methods(scenario: &Scenario, study: &CapacitorStudy) -> Markup {
    html! {
        (size::page::methods(scenario, study))
        dl { (settling::page::methods()) (drift::page::methods()) (start_up::page::methods(&study.start_up)) }
    }
}

fn reproduce(scenario: &Scenario, study: &CapacitorStudy) -> Markup {
    html! {
        p { "In the folder of the scenario:" }
        pre { code { (command::capacitors(scenario, &study.settings, study.start_up.method)) } }
        p {
            "Files beside this page: " code { "summary.json" } " (every figure) and "
            code { "capacitors.csv" } " (one row per size, operating point and capacitor)."
        }
    }
}
