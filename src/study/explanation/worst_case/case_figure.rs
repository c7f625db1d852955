//! A limited figure of a converter in a case, over the tolerance box.

use std::collections::HashMap;
use std::ops::AddAssign;

use super::middle::BoxMiddle;
use super::search::BoxFigure;
use super::sensitivities::Sensitivities;
use super::tolerance_box::ToleranceBox;
use crate::converter::Converter;
use crate::engine::Status;
use crate::solver::{Case, Effort, Method, Outcome, Unsolved};
use crate::study::common::figures::Figure;
use crate::study::common::session::Session;

/// Work of a solution besides that of its search, for each phase: the figures. In searches' limits.
const MEASURING: f64 = 2e-6;
/// Time that the averaged solver takes for a unit of work, of that of the exact one: its searches are
/// counted in frequencies tried.
const AVERAGED: f64 = 0.05;

/// Share of the work of a search within which converters near a solution are solved, and how many in a row
/// may fail before that solution is given up as their start.
const LITTLE: f64 = 1e-3;
const FAILURES: u32 = 3;

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

impl AddAssign for SolvedCounts {
    fn add_assign(&mut self, other: Self) {
        self.solved += other.solved;
        self.out_of_range += other.out_of_range;
        self.not_solved += other.not_solved;
    }
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
    session: &'a Session<'a>,
    case: &'a Case,
    figure: Figure,
    /// 1, or −1 where the lowest value is wanted: then all values have the other sign.
    sign: f64,
    pub(super) tolerance_box: &'a ToleranceBox,
    /// The case with a start for converters about a point of the box; none before there is one.
    about: Option<Case>,
    /// Converters in a row that were not found from there.
    failures: u32,
    /// Components at the points of the box that were tried, by the bits of their coordinates: several ways up
    /// lead over the same corners.
    known: HashMap<Vec<u64>, Option<Vec<f64>>>,
    /// Work that is left, in limits of one search.
    pub(super) work: f64,
    pub(super) counts: SolvedCounts,
    /// The first converter met without a value.
    pub(super) unsolved: Option<UnsolvedConverter>,
}

impl<'a> CaseFigure<'a> {
    /// A figure over a box, or where `sign` is −1 its negative, with so much work.
    pub(super) fn new(
        session: &'a Session<'a>,
        middle: &'a BoxMiddle<'a>,
        figure: Figure,
        sign: f64,
        work: f64,
    ) -> Self {
        Self {
            session,
            case: middle.case,
            figure,
            sign,
            tolerance_box: &middle.tolerance_box,
            about: None,
            failures: 0,
            known: HashMap::new(),
            work,
            counts: SolvedCounts::default(),
            unsolved: None,
        }
    }

    /// Its sensitivities, from what was solved about the middle of the box.
    pub(super) fn sensitivities(&mut self, middle: &BoxMiddle) -> Option<Sensitivities> {
        let components = middle.solved().map(|(converter, outcome)| {
            self.count(outcome, &converter);
            self.measured(outcome, &converter, self.case)
        });
        Sensitivities::from_components(components)
    }

    /// Solves a converter in a case with a share of the work of a search, which comes off the work that is
    /// left.
    fn solved<T>(&mut self, share: f64, solve: impl FnOnce(Method, &Effort) -> T) -> T {
        let solver = self.session.solver();
        let effort = solver.effort(share);
        let solved = solve(solver.method, &effort);
        let time = if solver.method == Method::Averaged { AVERAGED } else { 1.0 };
        let measuring = MEASURING * self.session.nominal().phases() as f64;
        self.work -= share * time * effort.share_taken() + measuring;
        solved
    }

    /// What becomes of a converter. From a start nearby it takes little work; if not, the solution of the
    /// nominal converter is a better one.
    fn outcome(&mut self, converter: &Converter) -> Outcome {
        if let Some(about) = self.about.take() {
            let outcome = self
                .solved(LITTLE, |method, effort| method.solve_within(effort, converter, &about));
            let is_solved = outcome.solved().is_some();
            self.failures = if is_solved { 0 } else { self.failures + 1 };
            self.about = (self.failures < FAILURES).then_some(about);
            if is_solved {
                return outcome;
            }
        }
        let case = self.case;
        self.solved(1.0, |method, effort| method.solve_within(effort, converter, case))
    }

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
        let place: Vec<u64> = point.iter().map(|coordinate| coordinate.to_bits()).collect();
        if let Some(known) = self.known.get(&place) {
            return known.clone();
        }
        let converter = self.tolerance_box.converter(point);
        let conditioned = &*converter.at(&self.case.point.condition);
        let outcome = self.outcome(conditioned);
        let components = self.measured(&outcome, conditioned, self.case);
        self.count(&outcome, &converter);
        self.known.insert(place, components.clone());
        components
    }

    fn look_about(&mut self, point: &[f64]) {
        let converter = self.tolerance_box.converter(point);
        let case = self.about.as_ref().unwrap_or(self.case).clone();
        let (_, case) =
            self.solved(1.0, |method, effort| method.prepare_nearby(effort, &converter, case));
        self.failures = 0;
        self.about = case.start.is_some().then_some(case);
    }

    fn is_spent(&self) -> bool {
        self.work <= 0.0 || self.session.workers().is_stopped()
    }
}
