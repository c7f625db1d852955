//! The summary of `compare`.

use schemars::JsonSchema;
use serde::Serialize;

use super::words;
use crate::report::format::summary::SummaryFile;
use crate::statistics::{Confidence, Difference, Interval, PairedCounts};
use crate::study::compare::{
    BasisChange, Compared, Comparison, Measured, Pairing, ReadResult, ReadYield, ValueChange,
    YieldChange,
};

/// What a comparison is made of.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CompareBasis {
    /// The verb whose results are compared.
    compared_verb: String,
    /// The results, the first of which all others are compared with.
    compared: Vec<ComparedResult>,
}

/// A result that was read.
#[derive(Debug, Serialize, JsonSchema)]
struct ComparedResult {
    /// A, B and so on.
    letter: String,
    /// Folder or file as it was named.
    path: String,
    /// Title of its scenario.
    title: String,
    /// Name of its scenario file.
    scenario: String,
    /// Version of the program that made it.
    version: String,
    /// How steady states were found.
    solver: String,
    seed: Option<u64>,
    stream: Option<u64>,
    samples: Option<u64>,
    /// Whether it was stopped before its end.
    partial: bool,
    /// Name of the set of grades to build; null where none is recommended, or the verb ranks none.
    recommended_set: Option<String>,
}

/// What `compare` found.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CompareResults {
    /// The answer, a sentence a result.
    headline: Vec<String>,
    /// What must be known before differences are read.
    warnings: Vec<String>,
    /// Level of the intervals, but of those that were stated at another one.
    confidence: Confidence,
    /// Every other result against the first.
    comparisons: Vec<ComparedEntry>,
}

/// A result against the first.
#[derive(Debug, Serialize, JsonSchema)]
struct ComparedEntry {
    /// Letter of the other result.
    letter: String,
    /// Values that differ in what the results were made of.
    scenario_changes: Vec<BasisEntry>,
    /// Yields that both have.
    yields: Vec<YieldEntry>,
    /// Other numbers that both have: ratings, sharing errors, costs, bands.
    values: Vec<ValueEntry>,
    /// Yields that one of the two has alone.
    in_one_alone: Vec<String>,
}

/// A value that differs.
#[derive(Debug, Serialize, JsonSchema)]
struct BasisEntry {
    /// Its place in the summary, or in the scenario as it is written.
    place: String,
    /// In the first result; null where it is not told.
    first: Option<String>,
    /// In the other.
    other: Option<String>,
}

/// A yield of both results.
#[derive(Debug, Serialize, JsonSchema)]
struct YieldEntry {
    /// Operating point, set of grades, or `all`.
    subject: String,
    /// `chain`, `paralleled`, a variant, or `recommended set`: the sets that the results recommend.
    arrangement: String,
    first: PassesEntry,
    other: PassesEntry,
    /// `paired`, `independent` or `own intervals`.
    compared: &'static str,
    /// The other less the first.
    difference: Difference,
    /// Samples by outcome, those that the other passes alone as `first`; null unless paired.
    samples: Option<PairedCounts>,
    /// McNemar's exact p-value; null unless paired.
    p_value: Option<f64>,
    /// Whether the samples show a difference.
    shown: bool,
}

/// Passes of a result.
#[derive(Debug, Serialize, JsonSchema)]
struct PassesEntry {
    successes: u64,
    trials: u64,
    /// The verdict; null where none was given.
    verdict: Option<String>,
}

/// A number of both results.
#[derive(Debug, Serialize, JsonSchema)]
struct ValueEntry {
    name: String,
    arrangement: String,
    first: Option<f64>,
    other: Option<f64>,
    /// The other over the first, less one; null where that cannot be told.
    relative: Option<f64>,
    first_interval: Option<Interval>,
    other_interval: Option<Interval>,
    /// Whether both intervals lie apart; null where one is not told.
    apart: Option<bool>,
}

pub(super) fn summary(found: &Comparison) -> SummaryFile<CompareResults, CompareBasis> {
    let others = found.others.iter().map(|own| &own.other);
    let all = std::iter::once(&found.first).chain(others).enumerate();
    let basis = CompareBasis {
        compared_verb: found.first.verb.clone(),
        compared: all.map(|(n, read)| ComparedResult::new(n, read)).collect(),
    };
    let entries = found.others.iter().enumerate();
    let results = CompareResults {
        headline: entries.clone().map(|(n, own)| words::answer(n, &found.first, own)).collect(),
        warnings: words::warnings(found),
        confidence: found.confidence,
        comparisons: entries.map(|(n, own)| ComparedEntry::new(n, own)).collect(),
    };
    SummaryFile::of_basis("compare", basis, results)
}

impl ComparedResult {
    fn new(place: usize, read: &ReadResult) -> Self {
        Self {
            letter: words::letter(place),
            path: read.name.clone(),
            title: read.title.clone(),
            scenario: read.scenario.clone(),
            version: read.version.clone(),
            solver: read.solver.clone(),
            seed: read.seed.map(|[seed, _]| seed),
            stream: read.seed.map(|[_, stream]| stream),
            samples: read.samples,
            partial: read.is_partial,
            recommended_set: read.recommended.clone(),
        }
    }
}

impl ComparedEntry {
    fn new(place: usize, own: &Compared) -> Self {
        let basis = |change: &BasisChange| BasisEntry {
            place: change.place.clone(),
            first: change.first.clone(),
            other: change.other.clone(),
        };
        Self {
            letter: words::letter(place + 1),
            scenario_changes: own.basis.iter().map(basis).collect(),
            yields: own.yields.iter().map(YieldEntry::new).collect(),
            values: own.values.iter().map(ValueEntry::new).collect(),
            in_one_alone: own.unmatched.clone(),
        }
    }
}

impl YieldEntry {
    fn new(change: &YieldChange) -> Self {
        let passes = |own: &ReadYield| PassesEntry {
            successes: own.passes.successes,
            trials: own.passes.trials,
            verdict: own.verdict.clone(),
        };
        Self {
            subject: change.first.subject.clone(),
            arrangement: change.first.arrangement.clone(),
            first: passes(&change.first),
            other: passes(&change.other),
            compared: match change.pairing {
                Pairing::Paired => "paired",
                Pairing::Independent => "independent",
                Pairing::OwnIntervals => "own intervals",
            },
            difference: change.difference,
            samples: change.paired,
            p_value: change.paired.map(|counts| counts.p_value()),
            shown: change.is_shown(),
        }
    }
}

impl ValueEntry {
    fn new(change: &ValueChange) -> Self {
        let interval =
            |own: &Measured| own.interval.map(|[lower, upper]| Interval { lower, upper });
        Self {
            name: change.first.name.clone(),
            arrangement: change.first.arrangement.clone(),
            first: change.first.value,
            other: change.other.value,
            relative: change.relative(),
            first_interval: interval(&change.first),
            other_interval: interval(&change.other),
            apart: change.is_apart(),
        }
    }
}
