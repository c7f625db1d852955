//! The yield of one set of parts in one arrangement, without files: what a search for tolerance
//! bands or part grades asks for again and again.
//!
//! Sample k draws the same probabilities whatever the tolerances, so trials of the same seed are
//! paired: they differ by their parts alone, not by the luck of the draw.

use std::sync::atomic::AtomicBool;

use super::baseline::baselines;
use super::figures::{Figure, Measured};
use super::run::{RunError, Settings};
use super::tally::{CaseTally, Demand, Tally};
use crate::converter::Arrangement;
use crate::engine::{Case, Engine};
use crate::population::Population;
use crate::scenario::Scenario;
use crate::statistics::{Confidence, Yield};

/// What became of the samples of one set of parts.
#[derive(Debug)]
pub struct Trial {
    /// Share of the converters that meet all demands at all operating points.
    pub good: Yield,
    /// Whether each sample does, in the order of their numbers.
    pub passed: Vec<bool>,
    /// What the distributions of every case are of, in their order.
    pub figures: Vec<Figure>,
    /// One an operating point: counts, misses, distributions.
    pub cases: Vec<(Case, CaseTally)>,
}

/// The demand missed most often, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Binding {
    /// The operating point's name.
    pub operating_point: String,
    /// The demand.
    pub demand: Demand,
    /// Number of samples that miss it there.
    pub missed: u64,
}

/// Draws and solves `settings.samples` converters in one arrangement at every operating point.
///
/// # Errors
///
/// When the nominal converter does not work, when `stop` is set, when the confidence level is not
/// one that statistics can take.
pub fn trial(
    scenario: &Scenario,
    arrangement: Arrangement,
    settings: Settings,
    stop: &AtomicBool,
) -> Result<Trial, RunError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let population = Population::new(scenario, settings.seed);
    let cases: Vec<Case> = baselines(scenario, settings.method)?
        .into_iter()
        .map(|baseline| baseline.case)
        .filter(|case| case.arrangement == arrangement)
        .collect();
    let engine = Engine {
        population: &population,
        cases: &cases,
        method: settings.method,
        band: scenario.frequency,
        threads: settings.threads,
    };
    let figures = vec![
        Figure::SharingError(scenario.limits.sharing),
        Figure::WorstSwitchRms,
        Figure::WorstSwitchPeak,
        Figure::WorstBlocking,
    ];
    let mut tally = Tally::new(&cases, &figures, &scenario.limits);
    let mut passed = Vec::new();
    engine.run(
        settings.samples,
        figures.len(),
        stop,
        |case, converter, outcome, row| {
            let Some(state) = outcome.solved() else { return };
            let (point, split) = (&case.point, scenario.neutral_split);
            let measured = Measured::new(state, converter, point, arrangement, split);
            for (value, figure) in row.iter_mut().zip(&figures) {
                *value = measured.value(*figure);
            }
        },
        |batch| {
            tally.take(batch, &cases, &figures);
            let meets = |n: usize| {
                let mut all = tally.cases.iter().enumerate();
                all.all(|(case, tally)| tally.meets(batch.row(n, case)))
            };
            passed.extend((0..batch.len()).map(meets));
            Ok(())
        },
    )?;
    let count = passed.iter().filter(|passed| **passed).count() as u64;
    let good = Yield::new(count, settings.samples, confidence)?;
    let cases = cases.into_iter().zip(tally.cases).collect();
    Ok(Trial { good, passed, figures, cases })
}

impl Trial {
    /// The demand missed most often at any one operating point; none when all samples pass.
    pub fn binding(&self) -> Option<Binding> {
        let misses = self.cases.iter().flat_map(|(case, tally)| {
            tally.misses.iter().map(|(demand, missed)| Binding {
                operating_point: case.point.name.clone(),
                demand: *demand,
                missed: *missed,
            })
        });
        misses
            .filter(|binding| binding.missed > 0)
            .reduce(|most, next| if next.missed > most.missed { next } else { most })
    }
}
