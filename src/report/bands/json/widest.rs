//! The widest bands of an arrangement in the summary of `bands`.

use schemars::JsonSchema;
use serde::Serialize;

use super::verification::{VerificationResult, verification_result};
use crate::report::format::json::MissedMost;
use crate::statistics::{Verdict, Yield};
use crate::study::bands::line_search::TriedBand;
use crate::study::bands::verification::Verification;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, LimitedBy, Subject, WidestBand};

/// The bands of one arrangement.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct ArrangementResult {
    /// The starting bands on fresh samples.
    present: StartingResult,
    /// All bands together first, then each alone.
    widest: Vec<WidestResult>,
}

/// The starting bands of an arrangement on fresh samples.
#[derive(Debug, Serialize, JsonSchema)]
struct StartingResult {
    /// Random stream of the verification run.
    stream: u64,
    #[serde(rename = "yield")]
    verified_yield: Yield,
    /// Whether the arrangement has a limit.
    judged: bool,
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
    /// What more samples may show; null where nothing is confirmed, or nothing tried fails.
    more_samples: Option<MoreSamplesResult>,
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
    /// The number of samples: where the search first fails, the yield seen meets the target.
    #[serde(rename = "samples")]
    Samples,
}

/// What more samples may show of a row: estimates from the samples of the search.
#[derive(Debug, Serialize, JsonSchema)]
struct MoreSamplesResult {
    /// Band, or factor, at which the yield seen falls below the target.
    limit_at: f64,
    /// Whether no place tried misses the target: the limit may lie beyond `limit_at`.
    open_ended: bool,
    /// What is missed most there.
    binding: Option<MissedMost>,
    /// A band, or factor, halfway there from the confirmed one.
    shown_at: f64,
    /// Samples of a run that may show that; null where ten million would not.
    samples: Option<u64>,
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

/// The bands of one arrangement.
pub(super) fn arrangement_result(part: &ArrangementBands, bands: &Bands) -> ArrangementResult {
    let widest = part.rows.iter().map(|row| widest_result(row, bands)).collect();
    ArrangementResult { present: starting_result(part), widest }
}

fn starting_result(part: &ArrangementBands) -> StartingResult {
    StartingResult {
        stream: part.present.source.stream,
        verified_yield: part.present.good,
        judged: part.is_judged,
        verdict: part.told_verdict(),
        binding: part.present.binding.as_ref().map(MissedMost::new),
    }
}

fn widest_result(row: &WidestBand, bands: &Bands) -> WidestResult {
    let target = bands.rule.target;
    let verification =
        |run: &Verification| BandVerification { at: run.at, run: verification_result(run, target) };
    let violations = row.search.violations().into_iter();
    WidestResult {
        varied: varied_key(row.subject),
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
        more_samples: bands.more_samples(row).map(|more| MoreSamplesResult {
            limit_at: more.limit_at,
            open_ended: more.is_open_ended,
            binding: more.binding.map(MissedMost::new),
            shown_at: more.shown_at,
            samples: more.samples,
        }),
        binding: row.binding().map(MissedMost::new),
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
        binding: point.trial.binding.as_ref().map(MissedMost::new),
    }
}

/// The key of the parameter that is varied alone, or `together`.
pub(super) fn varied_key(subject: Subject) -> &'static str {
    match subject {
        Subject::Together => "together",
        Subject::Alone(parameter) => parameter.key(),
    }
}
