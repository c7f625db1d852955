//! Searches for break-even factors on bands and sensor errors.

use schemars::JsonSchema;
use serde::Serialize;

use crate::statistics::Yield;
use crate::study::sensors::{Axis, Checked, Fresh, Span, Standing, Turn, Variant};

/// A search over factors, and what it found.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Search {
    /// The variant whose yield is compared with the target.
    variant: Variant,
    /// What is multiplied by the factors.
    multiplied: Axis,
    /// What the yield is against the target, by rising factors.
    spans: Vec<FactorSpan>,
    /// Samples at every factor, in the search and of the fresh ones; at 1 the search takes those of
    /// the study.
    samples: u64,
    /// Factors at which the yield crosses the target.
    break_evens: Vec<BreakEvenSummary>,
}

/// Factors between which the yield compares alike with the target.
#[derive(Debug, Serialize, JsonSchema)]
struct FactorSpan {
    /// How it compares.
    against_target: Standing,
    /// Least factor.
    from: f64,
    /// Greatest factor.
    to: f64,
}

/// A factor at which the yield crosses the target.
#[derive(Debug, Serialize, JsonSchema)]
struct BreakEvenSummary {
    /// Where the estimate crosses it, to 1 %.
    factor: f64,
    /// Lower end of the interval; null where the search ended before it.
    lower: Option<f64>,
    /// Upper end of the interval; null where the search ended before it.
    upper: Option<f64>,
    /// Whether the target is met below the factor rather than above.
    meets_below: bool,
    /// Yields of fresh samples at the ends of the interval.
    fresh: Vec<FreshYield>,
    /// Break-even factor of the fresh samples; null where their yields do not enclose the target.
    fresh_factor: Option<f64>,
    /// Whether fresh samples contradict the interval at the confidence of the scenario.
    contradicted: bool,
}

/// A yield of fresh samples at a factor.
#[derive(Debug, Serialize, JsonSchema)]
struct FreshYield {
    /// The factor.
    factor: f64,
    /// The yield there.
    #[serde(rename = "yield")]
    good: Yield,
}

impl Search {
    pub(super) fn new(turn: &Turn) -> Self {
        Self {
            variant: turn.question.variant,
            multiplied: turn.question.axis,
            spans: turn.spans.iter().map(FactorSpan::new).collect(),
            samples: turn.samples,
            break_evens: turn.break_evens.iter().map(BreakEvenSummary::new).collect(),
        }
    }
}

impl FactorSpan {
    fn new(span: &Span) -> Self {
        Self { against_target: span.standing, from: span.from, to: span.to }
    }
}

impl BreakEvenSummary {
    fn new(checked: &Checked) -> Self {
        Self {
            factor: checked.found.factor,
            lower: checked.found.lower,
            upper: checked.found.upper,
            meets_below: checked.found.meets_below,
            fresh: checked.fresh.iter().map(FreshYield::new).collect(),
            fresh_factor: checked.fresh_factor,
            contradicted: checked.contradicted,
        }
    }
}

impl FreshYield {
    fn new(fresh: &Fresh) -> Self {
        Self { factor: fresh.factor, good: fresh.good }
    }
}
