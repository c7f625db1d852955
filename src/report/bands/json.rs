//! The summary of `bands`.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::words::names;
use crate::converter::{Arrangement, Parameter};
use crate::report::format::json::{LimitsInForce, MissedMost, binding, limits, tolerances};
use crate::report::format::numbers::plain;
use crate::report::format::summary::SummaryFile;
use crate::report::format::tolerance::{ToleranceInForce, TolerancesInForce};
use crate::scenario::Scenario;
use crate::statistics::{Confidence, Verdict, Yield};
use crate::study::bands::cheapest::{Cheapest, Ending, Offered, Priced, PricedSet, TriedSet};
use crate::study::bands::line_search::{RESOLUTION, TriedBand};
use crate::study::bands::map::TradeMap;
use crate::study::bands::verification::{SHRINK, VERIFICATION_FACTOR, VERIFICATIONS, Verification};
use crate::study::bands::{
    ArrangementBands, BandOutcome, Bands, LimitedBy, ProposalSource, Subject, WidestBand,
};

/// How wide each tolerance band may be. Bands are half widths, fractions of the nominal value.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct BandsResults {
    /// Whether the search was interrupted: what is here is whole as far as it goes.
    partial: bool,
    /// What was discarded or not begun when the search was interrupted; null where it was not.
    unfinished: Option<String>,
    /// Number of runs with `samples` samples each: those of the searches and of the map.
    runs: u64,
    /// Number of verification runs, each on fresh samples that no search used.
    verification_runs: u64,
    /// Samples of a verification run.
    verification_samples: u64,
    /// The bands that verdict, margins and map refer to: `present bands` of the scenario, or the
    /// cheapest confirmed `set on offer` where parts on offer have no tolerance in the scenario.
    starting_bands: &'static str,
    limits: LimitsInForce,
    /// Tolerances of the scenario.
    tolerances: TolerancesInForce,
    method: BandsMethod,
    decision: BandsDecision,
    confidence: StatementsConfidence,
    /// Widest bands by arrangement: `chain` and `paralleled`, as far as the search came.
    arrangements: BTreeMap<&'static str, ArrangementResult>,
    /// The cheapest set of parts on offer; null where the scenario gives no prices.
    cheapest: Option<CheapestResult>,
    /// The map of two bands; null where the scenario has only one, or the search did not reach it.
    trade_off: Option<TradeOff>,
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

/// The answer.
#[derive(Debug, Serialize, JsonSchema)]
struct BandsDecision {
    /// What the starting bands of the chain say about the yield target.
    verdict: Option<Verdict>,
    /// The largest confirmed factor of all bands of the chain; null where none is.
    margin: Option<f64>,
    /// The limit missed most often just beyond that factor.
    binding: Option<MissedMost>,
    /// The whole set of bands to specify; null where fresh samples confirmed none.
    bands_to_specify: Option<BandsToSpecify>,
    /// Where the starting bands do not pass: the pair of the largest product on the map that does.
    widest_pair: Option<WidestPair>,
    /// The band with the smallest margin; where bands do not pass, the one to tighten first.
    critical_band: Option<CriticalBand>,
}

/// A whole set of bands that fresh samples confirm.
#[derive(Debug, Serialize, JsonSchema)]
struct BandsToSpecify {
    source: SpecifiedSource,
    /// The factor of all bands, where they come from a common factor.
    factor: Option<f64>,
    /// Parameters that the factor would make wider than the scenario asks for; they stay there.
    clipped: Vec<&'static str>,
    tolerances: TolerancesInForce,
    /// Seed of the verification run.
    seed: u64,
    /// Yield in the verification run.
    #[serde(rename = "yield")]
    confirmed_yield: Yield,
}

/// Where the bands to specify come from.
#[derive(Debug, Serialize, JsonSchema)]
enum SpecifiedSource {
    /// The cheapest set of parts on offer.
    #[serde(rename = "cheapest set")]
    CheapestSet,
    /// All present bands times one factor.
    #[serde(rename = "common factor")]
    CommonFactor,
    /// The only band of the scenario.
    #[serde(rename = "only band")]
    OnlyBand,
}

/// A pair of bands on the map that meets the target.
#[derive(Debug, Serialize, JsonSchema)]
struct WidestPair {
    parameters: [&'static str; 2],
    /// Their bands.
    bands: [f64; 2],
}

/// The band that limits the converter most.
#[derive(Debug, Serialize, JsonSchema)]
struct CriticalBand {
    parameter: &'static str,
    /// Confirmed band as a multiple of the starting band.
    margin: Option<f64>,
    /// The same by the search alone: bands are compared by it, on common samples.
    margin_in_the_search: f64,
    /// Samples of the search that pass with the starting bands.
    passing_at_present: u64,
    /// Samples of the search that pass with this part exact.
    passing_if_exact: u64,
    binding: Option<MissedMost>,
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

/// The bands of one arrangement.
#[derive(Debug, Serialize, JsonSchema)]
struct ArrangementResult {
    /// The starting bands on fresh samples.
    present: StartingResult,
    /// All bands together first, then each alone.
    widest: Vec<WidestResult>,
}

/// The starting bands of an arrangement on fresh samples.
#[derive(Debug, Serialize, JsonSchema)]
struct StartingResult {
    /// Seed of the verification run.
    seed: u64,
    #[serde(rename = "yield")]
    verified_yield: Yield,
    verdict: Verdict,
    binding: Option<MissedMost>,
}

/// How wide one band, or all bands together, can be.
#[derive(Debug, Serialize, JsonSchema)]
struct WidestResult {
    /// The key of the parameter that is varied alone, or `together` for all by one factor.
    varied: &'static str,
    unit: WidthUnit,
    /// The starting band, or 1 for the factor.
    present: f64,
    outcome: WidestOutcome,
    /// Widest that met the target in the search, and nothing narrower failed.
    found: Option<f64>,
    /// Narrowest that failed in the search; null where none did.
    fails_from: Option<f64>,
    /// The widest tried at most.
    widest_allowed: f64,
    /// Widest that fresh samples confirm; null where none is.
    confirmed: Option<f64>,
    /// The confirmed one as a multiple of the starting band.
    margin: Option<f64>,
    limited_by: Option<BandLimit>,
    /// The limit missed most often at the narrowest band that failed.
    binding: Option<MissedMost>,
    verification_runs: Vec<BandVerification>,
    /// All runs of the search, from narrow to wide.
    points: Vec<SearchPoint>,
    /// Neighbours among the points, the narrower first, of which the wider one does better.
    trend_violations: Vec<[f64; 2]>,
}

/// What the numbers of a row are.
#[derive(Debug, Serialize, JsonSchema)]
enum WidthUnit {
    /// A factor of all starting bands.
    #[serde(rename = "factor")]
    Factor,
    /// A band, a fraction of the nominal value.
    #[serde(rename = "band")]
    Band,
}

/// What search and verification come to.
#[derive(Debug, Serialize, JsonSchema)]
enum WidestOutcome {
    /// Even a band of zero misses the target.
    #[serde(rename = "even a band of zero misses")]
    NoneMeets,
    /// The samples do not decide.
    #[serde(rename = "open")]
    Open,
    /// The widest band allowed meets the target.
    #[serde(rename = "the widest band allowed meets")]
    WidestAllowed,
    /// Fresh samples confirm a band.
    #[serde(rename = "confirmed")]
    Confirmed,
}

/// What keeps a band from being wider.
#[derive(Debug, Serialize, JsonSchema)]
enum BandLimit {
    /// A limit of the scenario, told by `binding`.
    #[serde(rename = "limit")]
    Limit,
    /// The widest band that the scenario asks for.
    #[serde(rename = "widest")]
    Widest,
    /// The number of samples: one failure fails a run of the search.
    #[serde(rename = "samples")]
    Samples,
}

/// A run of the search.
#[derive(Debug, Serialize, JsonSchema)]
struct SearchPoint {
    /// The band, or the factor.
    at: f64,
    #[serde(rename = "yield")]
    searched_yield: Yield,
    /// Whether the lower end of the interval meets the target.
    meets: bool,
    binding: Option<MissedMost>,
}

/// A verification run of a band.
#[derive(Debug, Serialize, JsonSchema)]
struct BandVerification {
    /// The band, or the factor.
    at: f64,
    #[serde(flatten)]
    run: VerificationResult,
}

/// A verification run of a set of parts.
#[derive(Debug, Serialize, JsonSchema)]
struct SetVerification {
    /// Price of the parts of one converter, in the unit of the scenario's prices.
    price: f64,
    #[serde(flatten)]
    run: VerificationResult,
}

/// A run on fresh samples.
#[derive(Debug, Serialize, JsonSchema)]
struct VerificationResult {
    /// Seed of the samples, used for nothing else.
    seed: u64,
    #[serde(rename = "yield")]
    verified_yield: Yield,
    /// Whether the lower end of the interval meets the target.
    meets: bool,
    /// `meets`, `open` (the target is inside the interval) or `misses`.
    result: &'static str,
    binding: Option<MissedMost>,
}

/// The cheapest set of parts on offer.
#[derive(Debug, Serialize, JsonSchema)]
struct CheapestResult {
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
    cheapest_open_sets: Vec<SetWithPrice>,
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
    offers: Vec<Offer>,
    /// Band of the chosen part.
    band: Option<f64>,
    /// Name of the chosen part.
    name: Option<String>,
}

/// A part on offer.
#[derive(Debug, Serialize, JsonSchema)]
struct Offer {
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

/// A set as the search saw it.
#[derive(Debug, Serialize, JsonSchema)]
struct SearchedSet {
    set: SetWithPrice,
    #[serde(rename = "yield")]
    searched_yield: Yield,
    binding: Option<MissedMost>,
}

/// The yield over two bands, all others as they are. Grids hold one row per band of the second
/// parameter, and in it one value per band of the first.
#[derive(Debug, Serialize, JsonSchema)]
struct TradeOff {
    parameters: [&'static str; 2],
    /// Their starting bands.
    present: [f64; 2],
    /// The bands along both axes.
    bands: [Vec<f64>; 2],
    /// Seed of all points of the grid, used for nothing else.
    seed: u64,
    /// Confidence level of the two-sided interval at a point.
    confidence: Confidence,
    /// `meets`, `open` or `misses`.
    result: Vec<Vec<&'static str>>,
    /// Yield seen.
    estimate: Vec<Vec<f64>>,
    /// Lower end of its interval.
    lower: Vec<Vec<f64>>,
    /// Upper end of its interval.
    upper: Vec<Vec<f64>>,
    /// Pairs of bands where the lower end crosses the target: what is inside meets it.
    inner_boundary: Vec<[f64; 2]>,
    /// Pairs of bands where the upper end crosses the target: what is beyond misses it.
    outer_boundary: Vec<[f64; 2]>,
    /// Neighbours of which only the wider one meets the target.
    trend_violations: usize,
}

/// The summary: every figure with its interval, and the seeds of search and verification.
pub(super) fn summary(scenario: &Scenario, bands: &Bands) -> SummaryFile<BandsResults> {
    let arrangements = bands.parts.iter().map(|part| {
        let widest = part.rows.iter().map(|row| widest_result(row, bands)).collect();
        (part.arrangement.name(), ArrangementResult { present: starting_result(part), widest })
    });
    let results = BandsResults {
        partial: bands.is_partial(),
        unfinished: bands.is_partial().then(|| plain(&names::unfinished(bands))),
        runs: bands.trials,
        verification_runs: bands.verifications,
        verification_samples: VERIFICATION_FACTOR * bands.settings.samples,
        starting_bands: names::starting_bands(bands),
        limits: limits(scenario),
        tolerances: tolerances(scenario),
        method: method(scenario, bands),
        decision: decision(bands),
        confidence: StatementsConfidence {
            error_of_each_statement: bands.error_each(),
            statements: bands.statements(),
            all_together: bands.confidence_together(),
        },
        arrangements: arrangements.collect(),
        cheapest: bands.cheapest.as_ref().map(|found| cheapest_result(found, bands.rule.target)),
        trade_off: bands.map.as_ref().map(|map| trade_off(map, bands)),
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

fn decision(bands: &Bands) -> BandsDecision {
    let chain = bands.part(Arrangement::Chain);
    let together = chain.and_then(|part| part.row(Subject::Together));
    BandsDecision {
        verdict: chain.map(|part| part.verdict),
        margin: together.and_then(WidestBand::margin),
        binding: together.and_then(WidestBand::binding).map(binding),
        bands_to_specify: bands_to_specify(bands),
        widest_pair: widest_pair(bands),
        critical_band: chain.and_then(ArrangementBands::critical).map(critical_band),
    }
}

fn bands_to_specify(bands: &Bands) -> Option<BandsToSpecify> {
    let proposal = bands.proposal()?;
    let (source, factor) = match proposal.source {
        ProposalSource::Cheapest => (SpecifiedSource::CheapestSet, None),
        ProposalSource::Factor(factor) => (SpecifiedSource::CommonFactor, Some(factor)),
        ProposalSource::Only(_) => (SpecifiedSource::OnlyBand, None),
    };
    let clipped = factor.map(|factor| bands.clipped(factor)).unwrap_or_default();
    Some(BandsToSpecify {
        source,
        factor,
        clipped: clipped.into_iter().map(Parameter::key).collect(),
        tolerances: ToleranceInForce::all(&proposal.tolerances),
        seed: proposal.verification.seed,
        confirmed_yield: proposal.verification.good,
    })
}

fn widest_pair(bands: &Bands) -> Option<WidestPair> {
    bands.part(Arrangement::Chain).filter(|part| part.verdict != Verdict::Pass)?;
    let map = bands.map.as_ref()?;
    Some(WidestPair { parameters: map.pair.map(Parameter::key), bands: map.widest_pair()? })
}

fn critical_band(row: &WidestBand) -> CriticalBand {
    CriticalBand {
        parameter: varied(row.subject),
        margin: row.margin(),
        margin_in_the_search: row.room(),
        passing_at_present: row.passing_at_present(),
        passing_if_exact: row.exact.successes,
        binding: row.binding().map(binding),
    }
}

fn varied(subject: Subject) -> &'static str {
    match subject {
        Subject::Together => "together",
        Subject::Alone(parameter) => parameter.key(),
    }
}

fn starting_result(part: &ArrangementBands) -> StartingResult {
    StartingResult {
        seed: part.present.seed,
        verified_yield: part.present.good,
        verdict: part.verdict,
        binding: part.present.binding.as_ref().map(binding),
    }
}

fn widest_result(row: &WidestBand, bands: &Bands) -> WidestResult {
    let target = bands.rule.target;
    let verification =
        |run: &Verification| BandVerification { at: run.at, run: verification_result(run, target) };
    let violations = row.search.violations().into_iter();
    WidestResult {
        varied: varied(row.subject),
        unit: match row.subject {
            Subject::Together => WidthUnit::Factor,
            Subject::Alone(_) => WidthUnit::Band,
        },
        present: row.present,
        outcome: match row.outcome() {
            BandOutcome::NoneMeets => WidestOutcome::NoneMeets,
            BandOutcome::Open(_) => WidestOutcome::Open,
            BandOutcome::AllMeet(_) => WidestOutcome::WidestAllowed,
            BandOutcome::Confirmed(_) => WidestOutcome::Confirmed,
        },
        found: row.search.widest().map(|point| point.at),
        fails_from: row.search.failing().map(|point| point.at),
        widest_allowed: row.search.top,
        confirmed: row.confirmed().map(|run| run.at),
        margin: row.margin(),
        limited_by: bands.limited_by(row).map(band_limit),
        binding: row.binding().map(binding),
        verification_runs: row.verifications.iter().map(verification).collect(),
        points: row.search.points.iter().map(search_point).collect(),
        trend_violations: violations.map(|(narrow, wide)| [narrow, wide]).collect(),
    }
}

fn band_limit(limit: LimitedBy) -> BandLimit {
    match limit {
        LimitedBy::Limit(_) => BandLimit::Limit,
        LimitedBy::WidestAsked => BandLimit::Widest,
        LimitedBy::Samples => BandLimit::Samples,
    }
}

fn search_point(point: &TriedBand) -> SearchPoint {
    SearchPoint {
        at: point.at,
        searched_yield: point.good,
        meets: point.meets,
        binding: point.trial.binding.as_ref().map(binding),
    }
}

fn verification_result(run: &Verification, target: f64) -> VerificationResult {
    VerificationResult {
        seed: run.seed,
        verified_yield: run.good,
        meets: run.meets,
        result: names::outcome(run.good.verdict(target)),
        binding: run.binding.as_ref().map(binding),
    }
}

fn cheapest_result(found: &Cheapest, target: f64) -> CheapestResult {
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
        cheapest_open_sets: found.passed_over.iter().map(set_with_price).collect(),
        best_in_the_search: found.best.as_ref().map(searched_set),
        runs: found.trials,
        trend_violations: found.violations,
    }
}

fn part_on_offer(part: &Priced, found: &Cheapest) -> PartOnOffer {
    let offer = |part: &Offered| Offer {
        name: part.name.clone(),
        tolerance: ToleranceInForce::new(part.tolerance),
        price: part.price,
    };
    let chosen = found.chosen(part.parameter);
    PartOnOffer {
        parameter: part.parameter.key(),
        parts_per_converter: part.count,
        offers: part.offers.iter().map(offer).collect(),
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

fn searched_set(best: &TriedSet) -> SearchedSet {
    SearchedSet {
        set: set_with_price(&best.choice),
        searched_yield: best.good,
        binding: best.binding.as_ref().map(binding),
    }
}

fn trade_off(map: &TradeMap, bands: &Bands) -> TradeOff {
    let rows = || map.cells.chunks(map.axes[0].len());
    let grid = |value: fn(&Yield) -> f64| {
        rows().map(|row| row.iter().map(|cell| value(&cell.good)).collect()).collect()
    };
    let result =
        rows().map(|row| row.iter().map(|cell| names::map_point(cell.verdict)).collect()).collect();
    TradeOff {
        parameters: map.pair.map(Parameter::key),
        present: map.present,
        bands: map.axes.clone(),
        seed: map.seed,
        confidence: bands.rule.map,
        result,
        estimate: grid(|good| good.estimate),
        lower: grid(|good| good.lower),
        upper: grid(|good| good.upper),
        inner_boundary: map.inner.clone(),
        outer_boundary: map.outer.clone(),
        trend_violations: map.violations,
    }
}
