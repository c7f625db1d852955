//! Converters whose parts are known: measured, or mismatched on purpose.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::converter::{Arrangement, OperatingPoint};
use crate::population::parts_file::Unit;
use crate::scenario::Scenario;
use crate::solver::{Case, Method, Outcome};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::figures::SolvedConverter;
use crate::study::common::nominal::{BaselineError, settled};

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

/// The results of listed units.
#[derive(Debug)]
pub struct Listed {
    /// How the configuration was chosen of every operating point that leaves it open.
    pub choices: Vec<ConfigurationChoice>,
    /// In the order of the units and of the scenario's operating points.
    pub results: Vec<UnitResult>,
}

/// Why listed units were not all solved.
#[derive(Debug, thiserror::Error)]
pub enum UnitsError {
    /// The nominal converter does not work in any configuration.
    #[error(transparent)]
    Baseline(#[from] BaselineError),
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
/// When no configuration suits an operating point that leaves it open, when `stop` is set, when
/// the threads cannot be started.
pub fn units(
    scenario: &Scenario,
    units: &[Unit],
    (method, threads): (Method, usize),
    stop: &AtomicBool,
) -> Result<Listed, UnitsError> {
    let nominal = scenario.nominal_converter();
    let requests = scenario.operating_points.iter();
    let settled: Vec<(OperatingPoint, Option<ConfigurationChoice>)> = requests
        .map(|request| settled(scenario, &nominal, request, method))
        .collect::<Result<_, _>>()?;
    let (points, choices): (Vec<_>, Vec<_>) = settled.into_iter().unzip();
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
    Ok(Listed {
        choices: choices.into_iter().flatten().collect(),
        results: results.ok_or(UnitsError::Interrupted)?.into_iter().flatten().collect(),
    })
}

fn solve(
    scenario: &Scenario,
    unit: &Unit,
    point: &OperatingPoint,
    (method, arrangement): (Method, Arrangement),
) -> UnitResult {
    let case = Case::new(point.clone(), scenario.frequency, arrangement);
    let outcome = method.solve(&unit.converter, &case);
    let sharing_error = outcome.solved().map(|state| {
        SolvedConverter::new(state, &unit.converter, point, arrangement, scenario.neutral_split)
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
