//! The answer of `bands` in its summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::widest::varied_key;
use crate::converter::{Arrangement, Parameter};
use crate::report::format::json::MissedMost;
use crate::report::format::tolerance::{ToleranceInForce, TolerancesInForce};
use crate::statistics::{Verdict, Yield};
use crate::study::bands::{ArrangementBands, Bands, ProposalSource, Subject, WidestBand};

/// The answer.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct BandsDecision {
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
    /// Random stream of the verification run.
    stream: u64,
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

pub(super) fn decision(bands: &Bands) -> BandsDecision {
    let chain = bands.part(Arrangement::Chain);
    let together = chain.and_then(|part| part.row(Subject::Together));
    BandsDecision {
        verdict: chain.map(|part| part.verdict),
        margin: together.and_then(WidestBand::margin),
        binding: together.and_then(WidestBand::binding).map(MissedMost::new),
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
        stream: proposal.verification.source.stream,
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
        parameter: varied_key(row.subject),
        margin: row.margin(),
        margin_in_the_search: row.room(),
        passing_at_present: row.passing_at_present(),
        passing_if_exact: row.exact.successes,
        binding: row.binding().map(MissedMost::new),
    }
}
