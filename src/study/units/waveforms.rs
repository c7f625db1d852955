//! The waveforms of listed converters, one case after the other, so that none is kept.

use std::sync::atomic::AtomicBool;

use crate::engine::{EngineError, Workers};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::solver::waveforms::{PhaseWaveforms, waveforms};
use crate::study::common::error::StudyError;
use crate::study::common::point_case::case_at;
use crate::study::units::{Listed, UnitResult, UnitsRequest};

/// Results whose waveforms are held at a time.
const HELD: usize = 64;

/// Waveforms of a unit in a case.
#[derive(Debug)]
pub struct UnitWaveforms<'a> {
    /// The unit at one operating point in one arrangement, solved.
    pub result: &'a UnitResult,
    /// Every phase.
    pub phases: Vec<PhaseWaveforms>,
}

/// Hands the waveforms of every solved result to `take`, in the order of the results. The units are solved
/// once more by the exact solver, by which they must have been solved before.
///
/// # Errors
///
/// When the user asks to stop, when `take` fails, when the threads cannot be started.
pub fn each_waveforms(
    scenario: &Scenario,
    request: UnitsRequest<'_>,
    listed: &Listed,
    stop: &AtomicBool,
    take: &mut dyn FnMut(&UnitWaveforms<'_>) -> anyhow::Result<()>,
) -> Result<(), StudyError> {
    let workers = Workers::new(request.threads, stop)?;
    let solver = workers.solver(Method::Exact);
    let of_result = |result: &&UnitResult| {
        let case = case_at(scenario, &result.point, result.arrangement);
        let converter = &request.units[result.unit].converter;
        let outcome = solver.solve(converter, &case);
        waveforms(&converter.at(&case.point.condition), &case, outcome.solved()?)
    };
    let solved: Vec<&UnitResult> = listed.results.iter().filter(|r| r.solved.is_some()).collect();
    for held in solved.chunks(HELD) {
        let traced = workers.map(held, of_result)?;
        let known = held.iter().zip(traced).filter_map(|(result, phases)| Some((*result, phases?)));
        for (result, phases) in known {
            take(&UnitWaveforms { result, phases }).map_err(EngineError::from)?;
        }
    }
    Ok(())
}
