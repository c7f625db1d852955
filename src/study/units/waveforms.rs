//! The waveforms of listed converters, one case after the other, so that none is kept.

use std::sync::atomic::AtomicBool;

use crate::converter::Arrangement;
use crate::engine::{EngineError, Workers};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::solver::waveforms::{PhaseWaveforms, waveforms};
use crate::study::common::error::StudyError;
use crate::study::common::waveforms::ArrangementWaveforms;
use crate::study::units::{Listed, UnitResult, UnitsRequest, exact_case};

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

/// The waveforms of the worst unit.
#[derive(Debug)]
pub struct WorstUnitWaveforms {
    /// Its name.
    pub unit: String,
    /// The operating point where its sharing error in the chain is largest.
    pub operating_point: String,
    /// Chain, paralleled; none where it is not solved.
    pub arrangements: [Option<ArrangementWaveforms>; 2],
}

impl WorstUnitWaveforms {
    /// Of the first unit that is solved, the worst in the chain coming first. None with the averaged solver,
    /// or where none is solved.
    pub(super) fn new(
        scenario: &Scenario,
        request: UnitsRequest<'_>,
        listed: &Listed,
    ) -> Option<Self> {
        (request.method == Method::Exact).then_some(())?;
        let worst = listed.worst_first().into_iter().find_map(|unit| {
            let chain = listed.of_unit(unit).iter().filter(|r| r.arrangement == Arrangement::Chain);
            let errors = chain.filter_map(|r| Some((r, r.solved.as_ref()?.sharing_error)));
            errors.max_by(|(_, a), (_, b)| a.total_cmp(b)).map(|(result, _)| result)
        })?;
        let converter = &request.units[worst.unit].converter;
        let solved = |arrangement| {
            let case = exact_case(scenario, &worst.point, arrangement);
            ArrangementWaveforms::solve(converter, &case, scenario.limits.sharing)
        };
        Some(Self {
            unit: worst.name.clone(),
            operating_point: worst.point.name.clone(),
            arrangements: Arrangement::ALL.map(solved),
        })
    }
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
        let case = exact_case(scenario, &result.point, result.arrangement);
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
