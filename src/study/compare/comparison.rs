//! What differs between results, and which differences the samples show.

use std::collections::BTreeMap;

use super::error::CompareError;
use super::passes::{PassKey, PassReader};
use super::read::{Measured, ReadResult, ReadYield};
use crate::scenario::is_same_value;
use crate::statistics::{
    Confidence, Difference, HIGHEST_SQUARED_LEVEL, PairedCounts, Passes, StatisticsError, Yield,
    independent_difference,
};

/// By how much two equal levels may differ.
const ROUNDING: f64 = 1e-12;

/// How two yields are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pairing {
    /// Sample by sample: both were made from the same seed, and both list their samples.
    Paired,
    /// As yields of different samples.
    Independent,
    /// By an interval of each, whatever ties them together: the level is what both leave of certainty.
    OwnIntervals,
}

/// A value that was told, or told otherwise, in one of two results.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BasisChange {
    /// Its place in the summary.
    pub place: String,
    /// In the first result.
    pub first: Option<String>,
    /// In the other.
    pub other: Option<String>,
}

/// A yield of both results.
#[derive(Debug, Clone, PartialEq)]
pub struct YieldChange {
    /// In the first result.
    pub first: ReadYield,
    /// In the other.
    pub other: ReadYield,
    /// How they are compared.
    pub pairing: Pairing,
    /// The other less the first.
    pub difference: Difference,
    /// Of a paired comparison: McNemar's p-value, and the samples gained and lost.
    pub paired: Option<PairedCounts>,
    /// Whether its interval has the level that was asked for. Intervals of a sampling that a rule ended, or of
    /// measured parts, keep the levels that they were stated at.
    pub has_asked_level: bool,
}

impl YieldChange {
    /// Whether both were judged: a yield without limits says nothing against another.
    pub fn is_judged(&self) -> bool {
        self.first.is_judged && self.other.is_judged
    }

    /// Whether the samples show a difference: its interval excludes zero at the level asked for, and of pairs
    /// McNemar's exact test does too. None is shown where a side is not judged.
    pub fn is_shown(&self) -> bool {
        let excluded = self.is_judged() && self.has_asked_level && !self.difference.is_open();
        let level = 1.0 - self.difference.confidence.get();
        excluded && self.paired.is_none_or(|counts| counts.p_value() <= level)
    }
}

/// A number of both results.
#[derive(Debug, Clone, PartialEq)]
pub struct ValueChange {
    /// In the first result.
    pub first: Measured,
    /// In the other.
    pub other: Measured,
}

impl ValueChange {
    /// The other over the first, less one; none where one is missing or the first is 0.
    pub fn relative(&self) -> Option<f64> {
        let (first, other) = (self.first.value?, self.other.value?);
        (first.abs() > 0.0).then(|| other / first - 1.0)
    }

    /// Whether both intervals are told and lie apart; none where one is not told.
    pub fn is_apart(&self) -> Option<bool> {
        let ([low, high], [from, to]) = (self.first.interval?, self.other.interval?);
        Some(high < from || to < low)
    }
}

/// Another result against the first.
#[derive(Debug, Clone)]
pub struct Compared {
    /// The other result.
    pub other: ReadResult,
    /// What it was made of otherwise.
    pub basis: Vec<BasisChange>,
    /// Yields of both.
    pub yields: Vec<YieldChange>,
    /// Other numbers of both.
    pub values: Vec<ValueChange>,
    /// Yields that one of the two has alone.
    pub unmatched: Vec<String>,
}

/// All results against the first.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The first result.
    pub first: ReadResult,
    /// All others against it.
    pub others: Vec<Compared>,
    /// Level of the intervals of differences that are not from own intervals.
    pub confidence: Confidence,
}

/// Compares results of one verb with the first of them.
///
/// # Errors
///
/// [`CompareError::OtherVerb`], and [`CompareError::Samples`] where a file of samples cannot be read.
pub fn compare(
    first: ReadResult,
    others: Vec<ReadResult>,
    confidence: Confidence,
) -> Result<Comparison, CompareError> {
    let compared = others.into_iter().map(|other| one(&first, other, confidence));
    let others = compared.collect::<Result<_, _>>()?;
    Ok(Comparison { first, others, confidence })
}

/// The one that is the same. Names of two sets of grades can be written alike, where names of grades hold
/// commas: nothing tells which of them is meant, so none is taken.
fn only<T>(all: &[T], is_same: impl Fn(&&T) -> bool) -> Option<&T> {
    let mut found = all.iter().filter(is_same);
    let first = found.next();
    first.filter(|_| found.next().is_none())
}

fn one(
    first: &ReadResult,
    other: ReadResult,
    confidence: Confidence,
) -> Result<Compared, CompareError> {
    if other.verb != first.verb {
        let path = other.name.clone();
        return Err(CompareError::OtherVerb {
            path,
            found: other.verb,
            expected: first.verb.clone(),
        });
    }
    let pairs = pairs(first, &other)?;
    let mut yields = Vec::new();
    for own in &first.yields {
        let same = |theirs: &&ReadYield| {
            theirs.subject == own.subject && theirs.arrangement == own.arrangement
        };
        let [Some(_), Some(theirs)] = [first, &other].map(|all| only(&all.yields, same)) else {
            continue;
        };
        let key = [own.subject.clone(), own.arrangement.clone()];
        let counts = pairs.as_ref().and_then(|all| all.get(&key)).copied();
        let change = yield_change(own, theirs, shared(first, &other), counts, confidence);
        yields.push(change.map_err(|error| CompareError::NoSummary {
            path: other.name.clone(),
            reason: error.to_string(),
        })?);
    }
    let values = first.measured.iter().filter_map(|own| {
        let same =
            |theirs: &&Measured| theirs.name == own.name && theirs.arrangement == own.arrangement;
        only(&first.measured, same)?;
        let theirs = only(&other.measured, same)?;
        Some(ValueChange { first: own.clone(), other: theirs.clone() })
    });
    let values = values.collect();
    let unmatched = unmatched(first, &other);
    Ok(Compared { basis: basis(first, &other), yields, values, unmatched, other })
}

/// Whether both were drawn from the same random numbers.
fn shared(first: &ReadResult, other: &ReadResult) -> bool {
    first.seed == other.seed
}

/// Yields that one of the two has alone.
fn unmatched(first: &ReadResult, other: &ReadResult) -> Vec<String> {
    let name = |own: &ReadYield| format!("{}, {}", own.subject, own.arrangement);
    let lacks = |there: &ReadResult, own: &ReadYield| {
        !there.yields.iter().any(|theirs| name(theirs) == name(own))
    };
    let ours = first.yields.iter().filter(|own| lacks(other, own));
    let theirs = other.yields.iter().filter(|own| lacks(first, own));
    ours.chain(theirs).map(name).collect()
}

fn basis(first: &ReadResult, other: &ReadResult) -> Vec<BasisChange> {
    let mut places: Vec<&String> = first.basis.keys().chain(other.basis.keys()).collect();
    places.sort_unstable();
    places.dedup();
    let change = |place: &String| {
        let [own, theirs] = [first, other].map(|read| read.basis.get(place));
        let is_same = own.zip(theirs).is_some_and(|(own, theirs)| is_same_value(own, theirs));
        let [first, other] = [own, theirs].map(Option::<&String>::cloned);
        (!is_same).then(|| BasisChange { place: place.clone(), first, other })
    };
    let told = places.into_iter().filter(|place| !follows_from_band(first, other, place));
    told.filter_map(change).collect()
}

/// Whether a place is an end of a band that is as wide to both sides in both results: the band tells it.
fn follows_from_band(first: &ReadResult, other: &ReadResult, place: &str) -> bool {
    let Some((table, "lower" | "upper")) = place.rsplit_once('.') else { return false };
    [first, other].iter().all(|read| {
        let [band, lower, upper] =
            ["band", "lower", "upper"].map(|key| read.basis.get(&format!("{table}.{key}")));
        let negative = band.map(|band| format!("-{band}"));
        band == upper && negative.as_ref() == lower
    })
}

/// How the samples of both divide, by operating point and arrangement; none where they are not the same samples,
/// or not listed.
fn pairs(
    first: &ReadResult,
    other: &ReadResult,
) -> Result<Option<BTreeMap<PassKey, PairedCounts>>, CompareError> {
    let are_same = shared(first, other)
        && first.samples == other.samples
        && !first.is_partial
        && !other.is_partial;
    let (Some(own), Some(theirs)) = (&first.samples_file, &other.samples_file) else {
        return Ok(None);
    };
    if !are_same {
        return Ok(None);
    }
    let name = |read: &ReadResult| format!("samples.parquet of {}", read.name);
    let mut own = PassReader::open(own, name(first))?;
    let mut theirs = PassReader::open(theirs, name(other))?;
    let mut counts: BTreeMap<PassKey, PairedCounts> = BTreeMap::new();
    while let (Some(one), Some(two)) = (own.next_sample()?, theirs.next_sample()?) {
        if one.sample != two.sample {
            return Ok(None);
        }
        for (key, passes) in one.passes {
            let Some(also) = two.passes.get(&key).copied() else { continue };
            let none = PairedCounts { both: 0, first: 0, second: 0, neither: 0 };
            let cell = counts.entry(key).or_insert(none);
            // The other less the first: the other counts as the first of the pair.
            match (also, passes) {
                (true, true) => cell.both += 1,
                (true, false) => cell.first += 1,
                (false, true) => cell.second += 1,
                (false, false) => cell.neither += 1,
            }
        }
    }
    Ok(Some(counts))
}

fn yield_change(
    first: &ReadYield,
    other: &ReadYield,
    are_same_samples: bool,
    counts: Option<PairedCounts>,
    confidence: Confidence,
) -> Result<YieldChange, StatisticsError> {
    let is_plain = first.is_of_fixed_samples && other.is_of_fixed_samples;
    let trials = first.passes.trials;
    let counts =
        counts.filter(|own| is_plain && own.trials() == trials && trials == other.passes.trials);
    let (pairing, difference) = match counts {
        Some(counts) => (Pairing::Paired, counts.difference(confidence)?),
        None if is_plain && !are_same_samples && confidence.get() <= HIGHEST_SQUARED_LEVEL => {
            (Pairing::Independent, independent_difference(other.passes, first.passes, confidence)?)
        }
        None => (Pairing::OwnIntervals, from_own_intervals(first, other, confidence)?),
    };
    // Without any certainty left the interval holds every difference, at no level.
    let is_whole = difference.upper - difference.lower >= 2.0;
    Ok(YieldChange {
        first: first.clone(),
        other: other.clone(),
        pairing,
        difference,
        paired: counts,
        has_asked_level: !is_whole && difference.confidence.get() >= confidence.get() - ROUNDING,
    })
}

/// The other less the first, from an interval of each. Both hold together with at least what their errors
/// leave of certainty, whatever ties the samples together (Bonferroni): an interval that can be told anew has
/// half of the permitted error. Where nothing is left of certainty, any difference may be.
fn from_own_intervals(
    first: &ReadYield,
    other: &ReadYield,
    confidence: Confidence,
) -> Result<Difference, StatisticsError> {
    let share = |own: &ReadYield| own.passes.successes as f64 / own.passes.trials as f64;
    let half = Confidence::new(0.5 * (1.0 + confidence.get()))?;
    let ([from, to], one) = interval_at(first, half)?;
    let ([low, high], two) = interval_at(other, half)?;
    let left = Confidence::new(one + two - 1.0).ok();
    let (lower, upper) = if left.is_some() { (low - to, high - from) } else { (-1.0, 1.0) };
    let estimate = share(other) - share(first);
    Ok(Difference { estimate, lower, upper, confidence: left.unwrap_or(confidence) })
}

/// The interval of a yield with its level: of a fixed number of samples at the level asked for, else as it was
/// stated.
fn interval_at(own: &ReadYield, level: Confidence) -> Result<([f64; 2], f64), StatisticsError> {
    if !own.is_of_fixed_samples {
        return Ok((own.interval, own.confidence));
    }
    let Passes { successes, trials } = own.passes;
    let good = Yield::new(successes, trials, level)?;
    Ok(([good.lower, good.upper], level.get()))
}
