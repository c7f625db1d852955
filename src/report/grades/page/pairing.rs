//! Measured parts, allotted to converters.

use maud::{Markup, html};

use super::View;
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::words;
use crate::study::allocation::{
    Allocation, MissedLimit, PlannedConverter, REPEATS, Stock, StockAllocation,
};

/// How many pass in which way, and the list to build by.
pub(super) fn allocation(
    view: View,
    StockAllocation { stock, allocation }: &StockAllocation,
) -> Markup {
    html! {
        @match allocation {
            None => p class="notice" {
                strong { "Partial." } " Interrupted before the parts in stock were allotted."
            },
            Some(found) => {
                @if found.partial {
                    p class="notice" {
                        strong { "Partial." } " Interrupted before all searches were done: the list \
                         is the best by then."
                    }
                }
                (counted(stock, found))
                (ways(found))
                p class="remark" {
                    "Charge balance leaves the differences within a converter, so that tanks that are \
                     alike share best; switch currents and frequency go by their sum too. The search \
                     goes by what each tank does to every limited figure, to first order, and deals \
                     tanks out by solving assignment problems (Kuhn 1955, Munkres 1957); flying \
                     capacitors of near values go together. The "
                    (words::method(view.ranking.settings.method)) " solver judged every converter \
                     of all three ways. " (certainty(found))
                }
                (list(view, stock, found))
            }
        }
    }
}

/// Whether another list may pass more.
fn certainty(found: &Allocation) -> &'static str {
    if found.allocated == found.converters {
        "As all pass, no other list passes more."
    } else if found.proven {
        "All groups of these tanks were judged in all orders, and the best way to pack them is \
         exact: no other list of these tanks passes more."
    } else {
        "Converters that failed were regrouped with tanks like theirs. That is no proof that no \
         other list passes more."
    }
}

fn counted(stock: &Stock, found: &Allocation) -> Markup {
    html! {
        p class="lead" {
            strong { (found.allocated) " of " (found.converters) " converters pass" }
            " when the stock is built as listed below; "
            (words::significant(found.at_random.mean, 3)) " when tanks are allotted at random."
        }
        p {
            "In stock: " (stock.tanks.len()) " measured tanks (" (stock.tanks_file) ")"
            @match &stock.capacitors_file {
                Some(file) => {
                    " and " (stock.capacitors.len()) " flying capacitors (" (file) ")."
                }
                None => ". Flying capacitors count as nominal.",
            }
            " Left over: " (serials(found.spare_tanks.iter().map(|n| &stock.tanks[*n].serial)))
            @if stock.capacitors_file.is_some() {
                "; " (serials(found.spare_capacitors.iter().map(|n| &stock.capacitors[*n].serial)))
            }
            "."
        }
    }
}

fn serials<'a>(all: impl Iterator<Item = &'a String>) -> String {
    let all: Vec<&str> = all.map(String::as_str).collect();
    if all.is_empty() { "none".into() } else { all.join(", ") }
}

fn ways(found: &Allocation) -> Markup {
    let share = |passing: f64| words::percent(passing / found.converters.max(1) as f64);
    let chance = found.at_random;
    let rows = html! {
        tr class="limited" {
            th scope="row" { "allotted, as listed" }
            (number(found.allocated.to_string()))
            (number(share(found.allocated as f64)))
        }
        tr {
            th scope="row" { "sorted by series resonance" }
            (number(found.sorted.to_string()))
            (number(share(found.sorted as f64)))
        }
        tr {
            th scope="row" {
                "at random, mean of " (REPEATS) " draws" br;
                small { "least " (chance.least) ", most " (chance.most) }
            }
            (number(words::significant(chance.mean, 3)))
            (number(share(chance.mean)))
        }
    };
    table(
        "Passing converters by the way of taking parts",
        &headings(1, &["way", "pass", "share"]),
        &rows,
    )
}

fn list(view: View, stock: &Stock, found: &Allocation) -> Markup {
    let names =
        ["converter", "result", "tanks, phase by phase", "flying capacitors", "sharing error"];
    let rows = html! {
        @for (n, build) in found.build_list.iter().enumerate() {
            tr {
                th scope="row" { (n + 1) }
                td { (result(build)) }
                td { (serials(build.tanks.iter().map(|n| &stock.tanks[*n].serial))) }
                td {
                    @if build.capacitors.is_empty() { "nominal" } @else {
                        (serials(build.capacitors.iter().map(|n| &stock.capacitors[*n].serial)))
                    }
                }
                (number(build.evaluation.sharing_error.map_or_else(|| words::NONE.into(), words::percent)))
            }
        }
    };
    let caption = format!(
        "What to build; the largest {} at any operating point",
        words::sharing(view.scenario.limits.sharing)
    );
    html! {
        (table(&caption, &headings(4, &names), &rows))
        p class="remark" {
            "Flying capacitors: those of the driven leg, then those of the return leg, from the \
             input down. The same list, a row a phase, stands in " code { "build_list.csv" } "."
        }
    }
}

fn result(build: &PlannedConverter) -> Markup {
    html! {
        @match &build.evaluation.missed {
            None => "pass",
            Some(MissedLimit { operating_point, demand }) => {
                strong { "fails" } br; small { (words::demand(demand)) " at " (operating_point) }
            }
        }
    }
}
