//! Measured parts in stock, allotted to converters.

use maud::{Markup, html};

use crate::report::format::names::{self, PARTIAL};
use crate::report::format::numbers::{NONE, percent, significant};
use crate::report::format::page::parts::{folded_table, headings, number, table};
use crate::report::format::page::prose::read_as;
use crate::report::grades::allotted_stock::AllottedStock;
use crate::report::grades::words;
use crate::study::allocation::{
    Allocation, MissedLimit, PlannedConverter, REPEATS, Stock, StockAllocation,
};

/// How many pass in which way, and the list to build by.
pub(super) fn allocation(subject: AllottedStock) -> Markup {
    let StockAllocation { stock, allocation } = subject.stocked;
    let Some(found) = allocation else {
        return html! {
            p class="notice" {
                strong { (PARTIAL) } " The parts in stock were not allotted."
            }
        };
    };
    html! {
        @if found.partial {
            p class="notice" {
                strong { (PARTIAL) } " Not all searches were done: the list is the best by then."
            }
        }
        (passing(stock, found))
        (ways(found))
        (method(subject, found))
        (build_list(subject, stock, found))
    }
}

fn passing(stock: &Stock, found: &Allocation) -> Markup {
    html! {
        p class="lead" {
            strong { (found.allocated) " of " (found.converters) " converters pass" }
            " when built as listed below; " (significant(found.at_random.mean, 3))
            " on average when tanks are allotted at random. " (words::bottleneck(found))
        }
        p {
            "In stock: " (stock.tanks.len()) " measured tanks (" (stock.tanks_file) ")"
            @match &stock.capacitors_file {
                Some(file) => {
                    " and " (stock.capacitors.len()) " flying capacitors (" (file) ")."
                }
                None => ". Flying capacitors count as nominal.",
            }
            " Left over: tanks "
            (serials(found.spare_tanks.iter().map(|n| &stock.tanks[*n].serial)))
            @if stock.capacitors_file.is_some() {
                "; capacitors "
                (serials(found.spare_capacitors.iter().map(|n| &stock.capacitors[*n].serial)))
            }
            "."
        }
        (read_as(&stock.tanks_file, stock.tanks_read_as.as_deref()))
        @if let Some(file) = &stock.capacitors_file {
            (read_as(file, stock.capacitors_read_as.as_deref()))
        }
    }
}

fn serials<'a>(all: impl Iterator<Item = &'a String>) -> String {
    let all: Vec<&str> = all.map(String::as_str).collect();
    if all.is_empty() { "none".into() } else { all.join(", ") }
}

fn ways(found: &Allocation) -> Markup {
    let random = found.at_random;
    let rows = html! {
        tr class="limited" {
            th scope="row" { "allotted, as listed" }
            (number(found.allocated.to_string()))
            (number(percent(found.share(found.allocated as f64))))
        }
        tr {
            th scope="row" { "sorted by series resonance" }
            (number(found.sorted.to_string()))
            (number(percent(found.share(found.sorted as f64))))
        }
        tr {
            th scope="row" {
                "at random, mean of " (REPEATS) " draws" br;
                small { "least " (random.least) ", most " (random.most) }
            }
            (number(significant(random.mean, 3)))
            (number(percent(found.share(random.mean))))
        }
    };
    table(
        "Passing converters by the way of allotting the tanks",
        &headings(1, &["way", "passing", "share"]),
        &rows,
    )
}

fn method(subject: AllottedStock, found: &Allocation) -> Markup {
    html! {
        p class="remark" {
            "Tanks that are alike share best, because charge balance leaves the differences within \
             a converter. The search takes the effect of each tank on every limited figure to first \
             order, and solves assignment problems (Kuhn 1955, Munkres 1957). Flying capacitors of \
             near values go together; where a converter fails, those left over are tried in it. The "
            (names::method(subject.settings.method).long) " solver evaluated every \
             converter of all three ways. " (words::proof(found))
        }
    }
}

fn build_list(subject: AllottedStock, stock: &Stock, found: &Allocation) -> Markup {
    let names = ["converter", "tanks, phase by phase", "flying capacitors", "sharing error"];
    let rows = html! {
        @for (n, build) in found.build_list.iter().enumerate() {
            tr {
                th scope="row" { (n + 1) }
                (parts(stock, build))
                (number(build.evaluation.sharing_error.map_or_else(|| NONE.into(), percent)))
            }
        }
    };
    let caption = format!(
        "What to build; the largest {} at any operating point",
        names::sharing(subject.scenario.limits.sharing)
    );
    html! {
        @if !found.build_list.is_empty() { (folded_table(&caption, &headings(3, &names), &rows)) }
        p class="remark" {
            "Flying capacitors: those of the driven leg, then those of the return leg, from the \
             input down. The same list, a row per phase, stands in " code { "build_list.csv" } ", which "
            code { "fairphase units --parts" } " reads."
        }
        @if !found.rejected.is_empty() { (rejected(stock, found)) }
    }
}

/// Serials of the parts of a converter.
fn parts(stock: &Stock, build: &PlannedConverter) -> Markup {
    html! {
        td { (serials(build.tanks.iter().map(|n| &stock.tanks[*n].serial))) }
        td {
            @if build.capacitors.is_empty() { "nominal" } @else {
                (serials(build.capacitors.iter().map(|n| &stock.capacitors[*n].serial)))
            }
        }
    }
}

/// The converters that fail, with what would mend them.
fn rejected(stock: &Stock, found: &Allocation) -> Markup {
    let names = ["converter", "tanks", "flying capacitors", "misses", "exchange that mends it"];
    let rows = html! {
        @for (n, own) in found.rejected.iter().enumerate() {
            tr {
                th scope="row" { (found.build_list.len() + n + 1) }
                (parts(stock, &own.planned))
                td { (missed(&own.planned)) }
                td { (words::mend(stock, own)) }
            }
        }
    };
    html! {
        (table("Not to be built: these fail", &headings(5, &names), &rows))
        p class="remark" {
            "Each part was exchanged in turn: for one like those of the other phases, for a nominal one, and for \
             one with which the tank resonates like them. Of what passes then, the one that shares best is told. The list stands in "
            code { "not_passing.csv" } "."
        }
    }
}

fn missed(build: &PlannedConverter) -> Markup {
    html! {
        @if let Some(MissedLimit { operating_point, demand }) = &build.evaluation.missed {
            (names::limit(demand).long) br; small { "at " (operating_point) }
        }
    }
}
