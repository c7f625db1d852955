//! Sets of grades with what became of them.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Parameter};
use crate::report::format::json::MissedMost;
use crate::report::grades::words;
use crate::scenario::Grades;
use crate::statistics::{Difference, Verdict, Yield};
use crate::study::grades::{
    Cost, OpenReason, OpenRival, Ranking, SetComparison, SetResult, SteppedSet,
};

/// A set of grades on the samples of a seed.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct SetSummary {
    /// The grade of every part, by the key of its parameter.
    grades: BTreeMap<&'static str, String>,
    /// The same in words.
    name: String,
    arrangement: Arrangement,
    /// Random stream of the samples: 0 for those of the seed itself.
    stream: u64,
    /// Share of the converters that keep to all limits at all operating points.
    #[serde(rename = "yield")]
    good: Yield,
    /// The limit missed most often at any one operating point; null where none was missed.
    binding: Option<MissedMost>,
    /// Price of the compared parts, per converter built.
    parts_cost: f64,
    /// What surplus parts, bought for a minimum order or a price break, add to the cost per good converter.
    surplus_cost: f64,
    /// Cost per good converter.
    cost_per_good_converter: CostSummary,
    /// Lead time of the slowest part, in weeks; null where no part has one.
    lead_time_weeks: Option<f64>,
    /// Whether no other set in the same arrangement beats it in cost and yield.
    on_pareto_front: bool,
    /// Against the recommended set; null for that set itself.
    against_recommended: Option<ComparisonSummary>,
}

/// A cost with the bounds that the interval of the yield gives it; null where no converter may be
/// good.
#[derive(Debug, Serialize, JsonSchema)]
struct CostSummary {
    /// At the yield seen.
    estimate: Option<f64>,
    /// At the upper end of the yield.
    lower: Option<f64>,
    /// At the lower end of the yield.
    upper: Option<f64>,
}

/// A set less the recommended one, on the same samples.
#[derive(Debug, Serialize, JsonSchema)]
struct ComparisonSummary {
    /// Difference of the yields, a fraction.
    yield_difference: Difference,
    /// Difference of the costs per good converter; null where one of them has no bound.
    cost_difference: Option<Difference>,
    /// Whether the interval of the costs' difference holds zero.
    tie: bool,
    /// Whether the set costs more: over the whole interval, or by the bounds of both costs where the
    /// difference has none.
    costs_more: bool,
}

/// A set beside the recommended one.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct ComparedSet {
    /// The grades of its parts in words.
    name: String,
    /// Random stream of the samples that its verdict rests on.
    stream: u64,
    /// Whether it meets the yield target.
    verdict: Verdict,
}

/// The set that leaves the answer on charge balancing open.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct OpenRivalSummary {
    /// On fresh samples where it was tried on them.
    set: SetSummary,
    /// Why it leaves the answer open.
    reason: OpenReason,
}

/// A set one grade from the recommended one.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct StepSummary {
    /// The parameter whose grade is another one.
    parameter: Parameter,
    /// Name of that grade.
    grade: String,
    /// Whether the scenario states the set.
    among_the_combinations: bool,
    /// `dearer` or `cheaper`: the price of the part.
    step: &'static str,
    result: SetSummary,
}

impl SetSummary {
    pub(super) fn new(grades: &Grades, result: &SetResult) -> Self {
        let chosen = result.candidate.chosen(grades);
        let chosen = chosen.map(|(offer, grade)| (offer.parameter.key(), grade.name.clone()));
        Self {
            grades: chosen.collect(),
            name: words::set(grades, result),
            arrangement: result.candidate.arrangement,
            stream: result.source.stream,
            good: result.good,
            binding: result.binding.as_ref().map(MissedMost::new),
            parts_cost: result.parts,
            surplus_cost: result.surplus,
            cost_per_good_converter: CostSummary::new(result.cost),
            lead_time_weeks: result.lead_time,
            on_pareto_front: result.on_front,
            against_recommended: result.against.as_ref().map(ComparisonSummary::new),
        }
    }
}

impl CostSummary {
    fn new(cost: Cost) -> Self {
        let finite = |amount: f64| Some(amount).filter(|amount| amount.is_finite());
        Self {
            estimate: finite(cost.estimate),
            lower: finite(cost.lower),
            upper: finite(cost.upper),
        }
    }
}

impl ComparisonSummary {
    fn new(comparison: &SetComparison) -> Self {
        Self {
            yield_difference: comparison.good,
            cost_difference: comparison.cost,
            tie: comparison.is_tie(),
            costs_more: comparison.is_dearer(),
        }
    }
}

impl ComparedSet {
    pub(super) fn new(grades: &Grades, result: &SetResult, target: f64) -> Self {
        Self {
            name: words::set(grades, result),
            stream: result.source.stream,
            verdict: result.verdict(target),
        }
    }
}

impl OpenRivalSummary {
    pub(super) fn new(grades: &Grades, ranking: &Ranking) -> Option<Self> {
        let OpenRival { reason, .. } = ranking.balancing?.open?;
        Some(Self { set: SetSummary::new(grades, ranking.open_rival()?), reason })
    }
}

impl StepSummary {
    pub(super) fn new(grades: &Grades, stepped: &SteppedSet) -> Self {
        let SteppedSet { step, result, stated } = stepped;
        let offer = &grades.offers[step.offer];
        Self {
            parameter: offer.parameter,
            grade: offer.grades[step.grade].name.clone(),
            among_the_combinations: *stated,
            step: if step.dearer { "dearer" } else { "cheaper" },
            result: SetSummary::new(grades, result),
        }
    }
}
