//! A limited figure of a converter in a case, over the tolerance box.

use super::search::BoxFigure;
use super::tolerance_box::ToleranceBox;
use crate::converter::Converter;
use crate::engine::Status;
use crate::solver::{Case, Method, Outcome, Unsolved};
use crate::study::common::figures::Figure;
use crate::study::common::session::Session;

/// Work of a solution besides that of its search, for each phase: the figures. In searches' limits.
const MEASURING: f64 = 2e-6;
/// Time that the averaged solver takes for a unit of work, of that of the exact one: its searches are
/// counted in frequencies tried.
const AVERAGED: f64 = 0.05;

/// What a search solved.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct SolvedCounts {
    /// Converters solved.
    pub solved: u64,
    /// Converters that are out of range.
    pub out_of_range: u64,
    /// Converters that the solver failed on.
    pub not_solved: u64,
}

/// A converter in the box that has no value of the figure.
#[derive(Debug, Clone, PartialEq)]
pub struct UnsolvedConverter {
    /// Its parts.
    pub converter: Converter,
    /// Out of range, or not solved.
    pub status: Status,
}

/// A figure in a case, over the tolerance box, with the work that its search may take.
#[derive(Debug)]
pub(super) struct CaseFigure<'a> {
    pub(super) session: &'a Session<'a>,
    pub(super) case: &'a Case,
    pub(super) figure: Figure,
    /// 1, or −1 where the lowest value is wanted: then all values have the other sign.
    pub(super) sign: f64,
    pub(super) tolerance_box: &'a ToleranceBox,
    /// Work that is left, in limits of one search.
    pub(super) work: f64,
    pub(super) counts: SolvedCounts,
    /// The first converter met without a value.
    pub(super) unsolved: Option<UnsolvedConverter>,
}

impl CaseFigure<'_> {
    /// The components of a solved converter.
    fn measured(&self, outcome: &Outcome, converter: &Converter, case: &Case) -> Option<Vec<f64>> {
        let state = outcome.solved()?;
        let measurement = self.session.measurement(&[]);
        let mut components = measurement.solved(state, converter, case).components(self.figure);
        for value in &mut components {
            *value *= self.sign;
        }
        (!components.is_empty()).then_some(components)
    }

    /// What becomes of a converter that is solved as listed ones are: by the exact method without the
    /// nominal solution to start from.
    pub(super) fn solved_afresh(&self, converter: &Converter) -> Result<f64, Status> {
        let method = self.session.settings().method;
        let case = match method {
            Method::Exact => Case { start: None, ..self.case.clone() },
            Method::Averaged => self.case.clone(),
        };
        let outcome = self.session.solve(converter, &case);
        let components = self.measured(&outcome, converter, &case);
        let largest = |all: Vec<f64>| all.into_iter().fold(f64::NEG_INFINITY, f64::max);
        components.map(largest).ok_or_else(|| Status::from(&outcome))
    }

    /// Counts what became of a converter, and keeps the first without a value.
    fn count(&mut self, outcome: &Outcome, converter: &Converter) {
        match outcome {
            Outcome::Solved(_) => self.counts.solved += 1,
            Outcome::OutOfRange => self.counts.out_of_range += 1,
            Outcome::NotSolved(Unsolved::Interrupted) => return,
            Outcome::NotSolved(_) => self.counts.not_solved += 1,
        }
        if outcome.solved().is_none() && self.unsolved.is_none() {
            let (condition, nominal) = (&self.case.point.condition, self.session.nominal());
            let converter = converter.as_if_nominal_at(condition, nominal);
            self.unsolved = Some(UnsolvedConverter { converter, status: Status::from(outcome) });
        }
    }
}

impl BoxFigure for CaseFigure<'_> {
    fn components(&mut self, point: &[f64]) -> Option<Vec<f64>> {
        let converter = self.tolerance_box.converter(point);
        let solver = self.session.solver();
        let effort = solver.effort(1.0);
        let outcome = solver.method.solve_within(&effort, &converter, self.case);
        let time = if solver.method == Method::Averaged { AVERAGED } else { 1.0 };
        self.work -= time * effort.share_taken() + MEASURING * converter.phases() as f64;
        let components = self.measured(&outcome, &converter, self.case);
        self.count(&outcome, &converter);
        components
    }

    fn is_spent(&self) -> bool {
        self.work <= 0.0 || self.session.workers().is_stopped()
    }
}
