//! Delivered batches: what terminal, page and summary tell of them.

use std::fmt::Write as _;

use maud::{Markup, html};
use schemars::JsonSchema;
use serde::Serialize;

use crate::report::format::names;
use crate::report::format::numbers::{count, yield_interval, yield_percent};
use crate::report::format::page::parts::{arrangement, headings, number, table};
use crate::scenario::Scenario;
use crate::statistics::Yield;
use crate::study::run::{ArrangementBatches, Batches};

/// The quantiles that are shown, and their headings.
const SHOWN: [(f64, &str); 4] =
    [(0.0, "lowest"), (0.05, "5 % quantile"), (0.5, "median"), (1.0, "highest")];

/// Delivered batches of converters.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct BatchesEntry {
    /// Converters of a batch, which share the lots of all their parts.
    converters: u64,
    /// Batches drawn.
    batches: u64,
    /// One an arrangement.
    arrangements: Vec<ArrangementBatchesEntry>,
}

/// The batches of an arrangement.
#[derive(Debug, Serialize, JsonSchema)]
struct ArrangementBatchesEntry {
    /// `chain` or `paralleled`.
    arrangement: &'static str,
    /// Share of the batches whose own yield is below the target: `successes` counts these batches.
    below_target: Yield,
    /// Passing converters of each batch, in the order drawn.
    passing: Vec<u64>,
}

impl BatchesEntry {
    pub(super) fn new(batches: &Batches) -> Self {
        let entry = |own: &ArrangementBatches| ArrangementBatchesEntry {
            arrangement: own.arrangement.name(),
            below_target: own.below_target,
            passing: own.passing.clone(),
        };
        Self {
            converters: batches.lots.converters,
            batches: batches.lots.batches,
            arrangements: batches.arrangements.iter().map(entry).collect(),
        }
    }
}

/// What was drawn.
fn drawn(scenario: &Scenario, batches: &Batches) -> String {
    let is_measured = scenario.tolerances.iter().any(|(_, own)| own.is_measured());
    let alone = " These chances and yields hold for the measured parts alone.";
    format!(
        "{} batches of {} converters were drawn. All converters of a batch share the lots of their \
         parts.{}",
        count(batches.lots.batches),
        count(batches.lots.converters),
        if is_measured { alone } else { "" }
    )
}

/// The yield of a batch at a quantile.
fn share(batches: &Batches, own: &ArrangementBatches, p: f64) -> String {
    yield_percent(own.quantile(p) as f64 / batches.lots.converters as f64)
}

/// The chance that a batch is below the target.
fn below(own: &ArrangementBatches) -> String {
    yield_interval(&own.below_target)
}

/// The batches on the terminal.
pub(super) fn text(scenario: &Scenario, batches: &Batches) -> String {
    let target = yield_percent(scenario.limits.yield_target);
    let mut text = format!("Delivered batches: {}\n", drawn(scenario, batches));
    for own in &batches.arrangements {
        let shown = SHOWN.map(|(p, name)| format!("{name} {}", share(batches, own, p)));
        let _ = writeln!(
            text,
            "  {}: a batch falls below the target of {target} with a chance of {}\n    yield of a \
             batch: {}",
            names::arrangement(own.arrangement).short,
            below(own),
            shown.join(", ")
        );
    }
    text
}

/// The batches on the page.
pub(super) fn page(scenario: &Scenario, batches: &Batches) -> Markup {
    let names: Vec<&str> =
        ["below target"].into_iter().chain(SHOWN.map(|(_, name)| name)).collect();
    let body = html! {
        @for own in &batches.arrangements {
            tr {
                (arrangement(own.arrangement))
                (number(below(own)))
                @for (p, _) in SHOWN { (number(share(batches, own, p))) }
            }
        }
    };
    let names: Vec<&str> = std::iter::once("arrangement").chain(names).collect();
    html! {
        h3 { "Delivered batches" }
        p {
            (drawn(scenario, batches)) " The target is " (yield_percent(scenario.limits.yield_target))
            ". Below target: the chance that a batch has a lower yield than that, with its interval \
             over batches."
        }
        (table("Yield of a delivered batch", &headings(1, &names), &body))
        p class="remark" {
            "Quantiles describe the batches drawn. The yield above is that of all converters, \
             whatever lots their parts come from."
        }
    }
}
