//! Sets of grades, tried with the solver.

use std::sync::atomic::AtomicBool;

use super::{Bench, Tried};
use crate::converter::Arrangement;
use crate::scenario::{Grades, Scenario};
use crate::solver::Method;
use crate::statistics::Yield;
use crate::study::baseline::{BaselineError, baselines};
use crate::study::run::{RunError, Settings};
use crate::study::trial::{Trial, trial};

/// How far the trials have come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// There will be so many trials in all.
    Planned(usize),
    /// One more is done.
    Done,
}

/// Tries sets of grades with the solver.
#[derive(Debug)]
pub struct Trials<'a, F> {
    /// The scenario, whose tolerances the grades replace.
    pub scenario: &'a Scenario,
    /// Its grades.
    pub grades: &'a Grades,
    /// How trials are carried out; each brings its own seed.
    pub settings: Settings,
    /// Set once the user asks to stop.
    pub stop: &'a AtomicBool,
    /// Told of every trial.
    pub progress: F,
}

impl<F: FnMut(Progress)> Trials<'_, F> {
    fn run(
        &mut self,
        set: &[usize],
        seed: u64,
        arrangement: Arrangement,
    ) -> Result<Trial, RunError> {
        let settings = Settings { seed, ..self.settings };
        let scenario = with_grades(self.scenario, self.grades, set);
        let result = trial(&scenario, arrangement, settings, self.stop)?;
        (self.progress)(Progress::Done);
        Ok(result)
    }
}

impl<F: FnMut(Progress)> Bench for Trials<'_, F> {
    fn try_set(&mut self, set: &[usize], seed: u64) -> Result<Tried, RunError> {
        let result = self.run(set, seed, Arrangement::Chain)?;
        let binding = result.binding();
        Ok(Tried { passed: result.passed, binding })
    }

    fn without_balancing(&mut self, set: &[usize], seed: u64) -> Result<Option<Yield>, RunError> {
        Ok(Some(self.run(set, seed, Arrangement::Paralleled)?.good))
    }

    fn plan(&mut self, trials: usize) {
        (self.progress)(Progress::Planned(trials));
    }
}

/// The scenario with the tolerances of a set of grades.
pub fn with_grades(scenario: &Scenario, grades: &Grades, set: &[usize]) -> Scenario {
    let mut changed = scenario.clone();
    for (offer, choice) in grades.offers.iter().zip(set) {
        let tolerance = offer.grades[*choice].tolerance;
        changed.tolerances = changed.tolerances.with(offer.parameter, Some(tolerance));
    }
    changed
}

/// Driven legs of the chain: as many as any operating point drives.
///
/// # Errors
///
/// When the nominal converter cannot deliver an operating point.
pub fn legs(scenario: &Scenario, method: Method) -> Result<usize, BaselineError> {
    let all = baselines(scenario, method)?;
    Ok(all.iter().map(|baseline| baseline.case.point.drive.legs()).max().unwrap_or(1))
}
