//! A solver with the work that one search may take, and the user's wish to stop.

use std::sync::atomic::{AtomicBool, Ordering};

use super::case::Case;
use super::effort::{Effort, SEARCH};
use super::exact::{self, Approach, Detail};
use super::method::Method;
use super::steady_state::Outcome;
use crate::converter::Converter;

/// How studies solve: each search takes at most so much work, and ends once the user asks to stop.
#[derive(Debug, Clone, Copy)]
pub struct Solver<'a> {
    /// How steady states are found.
    pub method: Method,
    stop: Option<&'a AtomicBool>,
    work: f64,
}

impl From<Method> for Solver<'_> {
    /// Never stopped.
    fn from(method: Method) -> Self {
        Self { method, stop: None, work: SEARCH }
    }
}

impl<'a> Solver<'a> {
    /// Searches end once `stop` is set.
    pub fn new(method: Method, stop: &'a AtomicBool) -> Self {
        Self { method, stop: Some(stop), work: SEARCH }
    }

    /// The other method with the same limits.
    #[must_use]
    pub fn with_method(self, method: Method) -> Self {
        Self { method, ..self }
    }

    /// With this share of the work that a search may take.
    #[must_use]
    pub fn with_share(self, share: f64) -> Self {
        Self { work: share * SEARCH, ..self }
    }

    /// Whether the user asked to stop. Then no outcome tells anything.
    pub fn is_stopped(&self) -> bool {
        self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
    }

    /// The work of so many searches.
    pub fn effort(&self, searches: f64) -> Effort<'a> {
        Effort::new(searches * self.work, self.stop)
    }

    /// So much work, counted in stretches and half turns.
    pub fn effort_of(&self, work: f64) -> Effort<'a> {
        Effort::new(work, self.stop)
    }

    /// The converter's steady state in a case.
    pub fn solve(&self, converter: &Converter, case: &Case) -> Outcome {
        self.method.solve_within(&self.effort(1.0), converter, case)
    }

    /// The converter close to its steady state, if the case's start leads there at once. Only the exact
    /// solver tells that, of converters whose parts do not follow their losses.
    pub fn approach(&self, converter: &Converter, case: &Case, detail: Detail) -> Option<Approach> {
        let is_told = self.method == Method::Exact && converter.losses.is_none();
        let converter = is_told.then(|| converter.at(&case.point.condition))?;
        exact::approach(&converter, case, &self.effort(1.0), detail)
    }

    /// The steady state of a converter that was [approached](Self::approach) in this case.
    pub fn finish(&self, converter: &Converter, case: &Case, approach: &Approach) -> Outcome {
        let converter = converter.at(&case.point.condition);
        exact::finish(&converter, case, &self.effort(1.0), approach)
    }

    /// As [`Method::prepare`].
    pub fn prepare(&self, converter: &Converter, case: Case) -> (Outcome, Case) {
        self.method.prepare_within(&self.effort(1.0), converter, case)
    }
}
