//! The page of `sensors`.

mod assumptions;
mod figures;
mod parts;
mod table;

use maud::{Markup, html};

use super::brief;
use super::words as told;
use crate::report::format::command;
use crate::report::format::faults::matrix;
use crate::report::format::names;
use crate::report::format::numbers::samples;
use crate::report::format::page::parts::section;
use crate::report::format::page::{briefed_document, generator};
use crate::scenario::{Scenario, SensorRequest};
use crate::study::sensors::SensorStudy;

/// The whole page: the brief, then the evidence, then methods and cautions.
pub(super) fn page(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
    let fields = [
        scenario.source_name.clone(),
        generator(),
        samples(study.samples),
        format!("seed {}", study.settings.seed),
        format!("{} solver", names::method(study.settings.method).long),
    ];
    let assumptions = assumptions::assumptions(scenario, request, study);
    let sections = [
        ("variants", "The four variants", variants(scenario, study)),
        ("changes", "What would change this answer", sensitivity(scenario, study)),
        ("ratings", "What to order", parts::what_to_order(scenario, study)),
        ("switching", "Soft switching", parts::soft_switching(scenario, request, study)),
        ("faults", "When one part fails", faults(study)),
        ("verdict", "All findings", findings(scenario, study)),
        ("assumed", "Assumptions and methods", assumptions),
        ("cautions", "Cautions", cautions(scenario)),
        ("reproduce", "Making it again", reproduce(scenario, study)),
    ];
    let shown = sections.iter().filter(|(id, ..)| *id != "switching" || scenario.switch.is_some());
    let inside = html! {
        @for (id, heading, inside) in shown { (section(id, heading, inside)) }
    };
    let brief = brief::sheet(scenario, request, study);
    briefed_document("Current sensors", &scenario.title, &fields, &brief, inside)
}

fn findings(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        p class="lead" { (told::answer(scenario, study)) }
        (list(&told::findings(scenario, study)))
    }
}

fn list(sentences: &[String]) -> Markup {
    html! { ul class="findings" { @for sentence in sentences { li { (sentence) } } } }
}

fn sensitivity(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let found = told::sensitivity(scenario, study);
    html! {
        @if !found.changes.is_empty() { (list(&found.changes)) }
        @if !found.robustness.is_empty() {
            p { strong { "Robustness." } }
            (list(&found.robustness))
        }
        @if found.changes.is_empty() && found.robustness.is_empty() { p { "Nothing was found." } }
    }
}

fn variants(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        (figures::figures(scenario, study))
        (table::table(scenario, study))
    }
}

fn faults(study: &SensorStudy) -> Markup {
    html! {
        p {
            "The nominal converter without sensors, one failed part at a time. "
            code { "fairphase faults" } " tells more: what the other parts carry and block, what shows first, \
             and the yield of what remains."
        }
        (matrix::matrices(&study.faults))
        (matrix::key(&study.faults))
    }
}

/// Those of `format::page::prose`, short enough for one sheet.
fn cautions(scenario: &Scenario) -> Markup {
    html! {
        p { strong { "Single faults." } @for sentence in told::single_faults(scenario) { " " (sentence) } }
        p {
            strong { "High voltage can kill." } " Flying and resonant capacitors stay charged after \
             switch-off: discharge them and measure before touching anything. "
            strong { "A wrong rating can burn." } " The figures hold no margins for what the model \
             leaves out: faults, start-up, temperature. They defer to the applicable standards, to \
             local codes and to qualified engineers. They do not replace measurements on hardware."
        }
    }
}

fn reproduce(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        p {
            code { (command::sensors(scenario, study.settings)) }
            " in the folder of the scenario. Every figure is in " code { "summary.json" } "."
        }
    }
}
