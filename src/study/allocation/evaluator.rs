//! Whether a converter passes.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::converter::{Arrangement, Converter};
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::solver::{Method, Outcome};
use crate::study::common::demand::Demand;
use crate::study::common::figures::SolvedConverter;
use crate::study::common::nominal::{BaselineError, baselines};
use crate::study::common::settings::Settings;

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

/// Says which converters pass.
pub trait ConverterEvaluator {
    /// One answer a converter, in their order; none when the user asked to stop.
    fn evaluate(&self, converters: &[Converter]) -> Option<Vec<Evaluation>>;

    /// Whether the user asked to stop.
    fn stopped(&self) -> bool;
}

/// The evaluator that solves every converter in the chain at every operating point, on all threads
/// of a pool.
#[derive(Debug)]
pub struct ChainEvaluator<'a> {
    pub(super) scenario: &'a Scenario,
    method: Method,
    cases: Vec<Case>,
    pool: rayon::ThreadPool,
    stop: &'a AtomicBool,
}

/// What one operating point says of a converter.
struct CaseResult {
    /// The sharing error, where it is solved.
    sharing_error: Option<f64>,
    /// The first demand that it misses.
    missed: Option<Demand>,
}

/// Why the solver cannot evaluate.
#[derive(Debug, thiserror::Error)]
pub enum EvaluatorError {
    /// The nominal converter does not work.
    #[error(transparent)]
    Baseline(#[from] BaselineError),
    /// The threads could not be started.
    #[error("cannot start the threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
}

impl<'a> ChainEvaluator<'a> {
    /// An evaluator with the method and threads of the settings.
    ///
    /// # Errors
    ///
    /// When the nominal converter cannot deliver an operating point, or threads cannot be started.
    pub fn new(
        scenario: &'a Scenario,
        settings: Settings,
        stop: &'a AtomicBool,
    ) -> Result<Self, EvaluatorError> {
        let all = baselines(scenario, settings.method)?.into_iter().map(|baseline| baseline.case);
        let cases = all.filter(|case| case.arrangement == Arrangement::Chain).collect();
        let pool = rayon::ThreadPoolBuilder::new().num_threads(settings.threads).build()?;
        Ok(Self { scenario, method: settings.method, cases, pool, stop })
    }

    /// The operating points.
    pub fn cases(&self) -> &[Case] {
        &self.cases
    }

    /// Solves a converter at an operating point.
    pub(super) fn solve(&self, converter: &Converter, case: usize) -> Outcome {
        self.method.solve(converter, &self.cases[case])
    }

    fn evaluate_one(&self, converter: &Converter) -> Evaluation {
        let mut largest = Some(0.0);
        let mut missed = None;
        for (n, case) in self.cases.iter().enumerate() {
            let CaseResult { sharing_error: error, missed: first } = self.evaluate_at(converter, n);
            largest = largest.zip(error).map(|(a, b)| f64::max(a, b));
            missed = missed.or_else(|| {
                let operating_point = case.point.name.clone();
                first.map(|demand| MissedLimit { operating_point, demand })
            });
        }
        Evaluation { passes: missed.is_none(), sharing_error: largest, missed }
    }

    fn evaluate_at(&self, converter: &Converter, case: usize) -> CaseResult {
        let (limits, split) = (&self.scenario.limits, self.scenario.neutral_split);
        let outcome = self.solve(converter, case);
        let case = &self.cases[case];
        let demands = Demand::all(limits, case.arrangement);
        let Some(state) = outcome.solved() else {
            let missed = demands.into_iter().find(|demand| demand.figure.is_none());
            return CaseResult { sharing_error: None, missed };
        };
        let measured = SolvedConverter::new(state, converter, &case.point, case.arrangement, split);
        let meets = |d: &Demand| d.figure.is_none_or(|f| measured.value(f) <= d.limit);
        CaseResult {
            sharing_error: Some(measured.sharing_error(limits.sharing)),
            missed: demands.into_iter().find(|demand| !meets(demand)),
        }
    }
}

impl ConverterEvaluator for ChainEvaluator<'_> {
    fn evaluate(&self, converters: &[Converter]) -> Option<Vec<Evaluation>> {
        let one = |converter| (!self.stopped()).then(|| self.evaluate_one(converter));
        self.pool.install(|| converters.par_iter().map(one).collect())
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}
