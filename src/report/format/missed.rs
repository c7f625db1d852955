//! Limits that a converter misses, in words and in summaries.

use schemars::JsonSchema;
use serde::Serialize;

use super::names;
use super::numbers::{NONE, counted, percent_of_three, plain};
use crate::converter::Arrangement;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::common::missed::{MissedDemand, NominalMiss};

/// Excess over a limit that is told in words: as a share of the limit, and the least that is told as a number.
const HARDLY: f64 = 0.01;
const LEAST: f64 = 1e-5;

/// The limited figure with its value and the limit: `sharing error 5.31 %, at most 3 %`.
pub(in crate::report) fn figure_and_limit(missed: &MissedDemand) -> String {
    let demand = &missed.demand;
    let (figure, value) = (names::limit(demand).long, value(missed));
    match names::demanded(demand) {
        Some(demanded) => format!("{figure} {value}, {demanded}{}", hardly_missed(missed)),
        None => format!("{figure}: no"),
    }
}

/// By how much a value exceeds its limit, where three digits may not tell them apart. Some limits are told as a
/// least value, of which the share says nothing.
fn hardly_missed(missed: &MissedDemand) -> String {
    let MissedDemand { demand, value: Some(value) } = missed else { return String::new() };
    let is_least_value =
        matches!(demand.figure, Some(Figure::Switching(_) | Figure::Losses(LossFigure::LostShare)));
    match demand.use_of(*value) - 1.0 {
        above if !(0.0..HARDLY).contains(&above) => String::new(),
        _ if is_least_value => " (just missed)".to_owned(),
        above if above < LEAST => " (just above)".to_owned(),
        above => format!(" ({} above)", percent_of_three(above)),
    }
}

/// The value with its unit; a dash where none is known.
pub(in crate::report) fn value(missed: &MissedDemand) -> String {
    let value = missed.value.map(|value| names::limited_value(&missed.demand, value));
    value.unwrap_or_else(|| NONE.to_owned())
}

/// The same of the nominal converter, with the operating point.
fn at_point(miss: &NominalMiss) -> String {
    format!("{}, at “{}”", figure_and_limit(&miss.missed), miss.operating_point)
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

/// Limits that are told one by one where the nominal converter misses many.
const TOLD: usize = 3;

/// That the nominal chain misses limits already; a sentence a limit, and one for all that are too many.
pub fn nominal_chain(misses: &[NominalMiss]) -> Vec<String> {
    let misses = nominal(misses, Arrangement::Chain);
    let sentence =
        |miss: &String| format!("the nominal chain already misses a limit: {}", plain(miss));
    let mut told: Vec<String> = misses.iter().take(TOLD).map(sentence).collect();
    told.extend(more(&misses).map(|more| format!("the nominal chain misses limits in {more}")));
    told
}

/// The first of the limits that the nominal converter misses, and how many more there are.
pub(in crate::report) fn first_few(misses: &[String]) -> String {
    let first = misses.iter().take(TOLD).cloned();
    first.chain(more(misses)).collect::<Vec<_>>().join("; ")
}

fn more(misses: &[String]) -> Option<String> {
    let more = misses.len().saturating_sub(TOLD) as u64;
    (more > 0).then(|| format!("{} more: `check` tells all", counted(more, "case")))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::{Measure, Shared, Sharing};
    use crate::study::common::demand::Demand;

    /// Three digits must not make a missed limit look met.
    #[test]
    fn a_limit_that_is_hardly_missed_says_by_how_much() {
        let sharing = Sharing { share: Shared::OutputCurrent, measure: Measure::Deviation };
        let demand = Demand { figure: Some(Figure::SharingError(sharing)), limit: 0.0009 };
        for (value, words) in [
            (0.000_904_814, "sharing error 0.090 %, at most 0.09 % (0.535 % above)"),
            (0.000_9 * (1.0 + 1e-7), "sharing error 0.090 %, at most 0.09 % (just above)"),
            (0.000_95, "sharing error 0.095 %, at most 0.09 %"),
        ] {
            let told = figure_and_limit(&MissedDemand { demand, value: Some(value) });
            assert_eq!(plain(&told), words);
        }
        // At least 94 %: 93.98 % lies below.
        let efficiency = Some(Figure::Losses(LossFigure::LostShare));
        let missed = MissedDemand {
            demand: Demand { figure: efficiency, limit: 0.06 },
            value: Some(0.0602),
        };
        assert!(figure_and_limit(&missed).ends_with(" (just missed)"));
    }
}
