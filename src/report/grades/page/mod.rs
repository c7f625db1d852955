//! The page of the comparison of part grades.

mod decision;
mod notes;
mod pairing;
mod tables;

use maud::{Markup, html};

use crate::converter::Drive;
use crate::report::format::page::parts::section;
use crate::report::format::page::prose;
use crate::report::format::page::{document, generator};
use crate::report::format::words;
use crate::scenario::{Grades, Scenario};
use crate::study::allocation::StockAllocation;
use crate::study::grades::Ranking;

/// What the sections are made from.
#[derive(Debug, Clone, Copy)]
struct View<'a> {
    scenario: &'a Scenario,
    grades: &'a Grades,
    ranking: &'a Ranking,
    stocked: Option<&'a StockAllocation>,
}

/// The whole page: the recommended set first, then how sure that is, and what one grade buys.
pub(super) fn page(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let view = View { scenario, grades, ranking, stocked };
    let tried = ranking.sets.len() as u64;
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("sets", words::count(tried)),
        ("samples", words::count(ranking.sets[0].good.trials)),
        ("seed", ranking.settings.seed.to_string()),
        ("solver", words::method(ranking.settings.method).to_owned()),
    ];
    let drives = [if ranking.legs > 1 { Drive::FullBridge } else { Drive::HalfBridge }];
    let stock = stocked.map(|s| ("pairing", "Measured parts", pairing::allocation(view, s)));
    let before = [
        ("decision", "Which grades to buy", decision::decision(view)),
        ("front", "Cost and yield", decision::front(view)),
        ("ranking", "How sure is the ranking", tables::ranking(view)),
        ("steps", "What one grade buys", tables::steps(view)),
    ];
    let after = [
        ("sets", "All sets", tables::sets(view)),
        ("paralleled", "All sets without charge balancing", tables::paralleled(view)),
        ("offers", "Grades on offer", tables::offers(view)),
        ("costs", "How costs are counted", notes::costs(view)),
        ("methods", "Methods", notes::methods(view)),
        ("validity", "Assumptions and limits of validity", notes::validity(view, &drives)),
        ("cautions", "Cautions", prose::cautions()),
        ("reproduce", "Making it again", notes::reproduce(view)),
    ];
    let sections: Vec<(&str, &str, Markup)> =
        before.into_iter().chain(stock).chain(after).collect();
    let inside = html! {
        nav aria-label="Contents" {
            ol {
                @for (id, heading, _) in &sections {
                    li { a href=(format!("#{id}")) { (heading) } }
                }
            }
        }
        main { @for (id, heading, inside) in &sections { (section(id, heading, inside)) } }
    };
    document("Part grades", &scenario.title, &fields, &inside)
}
