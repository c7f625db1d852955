//! The answer of `bands` in its summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::widest::varied_key;
use crate::converter::{Arrangement, Parameter};
use crate::report::format::json::MissedMost;
use crate::report::format::tolerance::{ToleranceInForce, TolerancesInForce};
use crate::statistics::{Difference, Verdict, Yield};
use crate::study::bands::{
    ArrangementBands, Bands, ComparedPart, CriticalComparison, ProposalSource, Subject, Variation,
    WidestBand,
};

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
    /// By the search, the band with the smallest margin; where bands do not pass, the one to tighten
    /// first. `secured` tells whether fresh samples show it.
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
    /// Steps that can be ordered: see `orderable`.
    #[serde(rename = "steps")]
    Steps,
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
    /// Whether it is told from every other part on fresh samples, at the confidence of one statement.
    /// True too of the only part there is.
    secured: bool,
    /// The parts compared on fresh samples; null where there was nothing to compare.
    comparison: Option<PartsCompared>,
}

/// The parts on the same fresh samples, each varied alone in the same way.
#[derive(Debug, Serialize, JsonSchema)]
struct PartsCompared {
    /// Each band is this many times as wide; null where each part is made exact.
    factor: Option<f64>,
    /// Random stream of the samples, used for nothing else.
    stream: u64,
    /// Yield with the critical band varied.
    #[serde(rename = "yield")]
    candidate_yield: Yield,
    /// The other parts that have a band.
    others: Vec<PartCompared>,
    /// The starting bands, where parts are made exact.
    starting_bands: Option<PartCompared>,
}

/// A part against the critical one.
#[derive(Debug, Serialize, JsonSchema)]
struct PartCompared {
    /// The part; null of the starting bands.
    parameter: Option<&'static str>,
    #[serde(rename = "yield")]
    compared_yield: Yield,
    /// Its yield less that with the critical band varied, with the paired interval.
    difference: Difference,
    mcnemar_p_value: f64,
    /// Whether the critical band differs from it in the right direction.
    told_apart: bool,
}

pub(super) fn decision(bands: &Bands) -> BandsDecision {
    let chain = bands.part(Arrangement::Chain);
    let together = chain.and_then(|part| part.row(Subject::Together));
    BandsDecision {
        verdict: chain.map(ArrangementBands::told_verdict),
        margin: together.and_then(WidestBand::margin),
        binding: together.and_then(WidestBand::binding).map(MissedMost::new),
        bands_to_specify: bands_to_specify(bands),
        widest_pair: widest_pair(bands),
        critical_band: chain.and_then(critical_band),
    }
}

fn bands_to_specify(bands: &Bands) -> Option<BandsToSpecify> {
    let proposal = bands.proposal()?;
    let (source, factor) = match proposal.source {
        ProposalSource::Cheapest => (SpecifiedSource::CheapestSet, None),
        ProposalSource::Steps => (SpecifiedSource::Steps, None),
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

fn critical_band(part: &ArrangementBands) -> Option<CriticalBand> {
    let row = part.critical()?;
    let comparison = part.comparison.as_ref();
    Some(CriticalBand {
        parameter: varied_key(row.subject),
        margin: row.margin(),
        margin_in_the_search: row.room(),
        passing_at_present: row.passing_at_present(),
        passing_if_exact: row.exact.successes,
        binding: row.binding().map(MissedMost::new),
        secured: comparison.map_or_else(|| part.has_room(), CriticalComparison::is_secured),
        comparison: comparison.map(PartsCompared::new),
    })
}

impl PartsCompared {
    fn new(found: &CriticalComparison) -> Self {
        Self {
            factor: match found.variation {
                Variation::Widened(factor) => Some(factor),
                Variation::Exact => None,
            },
            stream: found.source.stream,
            candidate_yield: found.good,
            others: found.others.iter().map(PartCompared::new).collect(),
            starting_bands: found.present.as_ref().map(PartCompared::new),
        }
    }
}

impl PartCompared {
    fn new(compared: &ComparedPart) -> Self {
        Self {
            parameter: compared.parameter.map(Parameter::key),
            compared_yield: compared.good,
            difference: compared.difference,
            mcnemar_p_value: compared.p_value,
            told_apart: compared.is_told_apart,
        }
    }
}
