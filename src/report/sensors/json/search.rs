//! Searches for break-even factors on bands and sensor errors.

use schemars::JsonSchema;
use serde::Serialize;

use crate::statistics::Yield;
use crate::study::sensors::{
    FactorSpan, FreshYield, Robustness, ScaledQuantity, Sensitivity, TargetComparison, Variant,
    VerifiedBreakEven,
};

/// A search over factors, and what it found.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct SearchSummary {
    /// The variant whose yield is compared with the target.
    variant: Variant,
    /// What is multiplied by the factors.
    multiplied: ScaledQuantity,
    /// What the yield is against the target, by rising factors.
    spans: Vec<SpanSummary>,
    /// Samples at every factor, in the search and of the fresh ones; at 1 the search takes those of
    /// the study.
    samples: u64,
    /// Factors at which the yield crosses the target.
    break_evens: Vec<BreakEvenSummary>,
    /// What the search says of the answer.
    answer: AnswerEffect,
}

/// What a search says of the answer.
#[derive(Debug, Serialize, JsonSchema)]
enum AnswerEffect {
    /// The verdict on this variant is not secured even at the assumed values, and the answer depends
    /// on it.
    #[serde(rename = "not secured")]
    NotSecured,
    /// The verdict is not secured even at the assumed values; the answer is the same either way.
    #[serde(rename = "not secured, same answer")]
    NotSecuredSameAnswer,
    /// Beyond the nearest break-even the answer is another.
    #[serde(rename = "changes beyond the break-even")]
    Changes,
    /// Beyond the nearest break-even the answer is the same.
    #[serde(rename = "holds beyond the break-even")]
    Holds,
    /// No break-even was found. The answer holds at the factors at which the verdict is decided.
    #[serde(rename = "no break-even found")]
    NoBreakEven,
}

/// Factors between which the yield compares alike with the target.
#[derive(Debug, Serialize, JsonSchema)]
struct SpanSummary {
    /// How it compares.
    against_target: TargetComparison,
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
    /// Whether the interval includes 1, the assumed values.
    includes_assumed: bool,
    /// Yields of fresh samples at the ends of the interval.
    fresh: Vec<FreshYieldSummary>,
    /// Break-even factor of the fresh samples; null where their yields do not enclose the target.
    fresh_factor: Option<f64>,
    /// Whether fresh samples contradict the interval at the confidence of the scenario.
    contradicted: bool,
}

/// A yield of fresh samples at a factor.
#[derive(Debug, Serialize, JsonSchema)]
struct FreshYieldSummary {
    /// The factor.
    factor: f64,
    /// The yield there.
    #[serde(rename = "yield")]
    good: Yield,
}

impl SearchSummary {
    pub(super) fn new(found: &Sensitivity, robustness: &Robustness) -> Self {
        Self {
            variant: found.question.variant,
            multiplied: found.question.scaled,
            spans: found.spans.iter().map(SpanSummary::new).collect(),
            samples: found.samples,
            break_evens: found.break_evens.iter().map(BreakEvenSummary::new).collect(),
            answer: match robustness {
                Robustness::NotSecured { matters: true, .. } => AnswerEffect::NotSecured,
                Robustness::NotSecured { .. } => AnswerEffect::NotSecuredSameAnswer,
                Robustness::Changes(_) => AnswerEffect::Changes,
                Robustness::Holds(_) => AnswerEffect::Holds,
                Robustness::NoBreakEven(_) => AnswerEffect::NoBreakEven,
            },
        }
    }
}

impl SpanSummary {
    fn new(span: &FactorSpan) -> Self {
        Self { against_target: span.comparison, from: span.from, to: span.to }
    }
}

impl BreakEvenSummary {
    fn new(checked: &VerifiedBreakEven) -> Self {
        Self {
            factor: checked.found.factor,
            lower: checked.found.lower,
            upper: checked.found.upper,
            meets_below: checked.found.meets_below,
            includes_assumed: checked.found.includes_assumed(),
            fresh: checked.fresh.iter().map(FreshYieldSummary::new).collect(),
            fresh_factor: checked.fresh_factor,
            contradicted: checked.contradicted,
        }
    }
}

impl FreshYieldSummary {
    fn new(fresh: &FreshYield) -> Self {
        Self { factor: fresh.factor, good: fresh.good }
    }
}
