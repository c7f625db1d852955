//! The cheapest set of parts on offer.

use maud::{Markup, html};

use super::runs::bounds;
use crate::report::bands::words::cheapest as words;
use crate::report::format::names::parameter_and_symbol;
use crate::report::format::numbers::{
    NONE, counted, given_percent, money, unbroken, yield_percent,
};
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::tolerance;
use crate::study::bands::Bands;
use crate::study::bands::cheapest::{Cheapest, Offered, Priced};
use crate::study::bands::rule::VERIFICATIONS;

pub(super) fn cheapest(found: &Cheapest, bands: &Bands) -> Markup {
    let body = html! { @for part in &found.catalogue.priced { (row(part, found)) } };
    let names = ["part", "on offer", "per converter", "chosen band"];
    html! {
        p class="lead" {
            (words::ending(found))
            @if let Some(choice) = &found.choice {
                " Its parts cost " strong { (money(choice.price)) } " per converter."
            }
        }
        @if let Some(run) = found.verifications.last() {
            p {
                "In verification run " (found.verifications.len()) " of at most " (VERIFICATIONS)
                " (" (run.source) "), " (yield_percent(run.good.estimate))
                " of the converters pass (" (bounds(run)) ")."
            }
        }
        @for sentence in words::other_sets(found, bands) { p class="remark" { (sentence) } }
        (table("Parts on offer with their prices", &headings(2, &names), &body))
        (notes(found))
    }
}

fn row(part: &Priced, found: &Cheapest) -> Markup {
    let chosen = found.chosen(part.parameter);
    let band = chosen.map(|offered| given_percent(offered.tolerance.band));
    html! {
        tr {
            th scope="row" { (parameter_and_symbol(part.parameter)) }
            td {
                @for offered in &part.offers {
                    @let text = offer(offered);
                    @if chosen == Some(offered) { strong { (text) } } @else { (text) }
                    br;
                }
            }
            (number(part.count.to_string()))
            (number(band.unwrap_or_else(|| NONE.into())))
        }
    }
}

/// Name, tolerance and price.
fn offer(offered: &Offered) -> String {
    let price = money(offered.price);
    match &offered.name {
        Some(name) => format!("{name} ({}) at {price}", tolerance::tolerance(&offered.tolerance)),
        None => unbroken(&format!("{} at {price}", tolerance::band_of(&offered.tolerance))),
    }
}

fn notes(found: &Cheapest) -> Markup {
    html! {
        p class="remark" {
            (counted(found.catalogue.sets.len() as u64, "set")) " on offer, "
            (counted(found.trials, "run"))
            ". Every set that is as wide in every part as one that fails was excluded without a \
             run. All other parts keep the bands of the scenario. Prices are those of the parts \
             alone. For scrap, rework and least orders see " code { "fairphase grades" } "."
        }
        @if found.violations > 0 {
            p class="notice" {
                "The trend is violated: " (counted(found.violations as u64, "set"))
                " one step narrower than the chosen one failed. A set that was excluded without a \
                 run may meet the target."
            }
        }
    }
}
