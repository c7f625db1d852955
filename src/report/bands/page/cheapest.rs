//! The cheapest set of parts on offer.

use maud::{Markup, html};

use super::bounds;
use crate::report::bands::words as shared;
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::words;
use crate::scenario::Shape;
use crate::study::bands::cheapest::{Cheapest, Offered};
use crate::study::bands::verification::VERIFICATIONS;

pub(super) fn cheapest(found: &Cheapest) -> Markup {
    let body = html! {
        @for part in &found.catalogue.priced {
            @let chosen = found.chosen(part.parameter);
            tr {
                th scope="row" { (words::parameter(part.parameter)) }
                td {
                    @for offered in &part.offers {
                        @let text = offer(offered);
                        @if chosen == Some(offered) { strong { (text) } } @else { (text) }
                        br;
                    }
                }
                (number(part.count.to_string()))
                (number(chosen.map_or_else(
                    || words::NONE.into(),
                    |offered| words::given_percent(offered.tolerance.band),
                )))
            }
        }
    };
    let names = ["part", "on offer", "a converter", "chosen band"];
    html! {
        p class="lead" {
            (shared::ending(found))
            @if let Some(choice) = &found.choice {
                " Its parts cost " strong { (format!("{:.2}", choice.price)) } " a converter."
            }
        }
        @for other in shared::others(found) { p class="remark" { (other) } }
        (table("Parts on offer with their prices", &headings(2, &names), &body))
        @if let Some(verification) = found.verifications.last() {
            p {
                "On fresh seed " (verification.seed) ", look " (found.verifications.len()) " of at most " (VERIFICATIONS)
                ", " (words::yield_percent(verification.good.estimate)) " pass (" (bounds(verification)) ")."
            }
        }
        (notes(found))
    }
}

/// Name, scatter and price.
fn offer(offered: &Offered) -> String {
    let own = &offered.tolerance;
    let band = words::given_percent(own.band);
    let Some(name) = &offered.name else { return format!("{band} at {:.2}", offered.price) };
    let lot = match own.lot_share {
        share if share > 0.0 => format!(", lot share {}", words::given_percent(share)),
        _ => String::new(),
    };
    let sigmas = match own.shape {
        Shape::Normal { sigmas } => format!(" at {sigmas} σ"),
        _ => String::new(),
    };
    format!("{name} ({} {band}{sigmas}{lot}) at {:.2}", own.shape.name(), offered.price)
}

fn notes(found: &Cheapest) -> Markup {
    html! {
        p class="remark" {
            "Only what is on offer can be bought; all other parts keep the bands of the scenario. "
            (words::count(found.catalogue.sets.len() as u64)) " sets are on offer; "
            (words::count(found.trials)) " trials sufficed, because whatever is as wide in every \
             part as a set that fails was struck out. Prices are those of the parts alone: what \
             scrap, rework and least orders cost is the question of "
            code { "fairphase grades" } "."
        }
        @if found.violations > 0 {
            p class="notice" {
                "The trend is violated: " (found.violations) " sets one step narrower than the \
                 chosen one fail, so a set struck out untried may pass."
            }
        }
    }
}
