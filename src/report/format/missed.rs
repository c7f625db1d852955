//! Limits that a converter misses, in words and in summaries.

use schemars::JsonSchema;
use serde::Serialize;

use super::names;
use super::numbers::{NONE, plain};
use crate::converter::Arrangement;
use crate::study::common::figures::Figure;
use crate::study::common::missed::{MissedDemand, NominalMiss};

/// The limited figure with its value and the limit: `sharing error 5.31 %, at most 3 %`.
pub(in crate::report) fn figure_and_limit(missed: &MissedDemand) -> String {
    let demand = &missed.demand;
    let (figure, value) = (names::limit(demand).long, value(missed));
    match names::demanded(demand) {
        Some(demanded) => format!("{figure} {value}, {demanded}"),
        None => format!("{figure}: no"),
    }
}

/// The value with its unit; a dash where none is known.
pub(in crate::report) fn value(missed: &MissedDemand) -> String {
    let value = missed.value.map(|value| names::limited_value(&missed.demand, value));
    value.unwrap_or_else(|| NONE.to_owned())
}

/// The same of the nominal converter, with the operating point.
fn at_point(miss: &NominalMiss) -> String {
    format!("{}, at \"{}\"", figure_and_limit(&miss.missed), miss.operating_point)
}

/// The limits that the nominal converter misses in an arrangement, each with value and limit.
pub(in crate::report) fn nominal(misses: &[NominalMiss], arrangement: Arrangement) -> Vec<String> {
    misses.iter().filter(|miss| miss.arrangement == arrangement).map(at_point).collect()
}

/// What helps where the switches of the paralleled reference block too much.
pub(in crate::report) const PARALLELED_HELP: &str =
    "Its switches block the whole input: `[limits.paralleled]` gives them limits of their own.";

/// Whether switches of the nominal paralleled reference do.
pub(in crate::report) fn blocks_too_much(misses: &[NominalMiss]) -> bool {
    misses.iter().any(|miss| {
        miss.arrangement == Arrangement::Paralleled
            && miss.missed.demand.figure == Some(Figure::WorstBlocking)
    })
}

/// A line each, for the terminal.
pub(in crate::report) fn lines(misses: &[String]) -> String {
    misses.iter().fold(String::new(), |lines, miss| lines + "  " + miss + "\n")
}

/// The first of them, so many; the tables hold the rest.
pub(in crate::report) fn first_lines(misses: &[String], most: usize) -> String {
    match misses.len().saturating_sub(most) {
        0 => lines(misses),
        more => format!("{}  {more} more: --tables.\n", lines(&misses[..most])),
    }
}

/// That the nominal chain misses limits already; one sentence a limit.
pub fn nominal_chain(misses: &[NominalMiss]) -> Vec<String> {
    let misses = misses.iter().filter(|miss| miss.arrangement == Arrangement::Chain);
    let sentence =
        |miss| format!("the nominal chain already misses a limit: {}", plain(&at_point(miss)));
    misses.map(sentence).collect()
}

/// A limit that is missed, in the unit of its figure: A, V, °C, or a fraction.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct MissedEntry {
    /// Name of the limited figure; `regulation` where no frequency in the band delivers the output, or
    /// the converter is not solved.
    figure: String,
    /// Null for `regulation`.
    limit: Option<f64>,
    /// The value of the figure; null where it is not known.
    value: Option<f64>,
}

impl MissedEntry {
    pub(in crate::report) fn new(missed: &MissedDemand) -> Self {
        let MissedDemand { demand, value } = missed;
        let limit = demand.figure.map(|_| demand.limit);
        Self { figure: demand.name(), limit, value: *value }
    }
}

/// A limit that the nominal converter misses.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct NominalMissEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    #[serde(flatten)]
    missed: MissedEntry,
}

impl NominalMissEntry {
    pub(in crate::report) fn new(miss: &NominalMiss) -> Self {
        Self {
            operating_point: miss.operating_point.clone(),
            arrangement: miss.arrangement,
            missed: MissedEntry::new(&miss.missed),
        }
    }
}
