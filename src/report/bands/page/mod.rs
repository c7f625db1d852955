//! The page of a search for tolerance bands: one file a section.

mod answer;
mod assumptions;
mod cheapest;
mod comparison;
mod each_part;
mod methods;
mod orderable;
mod runs;
mod trade_off;

use maud::{Markup, html};

use super::brief;
use super::words::excluded;
use crate::converter::Arrangement;
use crate::report::format::names;
use crate::report::format::numbers::samples;
use crate::report::format::page::assumed;
use crate::report::format::page::parts::section;
use crate::report::format::page::prose;
use crate::report::format::page::{briefed_document, generator};
use crate::scenario::Scenario;
use crate::study::bands::Bands;

/// Heading of the map.
const TRADE_OFF: &str = "Trade-off between two bands";

/// The whole page: the brief, then the evidence, then methods and cautions.
pub(super) fn page(scenario: &Scenario, bands: &Bands) -> String {
    let settings = &bands.settings;
    let fields = [
        scenario.source_name.clone(),
        generator(),
        format!("{} a run", samples(settings.samples)),
        format!("seed {}", settings.seed),
        format!("{} solver", names::method(settings.method).long),
    ];
    let sections = sections(scenario, bands);
    let inside = html! { @for s in &sections { (section(s.id, s.heading, &s.inside)) } };
    let brief = brief::sheet(scenario, bands);
    briefed_document("Tolerance bands", &scenario.title, &fields, &brief, inside)
}

struct Section {
    id: &'static str,
    heading: &'static str,
    inside: Markup,
}

fn new(id: &'static str, heading: &'static str, inside: Markup) -> Section {
    Section { id, heading, inside }
}

fn sections(scenario: &Scenario, bands: &Bands) -> Vec<Section> {
    let mut sections = vec![new("verdict", "Answer in full", answer::answer(scenario, bands))];
    if let Some(found) = &bands.orderable {
        let inside = orderable::orderable(found, bands);
        sections.push(new("order", "Bands to order", inside));
    }
    for part in bands.parts.iter().filter(|part| !part.rows.is_empty()) {
        let (id, heading) = match part.arrangement {
            Arrangement::Chain => ("chain", "Each part alone"),
            Arrangement::Paralleled => ("paralleled", "Each part alone, paralleled"),
        };
        sections.push(new(id, heading, each_part::each_part(part, bands)));
    }
    if let Some(found) = &bands.cheapest {
        sections.push(new("cheapest", "Cheapest set", cheapest::cheapest(found, bands)));
    }
    if let Some(map) = &bands.map {
        sections.push(new("trade-off", TRADE_OFF, trade_off::trade_off(map, bands)));
    }
    if let Some(found) = &bands.excluded_pair {
        let inside = html! { p class="lead" { (excluded::no_pair(found)) } };
        sections.push(new("trade-off", TRADE_OFF, inside));
    }
    if let Some(inside) = assumptions::assumptions(bands) {
        sections.push(new("what-if", "What if an assumption is wrong", inside));
    }
    sections.extend([
        new("basis", "Basis of comparison", prose::basis(scenario)),
        new("assumed", "Parts as assumed", assumed::assumed(scenario)),
        new("methods", "Methods", methods::methods(bands)),
        new("runs", "Verification runs", runs::runs(bands)),
        new("validity", "Assumptions and limits of validity", methods::validity(scenario, bands)),
        new("cautions", "Cautions", prose::cautions()),
        new("reproduce", "Making it again", methods::reproduce(scenario, bands)),
    ]);
    sections
}
