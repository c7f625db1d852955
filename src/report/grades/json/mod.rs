//! The summary of `grades`.

mod allocation;
mod offer;
mod order;
mod set;

use schemars::JsonSchema;
use serde::Serialize;

use self::allocation::AllocationSummary;
use self::offer::OfferSummary;
use self::order::{OrderSummary, PriceGapSummary, RivalPriceSummary};
use self::set::{ComparedSet, OpenRivalSummary, SetSummary, StepSummary};
use crate::report::format::json::LimitsInForce;
use crate::report::format::summary::SummaryFile;
use crate::report::format::switching::json::SharingShiftEntry;
use crate::report::grades::allotted_stock::AllottedStock;
use crate::scenario::{Grades, Scenario};
use crate::statistics::Verdict;
use crate::study::allocation::StockAllocation;
use crate::study::grades::{
    BalancingReason, BalancingVerdict, Ranking, RankingAnswer, SetResult, Stage, price_gaps,
    rival_price,
};

/// What `grades` found. Amounts of money are in `currency`; differences are those of a set less the
/// recommended one.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct GradesResults {
    /// By how much the dead time shifts sharing of the nominal chain at most, which the yields leave out; null where
    /// that is small, or nothing describes the switches.
    sharing_shift: Option<SharingShiftEntry>,
    /// Whether the comparison or the allocation of the stock was interrupted.
    partial: bool,
    /// Random stream of the fresh samples, on which the short list is verified.
    stream: u64,
    /// The limits.
    limits: LimitsInForce,
    /// Share of the converters that must keep to all limits.
    yield_target: f64,
    /// Confidence level of the intervals, before it is raised for their number.
    confidence: f64,
    /// Unit of all amounts of money.
    currency: String,
    /// Good converters wanted.
    quantity: u64,
    /// What becomes of a converter that fails: `scrap` or `rework`.
    failed_converter: &'static str,
    /// Cost of a failure.
    failure_cost: f64,
    /// Cost of everything that is not on offer, per converter built.
    other_cost: f64,
    /// Grades of every part on offer.
    offers: Vec<OfferSummary>,
    /// Neighbouring prices of a part that are five times apart or more.
    conspicuous_prices: Vec<PriceGapSummary>,
    /// What to order for the set to build; null where no set is shown to meet the target.
    order: Option<OrderSummary>,
    /// The price at which the next set that meets the target would cost less than the recommended one;
    /// null where no price of one part does that.
    next_set_wins_at: Option<RivalPriceSummary>,
    /// What is said of the set under `recommended`, the best one with charge balancing.
    answer: RankingAnswer,
    /// Whether that set meets the yield target.
    verdict: Verdict,
    /// The fewest samples with which any set can be shown to meet the target, all passing; null where
    /// no number does.
    fewest_samples_for_a_pass: Option<u64>,
    /// Whether all sets in the chain miss the target on the first samples.
    all_sets_miss_the_target: bool,
    /// Whether charge balancing is worth its cost; null where that was not tried on fresh samples, and where an
    /// arrangement has no limit.
    charge_balancing: Option<BalancingVerdict>,
    /// What that rests on; null where it is not decided.
    charge_balancing_reason: Option<BalancingReason>,
    /// The set that leaves that open; null where it is decided.
    charge_balancing_left_open_by: Option<OpenRivalSummary>,
    /// The set to build: `without_balancing` where charge balancing is not recommended, otherwise
    /// `recommended`; null where that set is not shown to meet the yield target.
    set_to_build: Option<SetSummary>,
    /// The stage at which the comparison was interrupted; null of a whole one.
    interrupted_at: Option<&'static str>,
    /// The set with charge balancing that the answer names, to which others are compared: on the fresh samples where it was
    /// tried on them. It is recommended only if `answer` says so.
    recommended: SetSummary,
    /// Whether that set was tried on fresh samples.
    recommended_on_fresh_samples: bool,
    /// Sets whose cost the samples do not tell from that of the recommended one.
    ties: Vec<ComparedSet>,
    /// Sets that cost less at the confidence, and were not chosen because of their yield.
    cheaper_not_chosen: Vec<ComparedSet>,
    /// All sets in the chain on the first samples, in the scenario's order.
    results: Vec<SetSummary>,
    /// All sets without charge balancing on the first samples.
    results_without_balancing: Vec<SetSummary>,
    /// The short list on the fresh samples.
    short_list: Vec<SetSummary>,
    /// The short list without charge balancing on the fresh samples.
    short_list_without_balancing: Vec<SetSummary>,
    /// The best set without charge balancing on the fresh samples; null where it was not tried.
    without_balancing: Option<SetSummary>,
    /// One grade dearer or cheaper in each part, on the fresh samples.
    steps: Vec<StepSummary>,
    /// Measured parts in stock; null without a stock.
    allocation: Option<AllocationSummary>,
}

/// The summary of a comparison of grades.
pub(super) fn summary(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> SummaryFile<GradesResults> {
    let target = scenario.limits.yield_target;
    let sets = |sets: &[SetResult]| sets.iter().map(|s| SetSummary::new(grades, s)).collect();
    let compared = |sets: Vec<&SetResult>| {
        sets.into_iter().map(|s| ComparedSet::new(grades, s, target)).collect()
    };
    let results = GradesResults {
        sharing_shift: ranking.sharing_shift.as_ref().map(SharingShiftEntry::new),
        partial: ranking.is_partial() || stocked.is_some_and(StockAllocation::is_partial),
        stream: ranking.verification.stream,
        limits: LimitsInForce::new(scenario),
        yield_target: target,
        confidence: scenario.limits.confidence,
        currency: grades.currency.clone(),
        quantity: grades.quantity,
        failed_converter: grades.failed.name(),
        failure_cost: grades.failure_cost,
        other_cost: grades.other_cost,
        offers: OfferSummary::all(grades, ranking.size),
        conspicuous_prices: price_gaps(grades).iter().map(PriceGapSummary::new).collect(),
        order: ranking.order(scenario, grades).map(|order| {
            OrderSummary::new(grades, &order, ranking.next_order(scenario, grades).as_ref())
        }),
        next_set_wins_at: rival_price(ranking, grades, target).map(RivalPriceSummary::new),
        answer: ranking.answer(target),
        verdict: ranking.verdict(target),
        fewest_samples_for_a_pass: ranking.fewest_samples,
        all_sets_miss_the_target: ranking.all_miss(target),
        charge_balancing: ranking.balancing.map(|answer| answer.verdict),
        charge_balancing_reason: ranking.balancing.and_then(|answer| answer.reason),
        charge_balancing_left_open_by: OpenRivalSummary::new(grades, ranking),
        set_to_build: ranking.set_to_build(target).map(|s| SetSummary::new(grades, s)),
        interrupted_at: ranking.interrupted.map(Stage::name),
        recommended: SetSummary::new(grades, ranking.recommended()),
        recommended_on_fresh_samples: !ranking.shortlist.is_empty(),
        ties: compared(ranking.ties()),
        cheaper_not_chosen: compared(ranking.passed_over()),
        results: sets(&ranking.sets),
        results_without_balancing: sets(&ranking.paralleled),
        short_list: sets(&ranking.shortlist),
        short_list_without_balancing: sets(&ranking.paralleled_shortlist),
        without_balancing: ranking.without_balancing().map(|s| SetSummary::new(grades, s)),
        steps: ranking.steps.iter().map(|step| StepSummary::new(grades, step)).collect(),
        allocation: stocked.map(AllocationSummary::new),
    };
    SummaryFile::sampled("grades", scenario, &ranking.settings, results)
}

/// The allotment of a stock, where no grades were compared.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct StockResults {
    /// Whether the allotment was interrupted.
    partial: bool,
    /// True: the stock alone was allotted, and no grades were compared.
    stock_alone: bool,
    /// Measured parts in stock, and what is made of them.
    allocation: AllocationSummary,
}

/// The summary of a stock that was allotted alone.
pub(super) fn stock_summary(allotted: AllottedStock) -> SummaryFile<StockResults> {
    let AllottedStock { scenario, settings, stocked, .. } = allotted;
    let allocation = AllocationSummary::new(stocked);
    let results = StockResults { partial: stocked.is_partial(), stock_alone: true, allocation };
    SummaryFile::sampled("grades", scenario, &settings, results)
}
