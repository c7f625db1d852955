//! The page of `sensors`: one sheet for a design review, the answer first.

mod assumptions;
mod figures;
mod table;

use maud::{Markup, html};

use super::words as told;
use crate::report::format::command;
use crate::report::format::page::parts as verdict;
use crate::report::format::page::parts::section;
use crate::report::format::page::{document, generator};
use crate::report::format::terminal;
use crate::report::format::words;
use crate::scenario::{Scenario, SensorRequest};
use crate::solver::Method;
use crate::study::sensors::SensorStudy;

/// The page.
pub(super) fn page(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("samples", words::count(study.samples)),
        ("seed", study.settings.seed.to_string()),
        ("solver", words::method(study.settings.method).to_owned()),
    ];
    let inside = html! {
        main class="review" {
            (section("verdict", "Can the current sensors go?", &answer(scenario, request, study)))
            (section("flips", "What would turn it over", &sensitivity(scenario, study)))
            (section("variants", "The four variants", &variants(scenario, study)))
            (section("assumed", "Assumptions", &assumptions::assumptions(scenario, request)))
            (section("cautions", "Cautions", &cautions()))
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
                strong { "A quick look only." } " The averaged solver flatters the sharing error; \
                a design review wants the exact one."
            }
        }
        @for warning in told::warnings(scenario, request, study) {
            p class="notice" { (terminal::joined(&warning)) }
        }
        article class=(format!("card chain {}", verdict::verdict_class(mark))) {
            p class="word" {
                (verdict::verdict_sign(mark)) span { (terminal::joined(&told::answer(scenario, study))) }
            }
            (list(told::findings(scenario, study)))
        }
    }
}

fn list(lines: Vec<String>) -> Markup {
    html! { ul class="findings" { @for line in lines { li { (terminal::joined(&line)) } } } }
}

fn sensitivity(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let found = told::sensitivity(scenario, study);
    html! {
        @if !found.would.is_empty() { (list(found.would)) }
        @if let Some(would_not) = found.would_not { p { (terminal::joined(&would_not)) } }
        p class="remark" { (told::meaning(scenario)) }
    }
}
fn variants(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        (table::table(scenario, study))
        (figures::figures(scenario, study))
    }
}

/// Those of [`prose`](prose), short enough for one sheet.
fn cautions() -> Markup {
    html! {
        p {
            strong { "High voltage can kill." } " Flying and resonant capacitors stay charged after \
             switch-off: discharge them and measure before touching anything. "
            strong { "A wrong rating can burn." } " The figures hold no margins for what the model \
             leaves out, faults, start-up and temperature among them. They defer to the applicable \
             standards, to local codes and to the judgement of qualified engineers, and do not \
             replace measurements on hardware."
        }
    }
}

fn reproduce(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        p {
            code { (command::sensors(scenario, study.settings)) }
            " in the folder of the scenario; every figure is in " code { "summary.json" } "."
        }
    }
}
