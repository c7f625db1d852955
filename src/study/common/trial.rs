//! The yields of converters that differ in their tolerances or their arrangement, on the same
//! samples and without files: what the searches for tolerance bands and part grades ask for.
//!
//! Sample k draws the same probabilities whatever the tolerances, so entries are paired: they
//! differ by their parts alone, not by the luck of the draw. That holds for entries of one call,
//! which are counted in pairs too, and for calls of the same seed.

use std::sync::atomic::AtomicBool;

use crate::converter::{Arrangement, Converter};
use crate::engine::{Batch, EngineError, Layout, Status, batches};
use crate::population::Population;
use crate::scenario::{Scenario, Tolerances};
use crate::study::common::demand::{Binding, Count};
use crate::study::common::error::StudyError;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::nominal::{Baseline, baselines};
use crate::study::common::pairs::{Flags, Pairs};
use crate::study::common::settings::Settings;

/// Converters to be tried: the scenario's, with these tolerances in this arrangement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// How far their parts lie apart.
    pub tolerances: Tolerances,
    /// How their phases stand at the input.
    pub arrangement: Arrangement,
}

/// What became of an entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Samples that meet all demands at all operating points.
    pub good: u64,
    /// All samples.
    pub samples: u64,
    /// The demand missed most often; none when all samples pass.
    pub binding: Option<Binding>,
}

/// What became of all entries.
#[derive(Debug)]
pub struct Tried {
    /// One an entry, in their order.
    pub each: Vec<Trial>,
    /// How often each two of them pass together.
    pub pairs: Pairs,
    /// Whether it was stopped before the last sample; what is here is whole as far as it goes.
    pub interrupted: bool,
}

/// Draws and solves `settings.samples` converters of every entry at every operating point. `seen`
/// is told how many more samples are done. Stopped, it gives what is done, if that is anything.
///
/// # Errors
///
/// When the nominal converter does not work, when `stop` is set before the first samples are done.
pub fn trials(
    scenario: &Scenario,
    entries: &[Entry],
    settings: Settings,
    stop: &AtomicBool,
    mut seen: impl FnMut(u64) + Send,
) -> Result<Tried, StudyError> {
    let entrants = Entrants::new(scenario, entries, settings)?;
    let mut scores = Scores::new(&entrants);
    let layout = Layout {
        rows: entrants.rows.len(),
        width: entrants.figures.len(),
        threads: settings.threads,
    };
    let fill = |sample: u64, statuses: &mut [Status], numbers: &mut [f64]| {
        entrants.solve(sample, statuses, numbers);
    };
    let ended = batches(layout, settings.samples, stop, fill, |batch| {
        scores.take(batch, &entrants);
        seen(batch.len() as u64);
        Ok(())
    });
    let interrupted = match ended {
        Err(EngineError::Interrupted(_)) if scores.pairs.samples() > 0 => true,
        other => other.map(|()| false)?,
    };
    Ok(scores.trials(&entrants, interrupted))
}

/// Tries a single entry.
///
/// # Errors
///
/// Those of [`trials`]; also when it is stopped before the last sample.
pub fn trial(
    scenario: &Scenario,
    entry: Entry,
    settings: Settings,
    stop: &AtomicBool,
) -> Result<Trial, StudyError> {
    let mut all = trials(scenario, &[entry], settings, stop, |_| ())?;
    match all.each.pop() {
        Some(only) if !all.interrupted => Ok(only),
        _ => Err(EngineError::Interrupted(all.pairs.samples()).into()),
    }
}

/// An entry at an operating point: a row of every sample.
#[derive(Debug)]
struct Row {
    entry: usize,
    /// Its place among the baselines.
    baseline: usize,
}

/// What is tried.
struct Entrants<'a> {
    scenario: &'a Scenario,
    settings: Settings,
    /// The nominal converter is the same for all.
    baselines: Vec<Baseline>,
    /// One an entry.
    populations: Vec<Population>,
    /// Those of an entry stand together.
    rows: Vec<Row>,
    figures: [Figure; 4],
}

impl<'a> Entrants<'a> {
    fn new(
        scenario: &'a Scenario,
        entries: &[Entry],
        settings: Settings,
    ) -> Result<Self, StudyError> {
        let baselines = baselines(scenario, settings.method)?;
        let population = |entry: &Entry| {
            let own = Scenario { tolerances: entry.tolerances, ..scenario.clone() };
            Population::new(&own, settings.seed)
        };
        let rows = entries.iter().enumerate().flat_map(|(n, entry)| {
            let own = baselines.iter().enumerate();
            let own = own.filter(|(_, b)| b.case.arrangement == entry.arrangement);
            own.map(move |(baseline, _)| Row { entry: n, baseline }).collect::<Vec<_>>()
        });
        let rows = rows.collect();
        let figures = [
            Figure::SharingError(scenario.limits.sharing),
            Figure::WorstSwitchRms,
            Figure::WorstSwitchPeak,
            Figure::WorstBlocking,
        ];
        let populations = entries.iter().map(population).collect();
        Ok(Self { scenario, settings, baselines, populations, rows, figures })
    }

    /// Draws a sample of every entry and solves it in all its rows.
    fn solve(&self, sample: u64, statuses: &mut [Status], numbers: &mut [f64]) {
        let mut drawn: Option<(usize, Converter)> = None;
        let places = statuses.iter_mut().zip(numbers.chunks_mut(self.figures.len()));
        for (row, (status, numbers)) in self.rows.iter().zip(places) {
            let converter = match drawn.take() {
                Some((entry, converter)) if entry == row.entry => converter,
                _ => self.populations[row.entry].draw(sample),
            };
            *status = self.solve_one(row, &converter, numbers);
            drawn = Some((row.entry, converter));
        }
    }

    fn solve_one(&self, row: &Row, converter: &Converter, numbers: &mut [f64]) -> Status {
        numbers.fill(f64::NAN);
        let case = &self.baselines[row.baseline].case;
        let (point, arrangement) = (&case.point, case.arrangement);
        let outcome = self.settings.method.solve(converter, case);
        if let Some(state) = outcome.solved() {
            let split = self.scenario.neutral_split;
            let measured = SolvedConverter::new(state, converter, point, arrangement, split);
            for (value, figure) in numbers.iter_mut().zip(&self.figures) {
                *value = measured.value(*figure);
            }
        }
        Status::of(&outcome)
    }
}

/// What has become of the samples so far.
struct Scores {
    /// One a row.
    counts: Vec<Count>,
    pairs: Pairs,
}

impl Scores {
    fn new(entrants: &Entrants) -> Self {
        let count = |row: &Row| {
            let arrangement = entrants.baselines[row.baseline].case.arrangement;
            Count::new(&entrants.scenario.limits, arrangement, &entrants.figures)
        };
        let counts = entrants.rows.iter().map(count).collect();
        Self { counts, pairs: Pairs::new(entrants.populations.len()) }
    }

    fn take(&mut self, batch: &Batch, entrants: &Entrants) {
        let mut passed = vec![Flags::all(batch.len()); entrants.populations.len()];
        for (r, (row, count)) in entrants.rows.iter().zip(&mut self.counts).enumerate() {
            for n in 0..batch.len() {
                if !count.judge(batch.row(n, r)) {
                    passed[row.entry].clear(n);
                }
            }
        }
        self.pairs.take(&passed, batch.len());
    }

    fn trials(self, entrants: &Entrants, interrupted: bool) -> Tried {
        let samples = self.pairs.samples();
        let each = (0..entrants.populations.len()).map(|n| {
            let own = entrants.rows.iter().zip(&self.counts).filter(|(row, _)| row.entry == n);
            let name = |row: &Row| entrants.baselines[row.baseline].case.point.name.as_str();
            let binding = Binding::among(own.map(|(row, count)| (name(row), count)));
            Trial { good: self.pairs.good(n), samples, binding }
        });
        Tried { each: each.collect(), pairs: self.pairs, interrupted }
    }
}
