//! Prices of the chosen parts, and other assumptions.

use maud::{Markup, html};

use crate::report::format::names::parameter_and_symbol;
use crate::report::format::numbers::{counted, money, yield_percent};
use crate::report::format::page::brief::Finding;
use crate::report::format::page::parts::{headings, headings_with_text_last, number};
use crate::report::format::tolerance::band_of;
use crate::report::format::what_if::words::{assumption, change};
use crate::study::bands::Bands;
use crate::study::bands::cheapest::{Cheapest, Priced};
use crate::study::common::what_if::{AssumptionOutcome, VerdictChange, WhatIf};

/// Assumptions shown: more would not fit the sheet.
const ASSUMPTIONS: usize = 8;

/// The parts to buy with what they cost.
pub(super) fn prices(bands: &Bands) -> Option<Finding> {
    let found = bands.cheapest.as_ref()?;
    let choice = found.choice.as_ref()?;
    let open = found.open;
    let cheaper = match open {
        0 => String::new(),
        _ => format!("; {} may do", counted(open as u64, "cheaper set")),
    };
    Some(Finding {
        heading: format!("{} a converter for these parts{cheaper}", money(choice.price)),
        remark: None,
        inside: html! {
            table {
                thead { (headings(1, &["part", "band", "each", "a converter"])) }
                tbody { @for part in &found.catalogue.priced { (price(part, found)) } }
            }
        },
    })
}

fn price(part: &Priced, found: &Cheapest) -> Markup {
    let chosen = found.chosen(part.parameter);
    html! {
        @if let Some(own) = chosen {
            tr {
                th scope="row" { (parameter_and_symbol(part.parameter)) }
                (number(band_of(&own.tolerance)))
                (number(money(own.price)))
                (number(money(own.price * part.count as f64)))
            }
        }
    }
}

/// The verdict under other assumptions, those that change it first.
pub(super) fn assumptions(bands: &Bands) -> Option<Finding> {
    let found = &bands.other_assumptions.as_ref()?.what_if;
    let mut all: Vec<&AssumptionOutcome> = found.outcomes.iter().collect();
    all.sort_by_key(|own| match found.change(own) {
        VerdictChange::Changed => 0,
        VerdictChange::Open => 1,
        VerdictChange::Same => 2,
    });
    let number =
        |change: VerdictChange| all.iter().filter(|own| found.change(own) == change).count();
    let heading = heading_of_assumptions(
        all.len(),
        number(VerdictChange::Changed),
        number(VerdictChange::Open),
    );
    let more = all.len().saturating_sub(ASSUMPTIONS);
    Some(Finding {
        heading,
        remark: Some("The set to specify, each assumption changed alone.".to_owned()),
        inside: html! {
            table {
                thead { (headings_with_text_last(&["if instead", "yield", "verdict"])) }
                tbody { @for own in all.iter().take(ASSUMPTIONS) { (outcome(found, own)) } }
            }
            @if more > 0 { p class="remark" { (more) " more: " a href="#what-if" { "all assumptions" } "." } }
        },
    })
}

fn heading_of_assumptions(all: usize, changed: usize, open: usize) -> String {
    if open == all {
        return format!("The samples decide none of {all} other assumptions");
    }
    let open = if open > 0 { format!("; {open} not decided") } else { String::new() };
    let change = if changed == 1 { "changes" } else { "change" };
    format!("{changed} of {all} other assumptions {change} the verdict{open}")
}

fn outcome(found: &WhatIf, own: &AssumptionOutcome) -> Markup {
    html! {
        tr class=[(found.change(own) == VerdictChange::Changed).then_some("limited")] {
            th scope="row" { (assumption(own.assumption)) }
            (number(yield_percent(own.change.now.estimate)))
            td { (change(found, own)) }
        }
    }
}
