//! The sections of the page that explain the run.

mod assumptions;
mod drivers;
mod explained_run;
mod failures;

use maud::{Markup, html};

pub(in crate::report::run) use self::explained_run::ExplainedRun;
use crate::report::run::words::INTERRUPTED;

/// What a section of this identifier holds.
pub(in crate::report::run) fn inside(id: &str, shown: &ExplainedRun) -> Markup {
    html! {
        (interruption(shown))
        @match id {
            "drivers" => (drivers(shown)),
            _ => (assumptions::assumptions(shown)),
        }
    }
}

/// What drives the failures and the figures.
fn drivers(shown: &ExplainedRun) -> Markup {
    html! {
        h3 { "Failures" }
        (failures::failures(shown))
        (drivers::drivers(shown))
    }
}

fn interruption(shown: &ExplainedRun) -> Markup {
    html! {
        @if shown.explanation.interrupted { p class="notice" { (INTERRUPTED) } }
    }
}
