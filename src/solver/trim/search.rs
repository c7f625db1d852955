//! Steady states with trims: what sensors read of them.

use super::case::{TrimCase, TrimStart};
use super::range::{PhaseValues, balanced};
use crate::converter::{Converter, Parameter, Sensor};
use crate::solver::effort::Effort;
use crate::solver::steady_state::{Outcome, SteadyState, Unsolved};
use crate::units::Ampere;

/// A point that was evaluated.
#[derive(Debug, Clone)]
pub(super) struct Evaluated {
    pub(super) trims: PhaseValues,
    /// Readings times the sense of the loops.
    pub(super) y: PhaseValues,
    pub(super) state: SteadyState,
}

/// Why there is no steady state with some trims.
#[derive(Debug, Clone, Copy)]
pub(super) enum Failure {
    OutOfRange,
    NotSolved(Unsolved),
}

impl From<Failure> for Outcome {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::OutOfRange => Self::OutOfRange,
            Failure::NotSolved(why) => Self::NotSolved(why),
        }
    }
}

/// The search for one converter's trims.
pub(super) struct TrimSearch<'a> {
    pub(super) case: &'a TrimCase<'a>,
    /// Its parts, not trimmed.
    pub(super) untrimmed: &'a Converter,
    pub(super) sensors: &'a [Sensor],
    pub(super) from: &'a TrimStart,
    pub(super) evaluations: usize,
    /// The work that all evaluations together may take.
    pub(super) effort: Effort<'a>,
}

impl TrimSearch<'_> {
    pub(super) fn range(&self) -> f64 {
        self.case.trim.range
    }

    /// The trims that the nominal converter's first-order response asks for, less of them, or
    /// none: the first that the converter works with.
    pub(super) fn first_solved(&mut self) -> Result<Evaluated, Failure> {
        let first = self.first();
        let part = |share: f64| first.iter().map(|x| share * x).collect::<PhaseValues>();
        let tried = self.evaluate(&first).or_else(|_| self.evaluate(&part(0.5)));
        tried.or_else(|_| self.evaluate(&part(0.0)))
    }

    /// The trims that the nominal converter's first-order response asks for.
    pub(super) fn first(&self) -> PhaseValues {
        let trim = self.case.trim.parameter;
        let mean = self.from.mean;
        let tanks = self.untrimmed.tanks.iter().zip(&self.from.nominal.tanks);
        let wanted: PhaseValues = tanks
            .zip(&self.from.answers)
            .zip(self.sensors)
            .map(|(((tank, nominal), answers), sensor)| {
                let parts: f64 = Parameter::of_tank()
                    .filter_map(|p| {
                        let ratio = tank.value(p)? / nominal.value(p)?;
                        let far = if ratio > 0.0 { libm::log(ratio) } else { 0.0 };
                        far.is_finite().then_some(answers[p.index()] * far)
                    })
                    .sum();
                let error = sensor.reading(Ampere(mean)) - mean;
                let step = -(parts + error) / answers[trim.index()];
                if step.is_finite() { libm::exp(step.clamp(-1.0, 1.0)) - 1.0 } else { 0.0 }
            })
            .collect();
        let slopes: PhaseValues = wanted.iter().map(|_| 1.0).collect();
        balanced(&wanted, &slopes, self.range())
    }

    pub(super) fn evaluate(&mut self, trims: &PhaseValues) -> Result<Evaluated, Failure> {
        self.evaluations += 1;
        let trimmed = self.case.trimmed(self.untrimmed, trims);
        match self.case.solver.method.solve_within(&self.effort, &trimmed, &self.from.case) {
            Outcome::Solved(state) => {
                let currents = state.phases.iter().map(|p| p.shared(self.case.trim.measured));
                let y = currents.zip(self.sensors);
                let y = y.map(|(i, s)| self.from.sense * s.reading(i)).collect();
                Ok(Evaluated { trims: trims.clone(), y, state })
            }
            Outcome::OutOfRange => Err(Failure::OutOfRange),
            Outcome::NotSolved(why) => Err(Failure::NotSolved(why)),
        }
    }
}
