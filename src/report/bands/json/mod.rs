//! The summary of `bands`: what it holds and how it is filled, one file a part.

mod cheapest;
mod decision;
mod orderable;
mod trade_off;
mod verification;
mod widest;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use self::cheapest::{CheapestResult, cheapest_result};
use self::decision::{BandsDecision, decision};
use self::orderable::{OrderableResult, orderable_result};
use self::trade_off::{ExcludedPairSummary, TradeOff, trade_off};
use self::widest::{ArrangementResult, arrangement_result};
use super::words::names;
use crate::converter::Parameter;
use crate::report::format::json::LimitsInForce;
use crate::report::format::numbers::plain;
use crate::report::format::summary::SummaryFile;
use crate::report::format::switching::json::SharingShiftEntry;
use crate::report::format::tolerance::{CorrelationInForce, ToleranceInForce, TolerancesInForce};
use crate::report::format::what_if::json::WhatIfEntry;
use crate::scenario::Scenario;
use crate::statistics::Confidence;
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::rule::{VERIFICATION_FACTOR, VERIFICATIONS};
use crate::study::bands::verification::SHRINK;
use crate::study::bands::{Bands, OtherAssumptions};

/// How wide each tolerance band may be. Bands are half widths, fractions of the nominal value.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct BandsResults {
    /// By how much the dead time shifts sharing of the nominal chain at most, which the yields leave out; null where
    /// that is small, or nothing describes the switches.
    sharing_shift: Option<SharingShiftEntry>,
    /// Whether the search was interrupted: what is here is whole as far as it goes.
    partial: bool,
    /// What was discarded or not begun when the search was interrupted; null where it was not.
    unfinished: Option<String>,
    /// Number of runs with `samples` samples each: those of the searches and of the map.
    runs: u64,
    /// Number of runs on fresh samples that no search used, as long as a verification run: verifications and
    /// comparisons of bands.
    verification_runs: u64,
    /// Samples of a verification run.
    verification_samples: u64,
    /// The bands that verdict, margins and map refer to: `present bands` of the scenario, or the
    /// cheapest confirmed `set on offer` where parts on offer have no tolerance in the scenario.
    starting_bands: &'static str,
    limits: LimitsInForce,
    /// Tolerances of the scenario.
    tolerances: TolerancesInForce,
    /// Which parameters vary together; all others scatter independently.
    correlations: Vec<CorrelationInForce>,
    /// Parameters whose parts are measured: nobody can order them with another band, so none is searched.
    measured_parts: Vec<Parameter>,
    method: BandsMethod,
    decision: BandsDecision,
    confidence: StatementsConfidence,
    /// Widest bands by arrangement: `chain` and `paralleled`, as far as the search came.
    arrangements: BTreeMap<&'static str, ArrangementResult>,
    /// The cheapest set of parts on offer; null where the scenario gives no prices.
    cheapest: Option<CheapestResult>,
    /// The set of bands that can be ordered; null where the scenario gives prices, or where the search did
    /// not reach it.
    orderable: Option<OrderableResult>,
    /// The map of two bands; null where the scenario has only one, where no pair meets the target, or
    /// where the search did not reach it.
    trade_off: Option<TradeOff>,
    /// Two bands of which no pair meets the target, so that there is no map; null where there is one.
    excluded_pair: Option<ExcludedPairSummary>,
    /// The recommended set under other assumptions about its parts, each changed alone: the bands to
    /// specify, else the present bands if they pass.
    what_if: Vec<WhatIfEntry>,
    /// The fresh samples of these; null where there are none.
    what_if_draws: Option<WhatIfDraws>,
}

/// How bands are searched and verified.
#[derive(Debug, Serialize, JsonSchema)]
struct BandsMethod {
    /// Seed of all runs of the search.
    search_seed: u64,
    /// Confidence level of the two-sided intervals in the search.
    search_confidence: Confidence,
    /// The widest band is searched to this share of itself.
    resolution: f64,
    /// The widest band that the scenario asks for.
    widest: f64,
    /// Most verification runs of a row.
    verification_runs_at_most: usize,
    /// Confidence level of the two-sided interval of each verification run.
    verification_confidence: Confidence,
    /// The verification runs of a row try these shares of the band found, in this order.
    verified_shares: [f64; VERIFICATIONS],
}

/// The samples of the set under other assumptions.
#[derive(Debug, Serialize, JsonSchema)]
struct WhatIfDraws {
    /// Random stream of the samples, used for nothing else.
    stream: u64,
    /// Samples of each assumption.
    samples: u64,
    /// Those of them that pass under the scenario's own assumptions.
    passing: u64,
}

impl WhatIfDraws {
    fn new(found: &OtherAssumptions) -> Self {
        let OtherAssumptions { source, samples, passing, .. } = found;
        Self { stream: source.stream, samples: *samples, passing: *passing }
    }
}

/// How sure the statements are.
#[derive(Debug, Serialize, JsonSchema)]
struct StatementsConfidence {
    /// Highest probability that one statement is wrong.
    error_of_each_statement: f64,
    /// Number of statements.
    statements: usize,
    /// Lowest confidence with which all statements hold together; 0 claims nothing.
    all_together: f64,
}

/// The summary: every figure with its interval, and the seeds of search and verification.
pub(in crate::report::bands) fn summary(
    scenario: &Scenario,
    bands: &Bands,
) -> SummaryFile<BandsResults> {
    let arrangements =
        bands.parts.iter().map(|part| (part.arrangement.name(), arrangement_result(part, bands)));
    let results = BandsResults {
        sharing_shift: bands.sharing_shift.as_ref().map(SharingShiftEntry::new),
        partial: bands.is_partial(),
        unfinished: bands.is_partial().then(|| plain(&names::unfinished(bands))),
        runs: bands.trials,
        verification_runs: bands.verifications,
        verification_samples: VERIFICATION_FACTOR * bands.settings.samples,
        starting_bands: names::starting_bands(bands),
        limits: LimitsInForce::new(scenario),
        tolerances: ToleranceInForce::all(&scenario.tolerances),
        correlations: CorrelationInForce::all(&scenario.tolerances),
        measured_parts: bands.measured().collect(),
        method: method(scenario, bands),
        decision: decision(bands),
        confidence: StatementsConfidence {
            error_of_each_statement: bands.error_each(),
            statements: bands.statements(),
            all_together: bands.confidence_together(),
        },
        arrangements: arrangements.collect(),
        cheapest: bands.cheapest.as_ref().map(|found| cheapest_result(found, bands)),
        orderable: bands.orderable.as_ref().map(|found| orderable_result(found, bands)),
        trade_off: bands.map.as_ref().map(|map| trade_off(map, bands)),
        excluded_pair: bands.excluded_pair.as_ref().map(ExcludedPairSummary::new),
        what_if: WhatIfEntry::all(bands.other_assumptions.as_ref().map(|found| &found.what_if)),
        what_if_draws: bands.other_assumptions.as_ref().map(WhatIfDraws::new),
    };
    SummaryFile::sampled("bands", scenario, &bands.settings, results)
}

fn method(scenario: &Scenario, bands: &Bands) -> BandsMethod {
    BandsMethod {
        search_seed: bands.settings.seed,
        search_confidence: bands.rule.shared,
        resolution: RESOLUTION,
        widest: scenario.bands.widest,
        verification_runs_at_most: VERIFICATIONS,
        verification_confidence: bands.rule.shared,
        verified_shares: SHRINK,
    }
}
