//! The page of `faults`: the matrix first, then what the rest carries.

mod brief;
mod table;

use maud::{Markup, html};

use super::words;
use crate::report::format::command;
use crate::report::format::faults::matrix;
use crate::report::format::names;
use crate::report::format::numbers;
use crate::report::format::page::parts::section;
use crate::report::format::page::{briefed_document, generator, prose};
use crate::report::format::premises;
use crate::scenario::Scenario;
use crate::study::faults::FaultStudy;

const SECTIONS: [(&str, &str); 8] = [
    ("matrix", "What happens"),
    ("rest", "What the rest carries"),
    ("signs", "What shows first"),
    ("laws", "Why"),
    ("unknown", "What stays unknown"),
    ("methods", "Methods"),
    ("cautions", "Cautions"),
    ("reproduce", "Making it again"),
];

/// The whole page.
pub(super) fn page(scenario: &Scenario, study: &FaultStudy) -> String {
    let settings = &study.settings;
    let fields = [
        scenario.source_name.clone(),
        generator(),
        numbers::samples(settings.samples),
        format!("seed {}", settings.seed),
        format!("{} solver", names::method(settings.method).long),
    ];
    let inside = html! {
        @for (id, heading) in SECTIONS { (section(id, heading, &inside(id, scenario, study))) }
    };
    let sheet = brief::sheet(scenario, study);
    briefed_document("Single faults", &scenario.title, &fields, &sheet, inside)
}

fn inside(id: &str, scenario: &Scenario, study: &FaultStudy) -> Markup {
    match id {
        "matrix" => matrices(study),
        "rest" => table::loads(scenario, study),
        "signs" => table::signs(study),
        "laws" => list(&words::LAWS),
        "unknown" => list(&words::UNKNOWN),
        "methods" => methods(scenario, study),
        "cautions" => html! { (list(&words::DANGER)) (prose::cautions()) },
        _ => reproduce(scenario, study),
    }
}

fn list(sentences: &[&str]) -> Markup {
    html! { ul { @for sentence in sentences { li { (sentence) } } } }
}

fn matrices(study: &FaultStudy) -> Markup {
    html! {
        p class="caution" { strong { (words::DANGER[0]) } }
        (matrix::matrices(study))
        (matrix::key(study))
    }
}

fn methods(scenario: &Scenario, study: &FaultStudy) -> Markup {
    html! {
        p {
            "Each fault is a steady state of the nominal converter, by the exact solver, with the equation \
             that replaces charge balance. A slow controller sets the frequency, and body diodes of "
            (numbers::quantity(scenario.faults.body_diode_drop)) " clamp the chain. Frequency and currents \
             are those at the highest frequency that delivers the output."
        }
        p {
            "The sharing error that is judged is that of the phases that carry current. A blocking voltage \
             counts at the highest value that the history of the legs allows. Where the nominal converter \
             runs, drawn converters with the same fault tell the yield of what remains. Samples that are \
             out of range or not solved count as failures. All faults are tried on the same samples. Each \
             interval is Clopper–Pearson at its own confidence level."
            @if is_measured(study) {
                " Measured parts are a sample of their production. The intervals of yields allow for that, as \
                 in " code { "run" } "."
            }
        }
        p {
            "With a dead low gate, two neighbouring phases return their currents through each other. Their \
             currents are taken to be those before the fault. By time integration, tanks that are 5 to 10 % \
             apart change them by 3 % at most, and some others by 7 %. So a limit on sharing is not judged there."
        }
        p {
            "With one damaged leg of a full bridge and few phases fed, the ripple of the sound leg decides \
             how phases share. Frequencies then agree with time integration within 1 %, and currents within \
             2 % of their mean. Of two phases a tenth is off by more than 5 %: a tenth of a volt decides so \
             much. Resistances count at the temperatures that are given."
        }
        p {
            "With one dead leg of a full bridge the other one is solved as a half bridge, whose currents are \
             right within some 5 %."
        }
        @if let Some(limits) = words::limits_not_judged(scenario) { p { (words::not_judged(&limits)) } }
        @for exact in premises::exact_sentences(scenario) { p { (exact) } }
    }
}

fn is_measured(study: &FaultStudy) -> bool {
    let mut yields = study.results.iter().filter_map(|own| own.remaining_yield.as_ref());
    yields.any(|own| own.good_of_measured_parts.is_some())
}

fn reproduce(scenario: &Scenario, study: &FaultStudy) -> Markup {
    html! {
        p { "In the folder of the scenario:" }
        pre { code { (command::faults(scenario, study.settings)) } }
        p {
            "Files beside this page: " code { "summary.json" } " (every figure) and "
            code { "faults.csv" } " (one row a fault and phase, with all places and both legs)."
        }
    }
}
