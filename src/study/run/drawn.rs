//! Converters that a page shows one by one: the first samples, those with the largest sharing errors and
//! switch currents in the chain, and those whose waveforms it shows. Their number is fixed, so that memory does not grow with the samples.

use serde::{Deserialize, Serialize};

use crate::converter::{Arrangement, Converter};
use crate::engine::{Batch, SampleRow, Status};
use crate::population::Population;
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::statistics::{StateError, TallyState};
use crate::study::common::figures::Figure;
use crate::study::common::session::Session;
use crate::study::common::tally::Tally;

/// Converters at most, and at least.
const MOST: usize = 120;
const LEAST: usize = 40;
/// Numbers of all of them together, about: parts and results.
const NUMBERS: usize = 6_000;

/// Converters to be shown one by one.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnConverters {
    /// By sample number.
    pub converters: Vec<DrawnConverter>,
    /// So many samples from the first one on are all among them, unless they are not solved somewhere.
    pub first: u64,
    /// So many with the largest sharing errors are, and as many with the largest switch currents. Those whose
    /// waveforms are shown are too.
    pub extremes: usize,
    /// Samples that are not solved at every operating point: they have no place in the picture.
    pub unsolved: u64,
    /// The place of the case at whose temperature and age the parts hold. None where they hold at all,
    /// because no response to temperature and age scatters.
    pub parts_hold_in: Option<usize>,
}

/// A converter with its results.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnConverter {
    /// Its sample number.
    pub sample: u64,
    /// Its parts, as a file of parts holds them.
    pub converter: Converter,
    /// Case by case; none where it is not solved.
    pub results: Vec<Option<DrawnResult>>,
    /// Whether it meets all limits at all operating points: chain, paralleled.
    pub passes: [bool; 2],
    /// The largest results of the chain over the operating points.
    pub largest: DrawnResult,
}

/// What a case gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DrawnResult {
    /// The sharing error that the limit is on, a fraction.
    pub sharing_error: f64,
    /// Highest RMS current of any switch, A.
    pub switch_rms: f64,
    /// Highest peak current of any switch, A.
    pub switch_peak: f64,
}

impl DrawnResult {
    fn larger(self, other: Self) -> Self {
        Self {
            sharing_error: self.sharing_error.max(other.sharing_error),
            switch_rms: self.switch_rms.max(other.switch_rms),
            switch_peak: self.switch_peak.max(other.switch_peak),
        }
    }
}

/// A sample that may be shown.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct DrawnSample {
    sample: u64,
    results: Vec<Option<DrawnResult>>,
    passes: [bool; 2],
    largest: DrawnResult,
}

/// What is kept of the samples.
#[derive(Debug, Clone)]
pub(super) struct DrawnTally {
    columns: [usize; 3],
    cases: Vec<Arrangement>,
    first_samples: u64,
    extremes: usize,
    first: Vec<DrawnSample>,
    /// The largest sharing errors, then the largest currents, each falling.
    errors: Vec<DrawnSample>,
    currents: Vec<DrawnSample>,
    /// To be shown for another reason.
    added: Vec<DrawnSample>,
    unsolved: u64,
}

impl DrawnTally {
    /// Nothing yet; none where the figures lack what is shown.
    pub(super) fn new(session: &Session, cases: &[Case], figures: &[Figure]) -> Option<Self> {
        let sharing = Figure::SharingError(session.scenario().limits.sharing);
        let place = |figure: Figure| figures.iter().position(|own| *own == figure);
        let columns =
            [place(sharing)?, place(Figure::WorstSwitchRms)?, place(Figure::WorstSwitchPeak)?];
        let size = session.size();
        let of_one = 6 * size.phases + 2 * (size.phases - 1) + 3 * cases.len();
        let all = (NUMBERS / of_one).clamp(LEAST, MOST);
        let extremes = all / 8;
        Some(Self {
            columns,
            cases: cases.iter().map(|case| case.arrangement).collect(),
            first_samples: (all - 2 * extremes) as u64,
            extremes,
            first: Vec::new(),
            errors: Vec::new(),
            currents: Vec::new(),
            added: Vec::new(),
            unsolved: 0,
        })
    }

    /// Takes a batch, in the order of its samples; `tally` tells what meets the demands.
    pub(super) fn take(&mut self, batch: &Batch, tally: &Tally) {
        for n in 0..batch.len() {
            let sample = batch.first + n as u64;
            let rows = |case: usize| batch.row(n, case);
            let Some(largest) = self.largest(&rows) else {
                self.unsolved += 1;
                continue;
            };
            if sample < self.first_samples {
                self.first.push(self.drawn(sample, &rows, largest, tally));
                continue;
            }
            if has_place(&self.errors, self.extremes, largest.sharing_error, error) {
                let own = self.drawn(sample, &rows, largest, tally);
                insert(&mut self.errors, self.extremes, own, error);
            }
            if has_place(&self.currents, self.extremes, largest.switch_rms, current) {
                let own = self.drawn(sample, &rows, largest, tally);
                insert(&mut self.currents, self.extremes, own, current);
            }
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(super) fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        state.count(&mut self.unsolved)?;
        let most = usize::try_from(self.first_samples).unwrap_or(usize::MAX);
        let first = self.read(state, &self.first, most)?;
        self.first.extend(first);
        for own in self.read(state, &self.errors, self.extremes)? {
            if has_place(&self.errors, self.extremes, error(&own), error) {
                insert(&mut self.errors, self.extremes, own, error);
            }
        }
        for own in self.read(state, &self.currents, self.extremes)? {
            if has_place(&self.currents, self.extremes, current(&own), current) {
                insert(&mut self.currents, self.extremes, own, current);
            }
        }
        Ok(())
    }

    /// Writes a list; gives what is read in its place, with the samples of the state alone.
    fn read(
        &self,
        state: &mut TallyState<'_>,
        list: &Vec<DrawnSample>,
        most: usize,
    ) -> Result<Vec<DrawnSample>, StateError> {
        let read = state.value(list)?.unwrap_or_default();
        let is_sound = |own: &DrawnSample| {
            own.results.len() == self.cases.len() && state.samples().contains(&own.sample)
        };
        let is_all = read.len() <= most && read.iter().all(is_sound);
        if is_all { Ok(read) } else { Err(StateError) }
    }

    fn result(&self, row: SampleRow<'_>) -> Option<DrawnResult> {
        let [sharing_error, switch_rms, switch_peak] =
            self.columns.map(|column| row.figures[column]);
        (row.status == Status::Solved).then_some(DrawnResult {
            sharing_error,
            switch_rms,
            switch_peak,
        })
    }

    /// Of the chain over all operating points; none where it is not solved at one of them.
    fn largest<'r>(&self, rows: &dyn Fn(usize) -> SampleRow<'r>) -> Option<DrawnResult> {
        let chain = self.cases.iter().enumerate().filter(|(_, own)| **own == Arrangement::Chain);
        let all = chain.map(|(case, _)| self.result(rows(case)));
        all.reduce(|a, b| Some(a?.larger(b?))).flatten()
    }

    fn drawn<'r>(
        &self,
        sample: u64,
        rows: &dyn Fn(usize) -> SampleRow<'r>,
        largest: DrawnResult,
        tally: &Tally,
    ) -> DrawnSample {
        let passes = Arrangement::ALL.map(|arrangement| {
            let mut own = self.cases.iter().enumerate().filter(|(_, own)| **own == arrangement);
            own.all(|(case, _)| tally.cases[case].count.meets(rows(case)))
        });
        let results = (0..self.cases.len()).map(|case| self.result(rows(case))).collect();
        DrawnSample { sample, results, passes, largest }
    }

    /// Takes a sample that is to be shown, whether it is among the others or not.
    pub(super) fn add<'r>(
        &mut self,
        sample: u64,
        rows: &dyn Fn(usize) -> SampleRow<'r>,
        tally: &Tally,
    ) {
        if let Some(largest) = self.largest(rows) {
            self.added.push(self.drawn(sample, rows, largest, tally));
        }
    }

    /// The converters; `cases` tells the operating point that limits, for parts that depend on it.
    pub(super) fn converters(
        &self,
        session: &Session,
        population: &Population,
        limiting: usize,
    ) -> DrawnConverters {
        let parts_hold_in = responses_scatter(session.scenario()).then_some(limiting);
        let condition = parts_hold_in.map(|case| &session.baselines()[case].case.point.condition);
        let extremes = self.errors.iter().chain(&self.currents);
        let mut all: Vec<&DrawnSample> =
            self.first.iter().chain(extremes).chain(&self.added).collect();
        all.sort_by_key(|own| own.sample);
        all.dedup_by_key(|own| own.sample);
        let one = |own: &DrawnSample| {
            let drawn = population.draw(own.sample);
            let converter = match condition {
                Some(condition) => drawn.as_if_nominal_at(condition, session.nominal()),
                None => drawn,
            };
            let DrawnSample { sample, results, passes, largest } = own.clone();
            DrawnConverter { sample, converter, results, passes, largest }
        };
        DrawnConverters {
            converters: all.into_iter().map(one).collect(),
            first: self.first_samples,
            extremes: self.extremes,
            unsolved: self.unsolved,
            parts_hold_in,
        }
    }
}

/// Whether how parts respond to temperature and age differs from part to part: a file of parts tells their
/// values, and the scenario how they respond.
fn responses_scatter(scenario: &Scenario) -> bool {
    scenario.tolerances.responses().iter().any(|own| own.scatter.band > 0.0)
}

fn error(own: &DrawnSample) -> f64 {
    own.largest.sharing_error
}

fn current(own: &DrawnSample) -> f64 {
    own.largest.switch_rms
}

fn has_place(
    list: &[DrawnSample],
    most: usize,
    value: f64,
    of: impl Fn(&DrawnSample) -> f64,
) -> bool {
    list.len() < most || list.last().is_some_and(|last| value > of(last))
}

/// Puts a sample behind all that are not smaller, and drops what is too many.
fn insert(
    list: &mut Vec<DrawnSample>,
    most: usize,
    own: DrawnSample,
    of: impl Fn(&DrawnSample) -> f64,
) {
    let place = list.partition_point(|other| of(other) >= of(&own));
    list.insert(place, own);
    list.truncate(most);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(sample: u64, sharing_error: f64) -> DrawnSample {
        let largest = DrawnResult { sharing_error, switch_rms: 0.0, switch_peak: 0.0 };
        DrawnSample { sample, results: Vec::new(), passes: [true; 2], largest }
    }

    /// The largest stay, of equals the first ones.
    #[test]
    fn the_largest_are_kept_in_order() {
        let error = |own: &DrawnSample| own.largest.sharing_error;
        let mut list = Vec::new();
        for (n, value) in [(0, 0.2), (1, 0.5), (2, 0.2), (3, 0.1), (4, 0.9), (5, 0.5)] {
            if has_place(&list, 3, value, error) {
                insert(&mut list, 3, sample(n, value), error);
            }
        }
        assert_eq!(list.iter().map(|own| own.sample).collect::<Vec<_>>(), [4, 1, 5]);
    }
}
