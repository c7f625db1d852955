//! How far the exact and the averaged solver lie apart on the same converters.

use crate::engine::EngineError;
use crate::population::Population;
use crate::solver::{Case, Method};
use crate::statistics::Distribution;
use crate::study::common::figures::Figure;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::shared_work::SharedWork;

/// Samples that both solvers solve.
const COMPARED: u64 = 1000;

/// Both solvers on the first samples.
#[derive(Debug)]
pub(super) struct ComparedSolvers {
    /// Number of samples.
    pub(super) samples: u64,
    /// One comparison a case.
    pub(super) cases: Vec<SolverComparison>,
}

/// Exact against averaged solver on the same converters, as exact over averaged.
#[derive(Debug, Clone, Copy)]
pub struct SolverComparison {
    /// Samples that both solved.
    pub both_solved: u64,
    /// Median sharing error of these, exact and averaged.
    pub median: Option<(f64, f64)>,
    /// 95 % quantile of their sharing error, exact and averaged.
    pub p95: Option<(f64, f64)>,
    /// Largest relative difference of the frequency.
    pub frequency: Option<f64>,
}

/// Solves the first samples of so many with both solvers.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn compare(
    session: &Session,
    population: &Population,
    samples: u64,
) -> Result<ComparedSolvers, EngineError> {
    let samples = samples.min(COMPARED);
    let exact = solve(session, population, Method::Exact, samples)?;
    let averaged = solve(session, population, Method::Averaged, samples)?;
    let pairs = exact.iter().zip(&averaged);
    let cases = pairs.map(|(exact, averaged)| SolverComparison::new(exact, averaged)).collect();
    Ok(ComparedSolvers { samples, cases })
}

/// Frequency and sharing error of every sample, case by case.
fn solve(
    session: &Session,
    population: &Population,
    method: Method,
    samples: u64,
) -> Result<Vec<Vec<[f64; 2]>>, EngineError> {
    let error = Figure::SharingError(session.scenario().limits.sharing);
    let solver = session.solver().with_method(method);
    let sharing = solver.with_share(SharedWork::CONVERTERS.share(session.baselines().len()));
    let prepared = |case: &Case| sharing.prepare(session.nominal(), case.clone()).1;
    let cases: Vec<Case> = session.baselines().iter().map(|b| prepared(&b.case)).collect();
    let plan = SamplePlan {
        method,
        populations: std::slice::from_ref(population),
        rows: &PlannedRow::of_one_population(&cases),
        figures: &[Figure::SwitchingFrequency, error],
    };
    let mut found = vec![Vec::new(); cases.len()];
    session.evaluate(&plan, samples, |batch| {
        for (case, found) in found.iter_mut().enumerate() {
            let rows = (0..batch.len()).map(|n| batch.row(n, case).figures);
            found.extend(rows.map(|row| [row[0], row[1]]));
        }
        Ok(())
    })?;
    Ok(found)
}

impl SolverComparison {
    /// From frequencies and sharing errors, NaN where not solved.
    fn new(exact: &[[f64; 2]], averaged: &[[f64; 2]]) -> Self {
        let mut errors =
            [Distribution::exact_up_to(exact.len()), Distribution::exact_up_to(exact.len())];
        let mut apart: Option<f64> = None;
        let pairs = exact.iter().zip(averaged).filter(|(e, a)| !e[0].is_nan() && !a[0].is_nan());
        for (n, (e, a)) in (0..).zip(pairs) {
            errors[0].push(n, e[1]);
            errors[1].push(n, a[1]);
            let difference = (a[0] / e[0] - 1.0).abs();
            apart = Some(apart.map_or(difference, |x| x.max(difference)));
        }
        let ordered = [errors[0].ordered(), errors[1].ordered()];
        let quantile = |p: f64| match &ordered {
            [Some(e), Some(a)] => e.quantile(p).zip(a.quantile(p)),
            _ => None,
        };
        Self {
            both_solved: errors[0].moments().count(),
            median: quantile(0.5),
            p95: quantile(0.95),
            frequency: apart,
        }
    }
}
