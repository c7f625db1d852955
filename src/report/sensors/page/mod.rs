//! The page of `sensors`: one sheet for a design review, the answer first.

mod assumptions;
mod figures;
mod table;

use maud::{Markup, html};

use super::words as told;
use crate::report::format::command;
use crate::report::format::names;
use crate::report::format::numbers::count;
use crate::report::format::page::parts::{section, verdict_class, verdict_sign};
use crate::report::format::page::{document, generator};
use crate::scenario::{Scenario, SensorRequest};
use crate::solver::Method;
use crate::study::sensors::SensorStudy;

/// The whole page.
pub(super) fn page(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("samples", count(study.samples)),
        ("seed", study.settings.seed.to_string()),
        ("solver", names::method(study.settings.method).long.to_owned()),
    ];
    let assumptions = assumptions::assumptions(scenario, request, study);
    let inside = html! {
        main class="review" {
            (section("verdict", "Can the current sensors go?", &answer(scenario, request, study)))
            (section("changes", "What would change this answer", &sensitivity(scenario, study)))
            (section("variants", "The four variants", &variants(scenario, study)))
            (section("assumed", "Assumptions and methods", &assumptions))
            (section("cautions", "Cautions", &cautions(scenario)))
            (section("reproduce", "Making it again", &reproduce(scenario, study)))
        }
    };
    document("Current sensors", &scenario.title, &fields, &inside)
}

fn answer(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Markup {
    let mark = told::mark(study);
    html! {
        @if let Some(missing) = told::unfinished(study) { p class="notice" { strong { (missing) } } }
        @if study.settings.method == Method::Averaged {
            p class="notice" {
                strong { "Averaged solver." } " It understates the sharing error. Decide with the \
                 exact solver."
            }
        }
        @for warning in told::warnings(scenario, request, study) {
            p class="notice" { (warning) }
        }
        article class=(format!("card chain {}", verdict_class(mark))) {
            p class="word" { (verdict_sign(mark)) span { (told::answer(scenario, study)) } }
            (list(&told::findings(scenario, study)))
        }
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
        (table::table(scenario, study))
        (figures::figures(scenario, study))
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
