//! The summary of `sensors`.

mod comparison;
mod search;
mod sensing;
mod soft_switching;
mod variant;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use self::comparison::Comparisons;
use self::search::SearchSummary;
use self::sensing::Sensing;
use self::soft_switching::SoftSwitchingSummary;
use self::variant::VariantSummary;
use super::words;
use crate::report::format::faults::json::FaultRowEntry;
use crate::report::format::json::LimitsInForce;
use crate::report::format::numbers::plain;
use crate::report::format::ratings::json::{KeptTogetherEntry, RatingEntry};
use crate::report::format::summary::SummaryFile;
use crate::report::format::tolerance::{CorrelationInForce, ToleranceInForce, TolerancesInForce};
use crate::scenario::{Scenario, SensorRequest};
use crate::statistics::{Confidence, Verdict};
use crate::study::sensors::{CostDoubt, SensorStudy, Unfinished, Variant};

/// What `sensors` found of four variants: (a) paralleled, (b) chain, (c) paralleled with sensors,
/// (d) chain with sensors.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct SensorResults {
    /// Whether the study was interrupted: what is here is whole as far as it goes.
    partial: bool,
    /// Samples that were done: fewer than asked for where the study was stopped.
    samples_done: u64,
    /// Whether nothing was left undone.
    complete: bool,
    /// What was left undone; null of a whole study.
    unfinished: Option<Unfinished>,
    /// Limits that the variants must keep to.
    limits: LimitsInForce,
    /// How the parts scatter, by the keys of their parameters.
    tolerances: TolerancesInForce,
    /// Which parameters vary together; all others scatter independently.
    correlations: Vec<CorrelationInForce>,
    /// The sensors and trim loops of (c) and (d).
    sensors: Sensing,
    /// Whether the chain alone meets the yield target.
    verdict: Verdict,
    /// What to build.
    decision: DecisionSummary,
    /// The answer in a sentence.
    headline: String,
    /// Doubts about the scenario, in words.
    warnings: Vec<String>,
    /// The findings behind the answer, in words.
    findings: Vec<String>,
    /// Conditions under which the answer would be another, in words.
    would_change_the_answer: Vec<String>,
    /// Conditions under which the answer was found to hold, in words.
    robustness: Vec<String>,
    /// What sensors see of single faults and what they do not, in words.
    single_faults: Vec<String>,
    /// What every part must be rated for without sensors: as `ratings[]` of `run`.
    ratings: Vec<RatingEntry>,
    /// How many converters without sensors keep to all ratings at once, by arrangement. Not here where the
    /// samples do not show it.
    ratings_together: Vec<KeptTogetherEntry>,
    /// How the switches of converters without sensors turn on; null where the scenario does not describe them,
    /// and with the averaged solver.
    soft_switching: Option<SoftSwitchingSummary>,
    /// The ratings with sensors: `chain` is (d), `paralleled` is (c).
    ratings_with_sensors: Vec<RatingEntry>,
    /// The same as `ratings_together` with sensors.
    ratings_together_with_sensors: Vec<KeptTogetherEntry>,
    /// The same as `soft_switching` with sensors.
    soft_switching_with_sensors: Option<SoftSwitchingSummary>,
    /// What becomes of the nominal converter without sensors when one part fails.
    fault_matrix: Vec<FaultRowEntry>,
    /// Two variants side by side, on the same samples.
    comparisons: Comparisons,
    /// The variants (a) to (d).
    variants: Vec<VariantSummary>,
    /// Samples good in one variant and not in the other: `b not c` counts those good in (b) alone.
    good_in_one_alone: BTreeMap<String, u64>,
    /// Searches for factors on bands or sensor errors at which a variant ceases or begins to meet
    /// the target.
    break_even_searches: Vec<SearchSummary>,
    /// Random stream of the samples that verify these factors. The searches did not see them.
    stream: u64,
}

/// What to build.
#[derive(Debug, Serialize, JsonSchema)]
struct DecisionSummary {
    /// Whether the chain alone meets the yield target.
    sensors_can_go: Verdict,
    /// Letter of the variant with the lowest cost per good converter among those that meet the
    /// target at the confidence; null where none does.
    cheapest_that_meets: Option<char>,
    /// Cost of that variant per good converter, failures scrapped, in the currency of the scenario.
    cost_per_good_converter: Option<f64>,
    /// Whether no other variant that meets the target costs less, at the confidence of the verdicts;
    /// false where no variant meets the target.
    lowest_cost_secured: bool,
    /// Variants that may cost less and meet the target.
    may_cost_less: Vec<RivalSummary>,
    /// Confidence with which all verdicts and the lowest cost hold together.
    confidence: f64,
    /// Level of each variant's interval behind them.
    interval_confidence: Confidence,
    /// Fewest samples with which a variant can meet the target, if all pass; null where 10¹² are not
    /// enough.
    fewest_samples: Option<u64>,
    /// Share of the converters that must keep to all limits.
    yield_target: f64,
}

/// A variant that leaves the lowest cost open.
#[derive(Debug, Serialize, JsonSchema)]
struct RivalSummary {
    /// Its letter.
    letter: char,
    /// Why it is open.
    reason: CostDoubt,
    /// Its estimated cost per good converter.
    cost_per_good_converter: Option<f64>,
    /// Samples of a new study with another seed that decides in 9 of 10 cases, if the yield stays; null
    /// where the verdict is decided, or no practical number would do.
    samples_to_decide: Option<u64>,
}

/// The summary.
pub(super) fn summary(
    scenario: &Scenario,
    request: &SensorRequest,
    study: &SensorStudy,
) -> SummaryFile<SensorResults> {
    let sensitivity = words::sensitivity(scenario, study);
    let SensorStudy { parts, sensed_parts, .. } = study;
    let results = SensorResults {
        partial: study.unfinished.is_some(),
        samples_done: study.samples,
        complete: study.unfinished.is_none(),
        unfinished: study.unfinished,
        limits: LimitsInForce::new(scenario),
        tolerances: ToleranceInForce::all(&scenario.tolerances),
        correlations: CorrelationInForce::all(&scenario.tolerances),
        sensors: Sensing::new(request),
        verdict: study.verdict(),
        decision: decision(scenario, study),
        headline: plain(&words::answer(scenario, study)),
        warnings: all_plain(&words::warnings(scenario, request, study)),
        findings: all_plain(&words::findings(scenario, study)),
        would_change_the_answer: all_plain(&sensitivity.changes),
        robustness: all_plain(&sensitivity.robustness),
        single_faults: all_plain(&words::single_faults(scenario)),
        ratings: RatingEntry::all(scenario, &parts.ratings),
        ratings_together: KeptTogetherEntry::all(&parts.ratings),
        soft_switching: parts.switching.as_ref().map(SoftSwitchingSummary::new),
        ratings_with_sensors: RatingEntry::all(scenario, &sensed_parts.ratings),
        ratings_together_with_sensors: KeptTogetherEntry::all(&sensed_parts.ratings),
        soft_switching_with_sensors: sensed_parts.switching.as_ref().map(SoftSwitchingSummary::new),
        fault_matrix: FaultRowEntry::all(&study.faults),
        comparisons: Comparisons::new(study),
        variants: study.variants.iter().map(|v| VariantSummary::new(study, v)).collect(),
        good_in_one_alone: good_in_one_alone(study),
        break_even_searches: searches(scenario, study),
        stream: study.verification.stream,
    };
    SummaryFile::sampled("sensors", scenario, &study.settings, results)
}

/// Sentences with ordinary blanks.
fn all_plain(sentences: &[String]) -> Vec<String> {
    sentences.iter().map(|sentence| plain(sentence)).collect()
}

fn decision(scenario: &Scenario, study: &SensorStudy) -> DecisionSummary {
    let decision = study.decision();
    let cheapest = decision.cheapest;
    DecisionSummary {
        sensors_can_go: decision.chain,
        cheapest_that_meets: cheapest.map(Variant::letter),
        cost_per_good_converter: cheapest.and_then(|v| study.variant(v).price_per_good()),
        lowest_cost_secured: decision.is_lowest_cost_secured(),
        may_cost_less: decision.rivals().map(|(v, reason)| rival(study, v, reason)).collect(),
        confidence: scenario.limits.confidence,
        interval_confidence: study.joint_level(),
        fewest_samples: study.fewest_samples,
        yield_target: scenario.limits.yield_target,
    }
}

fn searches(scenario: &Scenario, study: &SensorStudy) -> Vec<SearchSummary> {
    let target = scenario.limits.yield_target;
    let all = study.sensitivities.iter();
    all.map(|search| SearchSummary::new(search, &study.robustness(search, target))).collect()
}

fn rival(study: &SensorStudy, variant: Variant, reason: CostDoubt) -> RivalSummary {
    let result = study.variant(variant);
    RivalSummary {
        letter: variant.letter(),
        reason,
        cost_per_good_converter: result.price_per_good(),
        samples_to_decide: result.samples_to_decide,
    }
}

fn good_in_one_alone(study: &SensorStudy) -> BTreeMap<String, u64> {
    let pairs = Variant::ALL.into_iter().flat_map(|v| Variant::ALL.map(|w| (v, w)));
    let counts = pairs.filter(|(v, w)| v != w).map(|(v, w)| {
        let key = format!("{} not {}", v.letter(), w.letter());
        (key, study.good_in_one_alone(v, w))
    });
    counts.collect()
}
