//! Whether a converter passes.

use crate::converter::{Arrangement, Converter};
use crate::solver::{Case, Outcome};
use crate::study::common::demand::Demand;
use crate::study::common::session::Session;

/// The evaluation of a converter.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluation {
    /// Whether it meets every demand at every operating point.
    pub passes: bool,
    /// Its largest sharing error at any operating point; none where one of them is not solved.
    pub sharing_error: Option<f64>,
    /// The first operating point and demand that it misses.
    pub missed: Option<MissedLimit>,
}

/// A limit that a converter misses.
#[derive(Debug, Clone, PartialEq)]
pub struct MissedLimit {
    /// The operating point's name.
    pub operating_point: String,
    /// The demand.
    pub demand: Demand,
}

impl Evaluation {
    /// A number that puts passing converters first, by rising sharing error.
    pub fn sort_key(&self) -> f64 {
        let error = self.sharing_error.unwrap_or(1e6);
        if self.passes { error } else { 1e9 + error }
    }
}

/// Whether a converter passes, and what it took to find out.
#[derive(Debug, Clone, PartialEq)]
pub struct PassCheck {
    /// The evaluation of a converter that passes; none where it fails.
    pub passing: Option<Evaluation>,
    /// Work done, in units of one ordinary solution.
    pub work: u64,
}

/// Says which converters pass.
pub trait ConverterEvaluator {
    /// One answer a converter, in their order; none when the user asked to stop.
    fn evaluate(&self, converters: &[Converter]) -> Option<Vec<Evaluation>>;

    /// The same where only those that pass are of interest; none when the user asked to stop. The
    /// work depends on the converters alone, never on time or threads.
    fn check(&self, converters: &[Converter]) -> Option<Vec<PassCheck>> {
        let evaluations = self.evaluate(converters)?.into_iter();
        let check = |e: Evaluation| PassCheck { passing: Some(e).filter(|e| e.passes), work: 1 };
        Some(evaluations.map(check).collect())
    }

    /// Whether the user asked to stop.
    fn stopped(&self) -> bool;
}

/// The evaluator that solves every converter in the chain at every operating point, on all threads
/// of a session.
#[derive(Debug)]
pub struct ChainEvaluator<'a> {
    pub(super) session: &'a Session<'a>,
    cases: Vec<Case>,
}

/// Work of a case without a solution: the solver searches the whole band before it says so. Measured
/// at the example stock: 150 µs against 7 µs.
const WORK_WITHOUT_SOLUTION: u64 = 20;

/// What one operating point says of a converter.
struct CaseEvaluation {
    /// The sharing error, where it is solved.
    sharing_error: Option<f64>,
    /// The first demand that it misses.
    missed: Option<Demand>,
}

impl<'a> ChainEvaluator<'a> {
    /// Evaluates converters like the nominal one of a session.
    pub fn new(session: &'a Session<'a>) -> Self {
        Self { session, cases: session.cases(Arrangement::Chain).cloned().collect() }
    }

    /// The operating points.
    pub fn cases(&self) -> &[Case] {
        &self.cases
    }

    /// Solves a converter at an operating point.
    pub(super) fn solve(&self, converter: &Converter, case: usize) -> Outcome {
        self.session.solve(converter, &self.cases[case])
    }

    fn evaluate_one(&self, converter: &Converter) -> Evaluation {
        let mut largest = Some(0.0);
        let mut missed = None;
        for (n, case) in self.cases.iter().enumerate() {
            let CaseEvaluation { sharing_error: error, missed: first } =
                self.evaluate_at(converter, n);
            largest = largest.zip(error).map(|(a, b)| f64::max(a, b));
            missed = missed.or_else(|| {
                let operating_point = case.point.name.clone();
                first.map(|demand| MissedLimit { operating_point, demand })
            });
        }
        Evaluation { passes: missed.is_none(), sharing_error: largest, missed }
    }

    /// Ends at the first operating point that the converter misses.
    fn check_one(&self, converter: &Converter) -> PassCheck {
        let (mut largest, mut work) = (0.0, 0);
        for case in 0..self.cases.len() {
            let CaseEvaluation { sharing_error, missed } = self.evaluate_at(converter, case);
            work += if sharing_error.is_some() { 1 } else { WORK_WITHOUT_SOLUTION };
            match sharing_error.filter(|_| missed.is_none()) {
                Some(error) => largest = f64::max(largest, error),
                None => return PassCheck { passing: None, work },
            }
        }
        let passing = Evaluation { passes: true, sharing_error: Some(largest), missed: None };
        PassCheck { passing: Some(passing), work }
    }

    fn evaluate_at(&self, converter: &Converter, case: usize) -> CaseEvaluation {
        let limits = &self.session.scenario().limits;
        let outcome = self.solve(converter, case);
        let case = &self.cases[case];
        let demands = Demand::all(limits, case.arrangement);
        let Some(state) = outcome.solved() else {
            let missed = demands.into_iter().find(|demand| demand.figure.is_none());
            return CaseEvaluation { sharing_error: None, missed };
        };
        let measured = self.session.measurement(&[]).solved(state, converter, case);
        let (arrangement, drive) = (case.arrangement, case.point.drive);
        let demanded = |d: &Demand| d.figure.filter(|figure| figure.applies(arrangement, drive));
        let meets = |d: &Demand| demanded(d).is_none_or(|f| measured.value(f) <= d.limit);
        CaseEvaluation {
            sharing_error: Some(measured.sharing_error(limits.sharing)),
            missed: demands.into_iter().find(|demand| !meets(demand)),
        }
    }
}

impl ConverterEvaluator for ChainEvaluator<'_> {
    fn evaluate(&self, converters: &[Converter]) -> Option<Vec<Evaluation>> {
        self.session.workers().map(converters, |converter| self.evaluate_one(converter)).ok()
    }

    fn check(&self, converters: &[Converter]) -> Option<Vec<PassCheck>> {
        self.session.workers().map(converters, |converter| self.check_one(converter)).ok()
    }

    fn stopped(&self) -> bool {
        self.session.workers().is_stopped()
    }
}
