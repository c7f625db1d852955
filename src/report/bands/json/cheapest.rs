//! The cheapest set of parts on offer in the summary of `bands`.

use schemars::JsonSchema;
use serde::Serialize;

use super::verification::{VerificationResult, verification_result};
use crate::report::format::json::MissedMost;
use crate::report::format::tolerance::{ToleranceInForce, TolerancesInForce};
use crate::statistics::Yield;
use crate::study::bands::Bands;
use crate::study::bands::cheapest::{
    Cheapest, Ending, Offered, OpenSet, Priced, PricedSet, TriedSet,
};
use crate::study::bands::verification::Verification;

/// The cheapest set of parts on offer.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct CheapestResult {
    ending: CheapestEnding,
    parts: Vec<PartOnOffer>,
    /// Price of the chosen parts of one converter, in the unit of the scenario's prices.
    price_per_converter: Option<f64>,
    verification_runs: Vec<SetVerification>,
    /// Number of sets on offer.
    sets: usize,
    /// Number of sets that neither meet nor miss the target: cheaper ones where a set is confirmed.
    open_sets: usize,
    /// The cheapest of the open sets.
    cheapest_open_sets: Vec<OpenSetResult>,
    /// Where no set is confirmed: the set with the highest yield in the search.
    best_in_the_search: Option<SearchedSet>,
    /// Runs of the search for the cheapest set.
    runs: u64,
    /// Sets one step narrower than the chosen one that fail.
    trend_violations: usize,
}

/// How the search for the cheapest set ended.
#[derive(Debug, Serialize, JsonSchema)]
enum CheapestEnding {
    /// Fresh samples confirm the set.
    #[serde(rename = "confirmed")]
    Confirmed,
    /// Every set on offer misses the target.
    #[serde(rename = "every set misses the target")]
    EverySetMisses,
    /// No set is confirmed, and some may meet the target.
    #[serde(rename = "open")]
    Open,
    /// The search ended at its limit of runs.
    #[serde(rename = "too many runs")]
    TooManyRuns,
}

/// All that is on offer for a parameter.
#[derive(Debug, Serialize, JsonSchema)]
struct PartOnOffer {
    parameter: &'static str,
    /// How many of the part a converter has.
    parts_per_converter: usize,
    offers: Vec<OfferedPart>,
    /// Band of the chosen part.
    band: Option<f64>,
    /// Name of the chosen part.
    name: Option<String>,
}

/// A part on offer.
#[derive(Debug, Serialize, JsonSchema)]
struct OfferedPart {
    name: Option<String>,
    tolerance: ToleranceInForce,
    /// Price of one part, in the unit of the scenario's prices.
    price: f64,
}

/// A set of parts with its price.
#[derive(Debug, Serialize, JsonSchema)]
struct SetWithPrice {
    /// Price of the parts of one converter, in the unit of the scenario's prices.
    price_per_converter: f64,
    tolerances: TolerancesInForce,
}

/// A set that neither meets nor misses the target.
#[derive(Debug, Serialize, JsonSchema)]
struct OpenSetResult {
    #[serde(flatten)]
    set: SetWithPrice,
    /// Yield in the search; null if the set was not tried.
    #[serde(rename = "yield")]
    searched_yield: Option<Yield>,
    /// Samples of a run that may decide, if the yield is the one seen; null where ten million would not.
    samples: Option<u64>,
}

/// A set as the search saw it.
#[derive(Debug, Serialize, JsonSchema)]
struct SearchedSet {
    set: SetWithPrice,
    #[serde(rename = "yield")]
    searched_yield: Yield,
    binding: Option<MissedMost>,
}

/// A verification run of a set of parts.
#[derive(Debug, Serialize, JsonSchema)]
struct SetVerification {
    /// Price of the parts of one converter, in the unit of the scenario's prices.
    price: f64,
    #[serde(flatten)]
    run: VerificationResult,
}

pub(super) fn cheapest_result(found: &Cheapest, bands: &Bands) -> CheapestResult {
    let target = bands.rule.target;
    let verification = |run: &Verification| SetVerification {
        price: run.at,
        run: verification_result(run, target),
    };
    CheapestResult {
        ending: match found.ending {
            Ending::Confirmed => CheapestEnding::Confirmed,
            Ending::NoneMeets if found.open == 0 => CheapestEnding::EverySetMisses,
            Ending::NoneMeets | Ending::NotConfirmed => CheapestEnding::Open,
            Ending::TooManyTrials => CheapestEnding::TooManyRuns,
        },
        parts: found.catalogue.priced.iter().map(|part| part_on_offer(part, found)).collect(),
        price_per_converter: found.choice.as_ref().map(|choice| choice.price),
        verification_runs: found.verifications.iter().map(verification).collect(),
        sets: found.catalogue.sets.len(),
        open_sets: found.open,
        cheapest_open_sets: found.passed_over.iter().map(|open| open_set(open, bands)).collect(),
        best_in_the_search: found.best.as_ref().map(searched_set),
        runs: found.trials,
        trend_violations: found.violations,
    }
}

fn part_on_offer(part: &Priced, found: &Cheapest) -> PartOnOffer {
    let offered_part = |part: &Offered| OfferedPart {
        name: part.name.clone(),
        tolerance: ToleranceInForce::new(&part.tolerance),
        price: part.price,
    };
    let chosen = found.chosen(part.parameter);
    PartOnOffer {
        parameter: part.parameter.key(),
        parts_per_converter: part.count,
        offers: part.offers.iter().map(offered_part).collect(),
        band: chosen.map(|part| part.tolerance.band),
        name: chosen.and_then(|part| part.name.clone()),
    }
}

fn set_with_price(choice: &PricedSet) -> SetWithPrice {
    SetWithPrice {
        price_per_converter: choice.price,
        tolerances: ToleranceInForce::all(&choice.tolerances),
    }
}

fn open_set(open: &OpenSet, bands: &Bands) -> OpenSetResult {
    OpenSetResult {
        set: set_with_price(&open.choice),
        searched_yield: open.good,
        samples: bands.samples_for_open_set(open),
    }
}

fn searched_set(best: &TriedSet) -> SearchedSet {
    SearchedSet {
        set: set_with_price(&best.choice),
        searched_yield: best.good,
        binding: best.binding.as_ref().map(MissedMost::new),
    }
}
