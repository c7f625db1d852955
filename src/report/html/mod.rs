//! `report.html`: one page that opens offline, needs no script and prints.
//!
//! It shows a run and computes nothing but places and digits. It holds no date and no number of
//! threads, so that the same run gives the same bytes.

mod appendix;
mod bands;
mod choice;
mod command;
mod gain;
mod gain_curves;
mod grades;
mod overview;
mod parts;
mod prose;
mod sensors;
mod sharing;
mod switches;
mod units;
mod verdict;
mod words;

use maud::{DOCTYPE, Markup, PreEscaped, html};

pub use self::bands::bands_page;
pub use self::gain::gain_page;
pub use self::grades::grades_page;
use self::parts::{Point, section};
pub use self::sensors::sensors_page;
pub use self::units::units_page;
use super::svg;
use crate::scenario::Scenario;
use crate::study::run::Run;

const STYLE: &str = include_str!("style.css");

/// Sections that stand before and after those of the operating points: identifier and heading.
const BEFORE: [(&str, &str); 3] =
    [("verdict", "Verdict"), ("overview", "Operating points"), ("basis", "Basis of comparison")];
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
pub fn page(scenario: &Scenario, run: &Run) -> String {
    let points = Point::all(run);
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("samples", words::count(run.settings.samples)),
        ("seed", run.settings.seed.to_string()),
        ("solver", words::method(run.settings.method).to_owned()),
    ];
    let inside = html! {
        (contents(&points))
        main {
            @for (id, heading) in BEFORE { (section(id, heading, &inside(id, scenario, run))) }
            @for point in &points { (point_section(scenario, run, point)) }
            @for (id, heading) in AFTER { (section(id, heading, &inside(id, scenario, run))) }
        }
    };
    document(SHARING, &scenario.title, &fields, &inside)
}

/// What pages of `run` and `units` are about.
const SHARING: &str = "Current sharing";

/// A page with its head, its title block and what stands below it; `kind` says what it is about.
fn document(kind: &str, title: &str, fields: &[(&str, String)], inside: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content=(generator());
                title { (title) " – " (kind.to_lowercase()) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (svg::patterns())
                (header(kind, title, fields))
                (inside)
                footer { p { (generator()) ". Results of a model; measure before you trust." } }
            }
        }
    };
    page.into_string()
}

fn generator() -> String {
    format!("fairphase {}", env!("CARGO_PKG_VERSION"))
}

fn inside(id: &str, scenario: &Scenario, run: &Run) -> Markup {
    match id {
        "verdict" => verdict::verdict(scenario, run),
        "overview" => overview::overview(scenario, run),
        "basis" => prose::basis(scenario),
        "solvers" => appendix::solvers(run),
        "worst" => appendix::worst(scenario, run),
        "assumed" => appendix::assumed(scenario),
        "methods" => prose::methods(scenario),
        "validity" => prose::validity(scenario, run),
        "cautions" => prose::cautions(),
        _ => prose::reproduce(scenario, run),
    }
}

/// The title, and what the results stand on in a block like that of a drawing.
fn header(kind: &str, title: &str, fields: &[(&str, String)]) -> Markup {
    html! {
        header {
            div {
                p class="kind" { (kind) " of an interleaved LLC converter" }
                h1 { (title) }
            }
            dl class="block" {
                @for (n, (name, value)) in fields.iter().enumerate() {
                    div class=[(n < 2).then_some("wide")] { dt { (name) } dd { (value) } }
                }
            }
        }
    }
}

fn contents(points: &[Point]) -> Markup {
    let link = |id: &str, text: &str| html! { li { a href=(format!("#{id}")) { (text) } } };
    html! {
        nav aria-label="Contents" {
            ol {
                @for (id, heading) in BEFORE { (link(id, heading)) }
                @for point in points { (link(&point.id(), point.name())) }
                @for (id, heading) in AFTER { (link(id, heading)) }
            }
        }
    }
}

fn point_section(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let asked = &point.chain().baseline.case.point;
    let inside = html! {
        p class="lead" {
            (words::quantity(asked.input_voltage)) " in, "
            (words::quantity(asked.output_voltage)) " and "
            (words::quantity(asked.output_current)) " out; "
            (asked.drive.name().replace('-', " ")) " drive, "
            (words::rectifier(asked.rectifier)) " rectifier."
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
        (switches::totals(run, point))
    };
    section(&point.id(), point.name(), &inside)
}

#[cfg(test)]
mod tests;
