//! How the answers were found, what they hold for, and how to make them again.

use maud::{Markup, html};

use super::bounds;
use crate::report::bands::words as shared;
use crate::report::format::command;
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::page::prose;
use crate::report::format::words;
use crate::scenario::Scenario;
use crate::study::bands::Bands;
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::verification::{VERIFICATION_FACTOR, VERIFICATIONS};

pub(super) fn methods(bands: &Bands) -> Markup {
    let level = words::unbroken(&shared::level(bands.rule.shared.get()));
    let plain = words::given_percent(bands.rule.plain.get());
    html! {
        dl {
            dt { "Trial" }
            dd {
                "One arrangement with one set of bands: " (words::samples(bands.settings.samples))
                " in the search, " (words::samples(VERIFICATION_FACTOR * bands.settings.samples)) " in a look at a \
                 fresh seed, each solved at every operating point. A converter that is out of range or not \
                 solved fails. " (words::count(bands.trials)) " trials and "
                (words::count(bands.verifications)) " looks were made."
            }
            dt { "Search" }
            dd {
                "All trials of the search draw the same samples (seed " (bands.settings.seed)
                "): they differ by their bands alone. A band passes when the lower end of the \
                 two-sided " (level) " interval of Clopper and Pearson meets the target. A bracket \
                 grows from the present band and is halved in ratio down to "
                (words::given_percent(RESOLUTION)) " of the band. That wider bands do no better is \
                 taken as a guide, not as given: bands at 0.5, 0.75, 0.9, 1.1, 1.25 and 2 times \
                 the edge are tried too; one that fails below the edge moves the edge below itself, \
                 and violations are told."
            }
            dt { "Proof" }
            dd {
                "What the search found was chosen by its seed, so it is drawn anew from seeds that \
                 the search never used: up to " (VERIFICATIONS) " looks, each on a fresh seed of its own, at \
                 1, 0.97, 0.91 and 0.79 times what was found, rounded down to three digits, ending \
                 with the first that meets the target. Each look uses the " (level) " level (Bonferroni), so that all looks of a \
                 line together keep the " (plain) " of the scenario. A look draws " (VERIFICATION_FACTOR)
                " times the samples of the search, so that it seldom misses what the search saw to \
                 hold. The " (shared::start(bands)) " get one look at the same level."
            }
            dt { "Binding limit" }
            dd { "The demand missed most often at the narrowest band tried that fails." }
        }
        (verifications(bands))
    }
}

/// All looks of all lines, with their seeds.
fn verifications(bands: &Bands) -> Markup {
    let body = html! {
        @for part in &bands.parts {
            tr {
                th scope="row" { (shared::start(bands)) ", " (words::arrangement(part.arrangement)) }
                (number("1"))
                (number(part.present.seed.to_string()))
                (number(words::NONE))
                (number(words::yield_percent(part.present.good.estimate)))
                (number(bounds(&part.present)))
                td { (shared::outcome(part.verdict)) }
            }
            @for row in &part.rows {
                @for (n, verification) in row.verifications.iter().enumerate() {
                    tr {
                        th scope="row" {
                            (shared::subject(row.subject)) ", " (words::arrangement(part.arrangement))
                        }
                        (number((n + 1).to_string()))
                        (number(verification.seed.to_string()))
                        (number(words::unbroken(&shared::place(row, verification.at))))
                        (number(words::yield_percent(verification.good.estimate)))
                        (number(bounds(verification)))
                        td { (shared::outcome(verification.good.verdict(bands.rule.target))) }
                    }
                }
            }
        }
    };
    let names = ["line", "look", "fresh seed", "at", "yield", "interval", "target"];
    table("Every look at a fresh seed", &headings(1, &names), &body)
}

pub(super) fn validity(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        (prose::model(scenario, &bands.drives))
        p {
            "An interval says what sampling leaves open. It does not say whether the shapes and lot \
             shares hold for the parts that will be delivered, least of all at bands far from the \
             present ones: a wider grade may come with another shape. Bands are of the parts when \
             new, at one temperature, unless the scenario’s bands hold ageing and temperature too."
        }
    }
}

pub(super) fn reproduce(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        @if bands.is_partial() {
            p { "This search was interrupted. The whole of it, in the folder of the scenario:" }
        } @else {
            p {
                "The same scenario, seed and version give the same bytes, for any number of threads \
                 and from any folder. In the folder of the scenario:"
            }
        }
        pre { code { (command::bands(scenario, &bands.settings)) } }
        p {
            "Beside this page stands " code { "summary.json" } ": every trial of the searches, \
             every look with its seed and interval, the map."
        }
    }
}
