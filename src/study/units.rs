//! Converters whose parts are known: measured, or mismatched on purpose.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use super::baseline::choose;
use super::figures::Measured;
use crate::converter::{Arrangement, OperatingPoint};
use crate::population::parts_file::Unit;
use crate::scenario::Scenario;
use crate::solver::{Method, Outcome};

/// One converter at one operating point in one arrangement.
#[derive(Debug)]
pub struct UnitResult {
    /// The converter's name.
    pub unit: String,
    /// Number of its phases.
    pub phases: usize,
    /// The operating point.
    pub point: OperatingPoint,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// What became of it.
    pub outcome: Outcome,
    /// Its sharing error, if solved.
    pub sharing_error: Option<f64>,
}

/// Why listed units were not all solved.
#[derive(Debug, thiserror::Error)]
pub enum UnitsError {
    /// The user asked to stop.
    #[error("interrupted; no result files were written")]
    Interrupted,
    /// The threads could not be started.
    #[error("cannot start the threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
}

/// Solves every unit at every operating point in both arrangements, on as many threads (0 takes
/// all cores); results come in the order of the units and of the scenario's operating points.
///
/// # Errors
///
/// When `stop` is set, when the threads cannot be started.
pub fn units(
    scenario: &Scenario,
    units: &[Unit],
    (method, threads): (Method, usize),
    stop: &AtomicBool,
) -> Result<Vec<UnitResult>, UnitsError> {
    let nominal = scenario.nominal_converter();
    let points: Vec<OperatingPoint> = scenario
        .operating_points
        .iter()
        .map(|p| choose(p, &nominal, &scenario.frequency).0)
        .collect();
    let each: Vec<(&Unit, &OperatingPoint)> =
        units.iter().flat_map(|unit| points.iter().map(move |point| (unit, point))).collect();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build()?;
    let results = pool.install(|| {
        let solved = each.par_iter().map(|(unit, point)| {
            let wanted = !stop.load(Ordering::Relaxed);
            wanted.then(|| Arrangement::ALL.map(|a| solve(scenario, unit, point, (method, a))))
        });
        solved.collect::<Option<Vec<_>>>()
    });
    Ok(results.ok_or(UnitsError::Interrupted)?.into_iter().flatten().collect())
}

fn solve(
    scenario: &Scenario,
    unit: &Unit,
    point: &OperatingPoint,
    (method, arrangement): (Method, Arrangement),
) -> UnitResult {
    let outcome = method.solve(&unit.converter, point, &scenario.frequency, arrangement, None);
    let sharing_error = outcome.solved().map(|state| {
        Measured::new(state, &unit.converter, point, arrangement, scenario.neutral_split)
            .sharing_error(scenario.limits.sharing)
    });
    UnitResult {
        unit: unit.name.clone(),
        phases: unit.converter.phases(),
        point: point.clone(),
        arrangement,
        outcome,
        sharing_error,
    }
}
