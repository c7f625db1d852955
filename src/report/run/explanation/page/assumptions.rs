//! The verdict under other assumptions, as a table and bars.

use maud::{Markup, html};

use super::explained_run::ExplainedRun;
use crate::report::format::numbers::samples;
use crate::report::format::what_if::page::yields;
use crate::report::format::what_if::words::{MEANING, THE_VERDICT, sentence};
use crate::report::run::words::of_samples;
use crate::study::common::what_if::WhatIf;

/// What if an assumption is wrong.
pub(super) fn assumptions(shown: &ExplainedRun) -> Markup {
    html! {
        @match &shown.explanation.what_if {
            None => p { "Nothing to show: nothing scatters, or the samples are too few." },
            Some(found) => {
                p class="lead" { (of_samples(&shown.run.joint[0], &sentence(THE_VERDICT, found))) }
                (yields(found, "The chain under other assumptions, each changed alone"))
                (method(found))
            }
        }
    }
}

fn method(found: &WhatIf) -> Markup {
    html! {
        p class="remark" {
            "Each assumption is changed alone, on the same probabilities. The table is of the chain: the \
             paralleled reference is not tried. Intervals hold each by itself. "
            em { "Not decided" } ": the samples tried do not tell. All failing ones of the first "
            (samples(found.failing_among)) " were tried again, and all passing ones of the first "
            (samples(found.passing_among)) ". " (MEANING)
        }
    }
}
