//! The worst cases in the summary of a run.

use schemars::JsonSchema;
use serde::Serialize;

use super::words;
use crate::converter::Arrangement;
use crate::study::explanation::Explanation;
use crate::study::explanation::worst_case::{FrequencyExtremes, WorstCase};
use crate::study::run::Run;

/// The worst case of a limited figure, three ways. Values are in the figure's unit, sharing errors are
/// fractions.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct WorstCaseEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// The figure: a column of `samples.parquet`.
    figure: String,
    /// Its limit.
    limit: f64,
    /// Its value for the nominal converter.
    nominal: f64,
    /// Root of the sum of squares of its first-order changes over half of every band, on top of its value
    /// in the middle of all bands. Null where a converter there is not solved.
    root_sum_square: Option<f64>,
    /// What the target share of all converters keeps to, at the confidence. Null where the samples are
    /// too few, or those that are out of range or not solved reach it.
    tolerance_limit: Option<f64>,
    /// The largest of the solved samples; null where none is solved.
    largest_sample: Option<f64>,
    /// The number of that sample.
    sample: Option<u64>,
    /// The largest value found with every part inside its band. Not proved to be the largest. Null where
    /// no converter was solved.
    extreme_value: Option<f64>,
    /// Name of the extreme converter in `worst_converters.csv`.
    unit: Option<String>,
    search: SearchEntry,
}

/// How the search for the extreme value went.
#[derive(Debug, Serialize, JsonSchema)]
struct SearchEntry {
    /// Whether no part moved alone makes the extreme value larger, as far as tried. False where the
    /// search ended at its limit of work.
    settled: bool,
    /// Parts of the extreme converter that lie at an end of their bands.
    parts_at_ends: usize,
    /// Parts that were moved.
    parts: usize,
    /// Converters solved.
    solved: u64,
    /// Converters that are out of range.
    out_of_range: u64,
    /// Converters that the solver failed on.
    not_solved: u64,
    /// Name of one of the latter two in `worst_converters.csv`; null where the search met none, or the one it met is
    /// solved afresh.
    unsolved_unit: Option<String>,
}

impl WorstCaseEntry {
    /// All worst cases.
    pub(in crate::report::run) fn all(run: &Run, explanation: Option<&Explanation>) -> Vec<Self> {
        let worst_cases = words::worst_cases(explanation).unwrap_or_default();
        worst_cases.iter().map(|worst| Self::new(run, worst)).collect()
    }

    fn new(run: &Run, worst: &WorstCase) -> Self {
        let (case, extreme) = (&run.cases[worst.case], worst.extreme.as_ref());
        Self {
            operating_point: case.operating_point().to_owned(),
            arrangement: case.arrangement(),
            figure: worst.demand.name(),
            limit: worst.demand.limit,
            nominal: worst.nominal,
            root_sum_square: worst.root_sum_square,
            tolerance_limit: worst.tolerance_limit.value(),
            largest_sample: worst.largest_sample.map(|largest| largest.value),
            sample: worst.largest_sample.map(|largest| largest.sample),
            extreme_value: extreme.map(|extreme| extreme.value),
            unit: extreme.map(|_| words::extreme_unit(run, worst)),
            search: SearchEntry {
                settled: extreme.is_some_and(|extreme| extreme.settled),
                parts_at_ends: extreme.map_or(0, |extreme| extreme.at_ends),
                parts: worst.parts,
                solved: worst.counts.solved,
                out_of_range: worst.counts.out_of_range,
                not_solved: worst.counts.not_solved,
                unsolved_unit: worst
                    .unsolved
                    .as_ref()
                    .map(|unsolved| words::unsolved_unit(case, unsolved.status.name())),
            },
        }
    }
}

/// The frequencies that converters need with every part inside its band.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct FrequencyExtremesEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// Of the nominal converter.
    #[serde(rename = "nominal_Hz")]
    nominal: f64,
    /// The lowest found of a solved converter; null where none was solved. Not proved to be the lowest.
    #[serde(rename = "lowest_Hz")]
    lowest: Option<f64>,
    /// The highest found, likewise.
    #[serde(rename = "highest_Hz")]
    highest: Option<f64>,
    /// Names of these converters in `worst_converters.csv`: of the lowest, then of the highest.
    units: Vec<String>,
    /// Name of a converter there that has no steady state inside the frequency band; null where the
    /// searches met none.
    unsolved_unit: Option<String>,
}

impl FrequencyExtremesEntry {
    /// Those of all cases.
    pub(in crate::report::run) fn all(run: &Run, explanation: Option<&Explanation>) -> Vec<Self> {
        let all = explanation.map_or(&[][..], |explanation| &explanation.frequency_extremes);
        all.iter().map(|found| Self::new(run, found)).collect()
    }

    fn new(run: &Run, found: &FrequencyExtremes) -> Self {
        let case = &run.cases[found.case];
        let ends = [(&found.lowest, "lowest"), (&found.highest, "highest")];
        let units = ends.into_iter().filter(|(extreme, _)| extreme.is_some());
        Self {
            operating_point: case.operating_point().to_owned(),
            arrangement: case.arrangement(),
            nominal: found.nominal,
            lowest: found.lowest.as_ref().map(|extreme| extreme.value),
            highest: found.highest.as_ref().map(|extreme| extreme.value),
            units: units.map(|(_, end)| words::frequency_unit(case, end)).collect(),
            unsolved_unit: found
                .unsolved
                .as_ref()
                .map(|unsolved| words::unsolved_unit(case, unsolved.status.name())),
        }
    }
}
