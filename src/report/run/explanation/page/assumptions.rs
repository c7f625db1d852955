//! The verdict under other assumptions, as a table and bars.

use maud::{Markup, html};

use super::explained_run::ExplainedRun;
use crate::report::format::numbers::{samples, yield_percent};
use crate::report::format::page::parts::{headings_with_text_last, remarked, table};
use crate::report::run::explanation::names::{saved, saved_ends};
use crate::report::run::explanation::what_if::{assumption, change, sentence};
use crate::study::explanation::{VerdictChange, WhatIf};

/// What if an assumption is wrong.
pub(super) fn assumptions(shown: &ExplainedRun) -> Markup {
    html! {
        @match &shown.explanation.what_if {
            None => p { "Nothing to show: nothing scatters, or the samples are too few." },
            Some(found) => {
                p class="lead" { (sentence(found)) }
                (yields(found))
                (method(found))
            }
        }
    }
}

fn yields(found: &WhatIf) -> Markup {
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
                (remarked(&saved(difference.estimate), &saved_ends(difference)))
                td { (change(found, outcome)) }
            }
        }
    };
    table("The chain under other assumptions, each changed alone", &head, &rows)
}

fn method(found: &WhatIf) -> Markup {
    let retried = &found.samples;
    html! {
        p class="remark" {
            "Each assumption is changed alone, on the same probabilities. Intervals hold each by itself. "
            em { "Open" } ": the samples tried do not tell. All failing ones of the first "
            (samples(retried.failing_among)) " were tried again, and all passing ones of the first "
            (samples(retried.passing_among)) ". Normal instead of uniform: the band is 3 σ. A mean at \
             a quarter: normal parts move their mean, others fill the part of the band about it. \
             Correlations are tried for parts that may share one core."
        }
    }
}
