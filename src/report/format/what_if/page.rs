//! The verdict under other assumptions, as a table.

use maud::{Markup, html};

use super::words::{assumption, change, yield_change, yield_change_ends};
use crate::report::format::numbers::yield_percent;
use crate::report::format::page::parts::{folded_table, headings_with_text_last, remarked};
use crate::study::common::what_if::{VerdictChange, WhatIf};

/// The yield and the verdict under each assumption.
pub(in crate::report) fn yields(found: &WhatIf, caption: &str) -> Markup {
    let head = headings_with_text_last(&[
        "if instead",
        "yield then",
        "change of the yield, % of all",
        "verdict",
    ]);
    let rows = html! {
        @for outcome in &found.outcomes {
            @let now = outcome.change.now;
            @let ends = format!("{} to {}", yield_percent(now.lower), yield_percent(now.upper));
            @let difference = &outcome.change.difference;
            @let is_same = found.change(outcome) == VerdictChange::Same;
            tr class=[(!is_same).then_some("limited")] {
                th scope="row" class="wraps" { (assumption(outcome.assumption)) }
                (remarked(&yield_percent(now.estimate), &ends))
                (remarked(&yield_change(difference.estimate), &yield_change_ends(difference)))
                td { (change(found, outcome)) }
            }
        }
    };
    folded_table(caption, &head, &rows)
}
