//! The set of bands that can be ordered in the summary of `bands`.

use schemars::JsonSchema;
use serde::Serialize;

use super::verification::{VerificationResult, verification_result};
use crate::report::format::json::MissedMost;
use crate::scenario::ToleranceLetter;
use crate::statistics::Yield;
use crate::study::bands::orderable::{OrderEnding, OrderableBand, OrderableSet, SetOfSteps};
use crate::study::bands::{Bands, StepLimit};

/// A set of bands that can be ordered: every band is a step of the scenario.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct OrderableResult {
    ending: OrderableEnding,
    /// The bands of the set: the one verified last, or the narrowest steps where none was seen to meet the
    /// target. Empty where a part has no step.
    bands: Vec<OrderedBand>,
    /// Yield of that set on the samples of the search.
    searched_yield: Option<Yield>,
    /// The limit that the samples of the search missed most with that set.
    binding: Option<MissedMost>,
    verification_runs: Vec<VerificationResult>,
    /// Runs of the search for the set.
    runs: u64,
}

/// How the search for the set ended.
#[derive(Debug, Serialize, JsonSchema)]
enum OrderableEnding {
    /// Fresh samples confirm the set.
    #[serde(rename = "confirmed")]
    Confirmed,
    /// Even the narrowest steps miss the target.
    #[serde(rename = "every set misses the target")]
    EverySetMisses,
    /// No set is confirmed, and some may meet the target.
    #[serde(rename = "open")]
    Open,
    /// A part has no step as narrow as its widest band allowed.
    #[serde(rename = "no step")]
    NoStep,
}

/// A band of the set.
#[derive(Debug, Serialize, JsonSchema)]
struct OrderedBand {
    parameter: &'static str,
    band: f64,
    /// Its letter after IEC 60062; null where it has none.
    letter: Option<char>,
    /// One step wider, all other bands as they are; null at the last step, or where no set was searched.
    next_step: Option<NextStepResult>,
    /// What keeps it from the next step; null where no set was searched.
    limited_by: Option<StepLimitName>,
}

/// What the search saw one step wider.
#[derive(Debug, Serialize, JsonSchema)]
struct NextStepResult {
    band: f64,
    #[serde(rename = "yield")]
    searched_yield: Yield,
    binding: Option<MissedMost>,
    /// Samples of a run that may show it, where their number limits the band.
    samples: Option<u64>,
}

/// What keeps a band from its next step.
#[derive(Debug, Serialize, JsonSchema)]
enum StepLimitName {
    /// The scenario has no wider step.
    #[serde(rename = "last step")]
    LastStep,
    /// The next step is wider than the widest band that the scenario asks for.
    #[serde(rename = "widest")]
    Widest,
    /// A limit of the scenario, told by `binding`: the yield seen misses the target.
    #[serde(rename = "limit")]
    Limit,
    /// The number of samples: the yield seen meets the target, but its interval does not.
    #[serde(rename = "samples")]
    Samples,
    /// The search saw it meet the target, and fresh samples confirmed no wider set.
    #[serde(rename = "fresh samples")]
    FreshSamples,
}

pub(super) fn orderable_result(found: &OrderableSet, bands: &Bands) -> OrderableResult {
    let target = bands.rule.target;
    let set = found.set.as_ref();
    let narrowest = set.filter(|_| found.bands.is_empty());
    let ordered = found.bands.iter().map(|own| ordered_band(own, bands));
    OrderableResult {
        ending: match found.ending {
            OrderEnding::Confirmed => OrderableEnding::Confirmed,
            OrderEnding::NoneMeets if found.rules_out(target) => OrderableEnding::EverySetMisses,
            OrderEnding::NoneMeets | OrderEnding::NotConfirmed => OrderableEnding::Open,
            OrderEnding::NoStep => OrderableEnding::NoStep,
        },
        bands: narrowest.map_or_else(|| ordered.collect(), |set| of_narrowest(found, set)),
        searched_yield: set.map(|set| set.good),
        binding: set.and_then(|set| set.trial.binding.as_ref()).map(MissedMost::new),
        verification_runs: found
            .verifications
            .iter()
            .map(|run| verification_result(run, target))
            .collect(),
        runs: found.trials,
    }
}

fn letter(band: f64) -> Option<char> {
    ToleranceLetter::of_band(band).map(|known| known.letter)
}

fn of_narrowest(found: &OrderableSet, set: &SetOfSteps) -> Vec<OrderedBand> {
    let bands = found.parts.iter().zip(&set.places).map(|(part, place)| OrderedBand {
        parameter: part.parameter.key(),
        band: part.steps[*place],
        letter: letter(part.steps[*place]),
        next_step: None,
        limited_by: None,
    });
    bands.collect()
}

fn ordered_band(own: &OrderableBand, bands: &Bands) -> OrderedBand {
    OrderedBand {
        parameter: own.parameter.key(),
        band: own.band,
        letter: letter(own.band),
        next_step: own.wider.as_ref().map(|wider| NextStepResult {
            band: wider.band,
            searched_yield: wider.good,
            binding: wider.binding.as_ref().map(MissedMost::new),
            samples: bands.samples_for_step(own),
        }),
        limited_by: Some(match bands.step_limit(own) {
            StepLimit::LastStep => StepLimitName::LastStep,
            StepLimit::WidestAsked => StepLimitName::Widest,
            StepLimit::Limit(_) => StepLimitName::Limit,
            StepLimit::Samples => StepLimitName::Samples,
            StepLimit::NotConfirmed => StepLimitName::FreshSamples,
        }),
    }
}
