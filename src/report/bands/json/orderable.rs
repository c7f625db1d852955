//! The set of bands that can be ordered in the summary of `bands`.

use schemars::JsonSchema;
use serde::Serialize;

use super::verification::{VerificationResult, verification_result};
use crate::converter::Parameter;
use crate::report::format::json::MissedMost;
use crate::scenario::{Tolerance, ToleranceLetter};
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
    /// Lower end of the band.
    lower: f64,
    /// Upper end of the band.
    upper: f64,
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
    /// Lower end of the band.
    lower: f64,
    /// Upper end of the band.
    upper: f64,
    #[serde(rename = "yield")]
    searched_yield: Yield,
    binding: Option<MissedMost>,
    /// Samples of a run that may decide on it, where its interval holds the target; null where ten million
    /// would not, or where the samples are not what it lacks.
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
    /// A limit of the scenario, told by `binding`: the whole interval of the yield misses the target.
    #[serde(rename = "limit")]
    Limit,
    /// The number of samples: the interval holds the target, and the yield seen meets it.
    #[serde(rename = "samples")]
    Samples,
    /// The samples do not tell: the interval holds the target, and the yield seen misses it.
    #[serde(rename = "not decided")]
    NotDecided,
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
        bands: narrowest.map_or_else(|| ordered.collect(), |set| of_narrowest(found, set, bands)),
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

impl OrderedBand {
    fn new(bands: &Bands, parameter: Parameter, band: f64) -> Self {
        let own = bands.present.get(parameter).map(|own| own.with_band(band));
        let is_symmetric = own.as_ref().is_none_or(Tolerance::is_symmetric);
        let [lower, upper] = ends(bands, parameter, band);
        let letter = ToleranceLetter::of_band(band).filter(|_| is_symmetric);
        Self {
            parameter: parameter.key(),
            band,
            lower,
            upper,
            letter: letter.map(|known| known.letter),
            next_step: None,
            limited_by: None,
        }
    }
}

/// Both ends of a band with another half width.
fn ends(bands: &Bands, parameter: Parameter, band: f64) -> [f64; 2] {
    bands.present.get(parameter).map_or([-band, band], |own| own.with_band(band).ends())
}

fn of_narrowest(found: &OrderableSet, set: &SetOfSteps, bands: &Bands) -> Vec<OrderedBand> {
    let parts = found.parts.iter().zip(&set.places);
    parts.map(|(part, n)| OrderedBand::new(bands, part.parameter, part.steps[*n])).collect()
}

fn ordered_band(own: &OrderableBand, bands: &Bands) -> OrderedBand {
    OrderedBand {
        next_step: own.wider.as_ref().map(|wider| {
            let [lower, upper] = ends(bands, own.parameter, wider.band);
            NextStepResult {
                band: wider.band,
                lower,
                upper,
                searched_yield: wider.good,
                binding: wider.binding.as_ref().map(MissedMost::new),
                samples: bands.samples_for_step(own),
            }
        }),
        limited_by: Some(match bands.step_limit(own) {
            StepLimit::LastStep => StepLimitName::LastStep,
            StepLimit::WidestAsked => StepLimitName::Widest,
            StepLimit::Limit(_) => StepLimitName::Limit,
            StepLimit::Samples => StepLimitName::Samples,
            StepLimit::NotDecided(_) => StepLimitName::NotDecided,
            StepLimit::NotConfirmed => StepLimitName::FreshSamples,
        }),
        ..OrderedBand::new(bands, own.parameter, own.band)
    }
}
