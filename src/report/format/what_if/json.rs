//! Other assumptions in a summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Parameter;
use crate::statistics::{ChangedYield, Difference, OutcomeChanges, Verdict};
use crate::study::common::assumption::Assumption;
use crate::study::common::what_if::{AssumptionOutcome, VerdictChange, WhatIf};

/// Samples that were tried again, by their outcomes before and then.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct RetriedEntry {
    /// Samples of which every one that failed was tried again.
    failing_among: u64,
    /// Of these, samples that failed and then pass.
    saved: u64,
    /// Of these, samples that failed and then fail.
    still_failing: u64,
    /// Samples of which every one that passed was tried again.
    passing_among: u64,
    /// Of these, samples that passed and then fail.
    lost: u64,
}

/// The yield and the verdict of the chain under another assumption.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct WhatIfEntry {
    /// The assumption that is changed alone: `lot share` (of all parameters), `correlation` (of the
    /// parameters of `between`), `uniform` (instead of normal), `normal` (instead of uniform) or `mean`
    /// (of all parameters, in half widths of the band from its middle).
    assumption: &'static str,
    /// Its value; null of shapes.
    value: Option<f64>,
    /// The parameters that it is about; null where it is about all.
    between: Option<[Parameter; 2]>,
    /// The yield over all operating points and all limits.
    #[serde(rename = "yield")]
    good: ChangedYield,
    /// That yield less the one under the scenario's own assumptions.
    difference: Difference,
    verdict: Verdict,
    /// `same`, `changed`, or `open` where the samples do not tell.
    change: &'static str,
    samples: RetriedEntry,
}

impl WhatIfEntry {
    /// All assumptions that were tried.
    pub(in crate::report) fn all(found: Option<&WhatIf>) -> Vec<Self> {
        let entries = |found: &WhatIf| -> Vec<Self> {
            found.outcomes.iter().map(|outcome| Self::new(found, outcome)).collect()
        };
        found.map_or_else(Vec::new, entries)
    }

    fn new(found: &WhatIf, outcome: &AssumptionOutcome) -> Self {
        let (assumption, value, between) = match outcome.assumption {
            Assumption::LotShare(share) => ("lot share", Some(share), None),
            Assumption::Correlation { between, coefficient } => {
                ("correlation", Some(coefficient), Some(between))
            }
            Assumption::Uniform => ("uniform", None, None),
            Assumption::Normal => ("normal", None, None),
            Assumption::Mean(mean) => ("mean", Some(mean), None),
        };
        Self {
            assumption,
            value,
            between,
            good: outcome.change.now,
            difference: outcome.change.difference,
            verdict: outcome.verdict,
            change: match found.change(outcome) {
                VerdictChange::Same => "same",
                VerdictChange::Changed => "changed",
                VerdictChange::Open => "open",
            },
            samples: RetriedEntry::new(&outcome.change.outcomes),
        }
    }
}

impl RetriedEntry {
    pub(in crate::report) fn new(outcomes: &OutcomeChanges) -> Self {
        let OutcomeChanges { failing_among, saved, still_failing, passing_among, lost } = *outcomes;
        Self { failing_among, saved, still_failing, passing_among, lost }
    }
}
