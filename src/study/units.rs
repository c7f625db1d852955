//! Converters whose parts are known: measured, or mismatched on purpose.

use std::sync::atomic::{AtomicBool, Ordering};

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

/// Solves every unit at every operating point in both arrangements. `None` once `stop` is set.
pub fn units(
    scenario: &Scenario,
    units: &[Unit],
    method: Method,
    stop: &AtomicBool,
) -> Option<Vec<UnitResult>> {
    let nominal = scenario.nominal_converter();
    let band = &scenario.frequency;
    let points: Vec<OperatingPoint> =
        scenario.operating_points.iter().map(|p| choose(p, &nominal, band).0).collect();
    let mut results = Vec::new();
    for unit in units {
        for point in &points {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            for arrangement in Arrangement::ALL {
                let outcome = method.solve(&unit.converter, point, band, arrangement, None);
                let sharing_error = outcome.solved().map(|state| {
                    let split = scenario.neutral_split;
                    Measured::new(state, &unit.converter, point, arrangement, split)
                        .sharing_error(scenario.limits.sharing)
                });
                results.push(UnitResult {
                    unit: unit.name.clone(),
                    phases: unit.converter.phases(),
                    point: point.clone(),
                    arrangement,
                    outcome,
                    sharing_error,
                });
            }
        }
    }
    Some(results)
}
