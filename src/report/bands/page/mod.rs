//! The page of a search for tolerance bands.

mod answer;
mod cheapest;
mod methods;
mod trade;
mod widest;

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::page::assumed;
use crate::report::format::page::parts::section;
use crate::report::format::page::prose;
use crate::report::format::page::{document, generator};
use crate::report::format::words;
use crate::scenario::Scenario;
use crate::study::bands::Bands;
use crate::study::bands::verification::Verification;

/// The whole page.
pub(super) fn page(scenario: &Scenario, bands: &Bands) -> String {
    let settings = &bands.settings;
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("samples a trial", words::count(settings.samples)),
        ("search seed", settings.seed.to_string()),
        ("solver", words::method(settings.method).to_owned()),
    ];
    let sections = sections(scenario, bands);
    let inside = html! {
        nav aria-label="Contents" {
            ol { @for (id, heading, _) in &sections { li { a href=(format!("#{id}")) { (heading) } } } }
        }
        main { @for (id, heading, inside) in &sections { (section(id, heading, inside)) } }
    };
    document("Tolerance bands", &scenario.title, &fields, &inside)
}

type Section = (&'static str, &'static str, Markup);

fn sections(scenario: &Scenario, bands: &Bands) -> Vec<Section> {
    let mut sections = vec![("verdict", "The answer", answer::answer(bands))];
    for part in bands.parts.iter().filter(|part| !part.rows.is_empty()) {
        let (id, heading) = match part.arrangement {
            Arrangement::Chain => ("chain", "Each part alone"),
            Arrangement::Paralleled => ("paralleled", "Each part alone, paralleled"),
        };
        sections.push((id, heading, widest::widest(part, bands)));
    }
    if let Some(found) = &bands.cheapest {
        sections.push(("cheapest", "Cheapest set", cheapest::cheapest(found)));
    }
    if let Some(map) = &bands.map {
        sections.push(("trade", "Trade between two bands", trade::trade(map, bands)));
    }
    sections.extend([
        ("basis", "Basis of comparison", prose::basis(scenario)),
        ("assumed", "Parts as assumed", assumed::assumed(scenario)),
        ("methods", "Methods", methods::methods(bands)),
        ("validity", "Assumptions and limits of validity", methods::validity(scenario, bands)),
        ("cautions", "Cautions", prose::cautions()),
        ("reproduce", "Making it again", methods::reproduce(scenario, bands)),
    ]);
    sections
}

/// Both ends of the interval of a look.
fn bounds(verification: &Verification) -> String {
    let [lower, upper] =
        [verification.good.lower, verification.good.upper].map(words::yield_percent);
    format!("{lower} to {upper}")
}
