//! The page of a run. It shows the run and computes nothing but places and digits.

mod appendix;
mod losses;
mod other_limits;
mod overview;
mod parts;
mod prose;
mod sharing;
mod single_converters;
mod switches;
mod verdict;
mod waveforms;

use maud::{Markup, html};

use self::parts::Point;
use crate::report::format::page::parts::section;
use crate::report::format::page::{
    SHARING, assumed, briefed_document, generator, prose as standing,
};
use crate::report::format::ratings::page as ratings;
use crate::report::format::switching::page as switching;
use crate::report::format::{names, numbers};
use crate::report::run::brief::{self, BriefedRun};
use crate::report::run::explanation::page::{self as explanation_page, ExplainedRun};
use crate::report::run::worst_case::page as worst_case;
use crate::scenario::Scenario;
use crate::study::explanation::Explanation;
use crate::study::run::Run;

/// Sections that stand before and after those of the operating points: identifier and heading.
const BEFORE: [(&str, &str); 4] = [
    ("verdict", "Verdict in full"),
    ("overview", "Operating points"),
    ("ratings", "What to order"),
    ("basis", "Basis of comparison"),
];

/// The sections that answer what else one asks: of other limits, of single converters.
const OTHER_LIMITS: (&str, &str) = ("other-limits", "Were the limit another one");
const CONVERTERS: (&str, &str) = ("converters", "Converters one by one");

/// The section that shows why the phases share.
const WAVEFORMS: &str = "Why they share";

/// Sections that explain the run, where it is explained: before those of [`AFTER`].
const EXPLAINED: [(&str, &str); 3] = [
    ("drivers", "What drives it"),
    ("worst-case", "Worst case"),
    ("what-if", "What if an assumption is wrong"),
];

const AFTER: [(&str, &str); 7] = [
    ("solvers", "Exact against averaged"),
    ("worst", "Worst converters"),
    ("assumed", "Parts as assumed"),
    ("methods", "Methods"),
    ("validity", "Assumptions and limits of validity"),
    ("cautions", "Cautions"),
    ("reproduce", "Making it again"),
];

/// The whole page of a run.
pub(super) fn page(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> String {
    let shown = BriefedRun { scenario, run, explanation };
    let points = Point::all(run);
    let fields = [
        scenario.source_name.clone(),
        generator(),
        numbers::samples(run.settings.samples),
        run.source.to_string(),
        format!("{} solver", names::method(run.settings.method).long),
    ];
    let inside = html! {
        (section(OTHER_LIMITS.0, OTHER_LIMITS.1, &other_limits::section(scenario, run)))
        @if let Some(drawn) = &run.drawn {
            (section(CONVERTERS.0, CONVERTERS.1, &single_converters::section(scenario, run, drawn)))
        }
        @if let Some(own) = &run.waveforms { (section("waveforms", WAVEFORMS, &waveforms::section(own))) }
        @for (id, heading) in BEFORE { (section(id, heading, &inside(id, &shown))) }
        @for point in &points { (point_section(scenario, run, point)) }
        @if let Some((id, heading)) = switching_section(scenario) {
            @let search = explanation.and_then(|explanation| explanation.switching.as_ref());
            (section(id, heading, &switching::inside(scenario, run.switching.as_ref(), search)))
        }
        @if let Some(explanation) = explanation {
            @for (id, heading) in EXPLAINED {
                (section(id, heading, &explained(id, scenario, &ExplainedRun { run, explanation })))
            }
        }
        @for (id, heading) in AFTER { (section(id, heading, &inside(id, &shown))) }
    };
    briefed_document(SHARING, &scenario.title, &fields, &brief::sheet(&shown), inside)
}

fn explained(id: &str, scenario: &Scenario, shown: &ExplainedRun) -> Markup {
    match id {
        "worst-case" => worst_case::section(scenario, shown.run, shown.explanation),
        _ => explanation_page::inside(id, shown),
    }
}

fn inside(id: &str, shown: &BriefedRun) -> Markup {
    let BriefedRun { scenario, run, explanation } = *shown;
    match id {
        "verdict" => verdict::verdict(scenario, run, explanation),
        "overview" => overview::overview(scenario, run),
        "ratings" => ratings::section(scenario, &run.ratings, "ratings.csv"),
        "basis" => standing::basis(scenario),
        "solvers" => appendix::solvers(run),
        "worst" => appendix::worst(scenario, run),
        "assumed" => assumed::assumed(scenario),
        "methods" => prose::methods(scenario, run),
        "validity" => prose::validity(scenario, run),
        "cautions" => standing::cautions(),
        _ => prose::reproduce(scenario, run, explanation),
    }
}

/// Identifier and heading of the section on soft switching, where the scenario describes the switches.
fn switching_section(scenario: &Scenario) -> Option<(&'static str, &'static str)> {
    scenario.switch.map(|_| ("switching", "Soft switching"))
}

fn point_section(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let asked = &point.chain().baseline.case.point;
    let inside = html! {
        p class="lead" {
            (numbers::quantity(asked.input_voltage)) " in, "
            (numbers::quantity(asked.output_voltage)) " and "
            (numbers::quantity(asked.output_current)) " out; "
            (names::drive(asked.drive).long) " drive, "
            (names::rectifier(asked.rectifier).long) " rectifier."
        }
        h3 { "Sharing" }
        (sharing::error(scenario, run, point))
        (sharing::all_errors(scenario, run, point))
        h3 { "Currents of phases and switches" }
        div class="figures" {
            (sharing::phases(scenario, run, point))
            (switches::currents(scenario, run, point))
        }
        (sharing::phase_table(scenario, run, point))
        (switches::remark(scenario, run, point))
        (switches::current_table(scenario, run, point))
        h3 { "Voltages, stress and loss" }
        (switches::voltages(scenario, run, point))
        (switches::totals(scenario, run, point))
        (losses::section(run, point))
    };
    section(&point.id(), point.name(), &inside)
}

#[cfg(test)]
mod tests;
