//! The page of `grades`: the brief, then how certain the ranking is, what one grade changes, and all
//! sets.

mod allocation;
mod decision;
mod differences;
mod front;
mod notes;
mod offers;
mod ranking;
mod sets;
mod steps;

use maud::{Markup, html};

use crate::converter::Drive;
use crate::report::format::numbers::samples;
use crate::report::format::page::parts::section;
use crate::report::format::page::prose;
use crate::report::format::page::{briefed_document, generator};
use crate::report::format::{command, names};
use crate::report::grades::allotted_stock::AllottedStock;
use crate::report::grades::brief;
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::set_count;
use crate::scenario::{Grades, Scenario};
use crate::study::allocation::StockAllocation;
use crate::study::grades::Ranking;

/// A section with its anchor and heading.
struct PageSection {
    id: &'static str,
    heading: &'static str,
    inside: Markup,
}

/// The whole page.
pub(super) fn page(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let subject = GradesSubject { scenario, grades, ranking, stocked };
    let fields = [
        scenario.source_name.clone(),
        generator(),
        set_count(ranking.sets.len()),
        samples(ranking.sets[0].good.trials),
        ranking.verification.with_stream(0).to_string(),
        format!("{} solver", names::method(ranking.settings.method).long),
    ];
    let inside = all(&sections(subject));
    briefed_document("Part grades", &scenario.title, &fields, &brief::sheet(subject), inside)
}

fn all(sections: &[PageSection]) -> Markup {
    html! {
        @for PageSection { id, heading, inside } in sections { (section(id, heading, inside)) }
    }
}

/// The page of a stock that was allotted alone.
pub(super) fn stock_page(subject: AllottedStock) -> String {
    let AllottedStock { scenario, settings, legs, stocked, .. } = subject;
    let section = |id, heading, inside| PageSection { id, heading, inside };
    let again = command::stock_alone(scenario, settings, subject.without_grades, &stocked.stock);
    let again = html! {
        p { "In a folder that holds the scenario and the lists:" }
        pre { code { (again) } }
    };
    let inside = all(&[
        section("allocation", "Measured parts in stock", allocation::allocation(subject)),
        section(
            "validity",
            "Assumptions and limits of validity",
            prose::model(scenario, &[drive(legs)]),
        ),
        section("cautions", "Cautions", prose::cautions()),
        section("reproduce", "Making it again", again),
    ]);
    let fields = [
        scenario.source_name.clone(),
        generator(),
        format!("seed {}", settings.seed),
        format!("{} solver", names::method(settings.method).long),
    ];
    let brief = brief::stock_sheet(subject);
    briefed_document("Measured parts", &scenario.title, &fields, &brief, inside)
}

/// A drive with so many legs.
fn drive(legs: usize) -> Drive {
    if legs > 1 { Drive::FullBridge } else { Drive::HalfBridge }
}

fn sections(subject: GradesSubject) -> Vec<PageSection> {
    let section = |id, heading, inside| PageSection { id, heading, inside };
    let legs = subject.ranking.size.legs;
    let mut sections = vec![
        section("decision", "The answer in full", decision::decision(subject)),
        section("front", "Cost and yield", front::front(subject)),
        section("ranking", "How certain is the ranking", ranking::ranking(subject)),
        section("steps", "Effect of one grade", steps::steps(subject)),
    ];
    if let Some(stocked) = subject.stocked {
        let inside = allocation::allocation(AllottedStock {
            scenario: subject.scenario,
            settings: subject.ranking.settings,
            legs,
            without_grades: false,
            stocked,
        });
        sections.push(section("allocation", "Measured parts in stock", inside));
    }
    sections.extend([
        section("sets", "All sets", sets::in_chain(subject)),
        section("paralleled", "All sets without charge balancing", sets::paralleled(subject)),
        section("offers", "Grades on offer", offers::offers(subject)),
        section("costs", "How costs are counted", notes::costs(subject)),
        section("methods", "Methods", notes::methods(subject)),
        section(
            "validity",
            "Assumptions and limits of validity",
            notes::validity(subject, &[drive(legs)]),
        ),
        section("cautions", "Cautions", prose::cautions()),
        section("reproduce", "Making it again", notes::reproduce(subject)),
    ]);
    sections
}
