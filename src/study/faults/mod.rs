//! What becomes of the converter when one part fails: every part, place and leg at every operating
//! point, in the chain and in the paralleled reference. First of the nominal converter, then of drawn
//! ones where it runs.
//!
//! What a failed part does to the circuit lives in `solver::fault`. Nothing here knows how it is told.

mod counted_drift;
mod judged;
mod nominal;
mod population;
mod result;

use std::sync::atomic::AtomicBool;

pub use self::judged::{judged_limits, not_always_judged, not_judged};
pub use self::result::{
    BlockingVoltage, FaultResult, FaultStudy, FaultedSharing, HealthyConverter, RemainingYield,
};
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::study::common::error::StudyError;
use crate::study::common::missed::NominalMiss;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::SharingShift;

/// Carries out the study.
///
/// # Errors
///
/// When the nominal converter does not work as long as it is healthy, and when `stop` is set.
pub fn faults(
    scenario: &Scenario,
    settings: Settings,
    stop: &AtomicBool,
    progress: &mut dyn Progress,
) -> Result<FaultStudy, StudyError> {
    let session = Session::new(scenario, settings, stop)?;
    let mut study = nominal_faults(&session, progress)?;
    let yields = population::sample(&session, &study.results, progress)?;
    for (result, found) in study.results.iter_mut().zip(yields) {
        result.remaining_yield = found;
    }
    Ok(study)
}

/// The same of the nominal converter alone: no drawn ones tell the yield of what remains.
///
/// # Errors
///
/// When the session is told to stop.
pub fn nominal_faults(
    session: &Session,
    progress: &mut dyn Progress,
) -> Result<FaultStudy, EngineError> {
    let (healthy, results) = nominal::solve_all(session, progress)?;
    let nominal_misses = NominalMiss::all_at_worst_drift(session.scenario(), session.baselines());
    Ok(FaultStudy {
        settings: session.settings(),
        healthy,
        results,
        nominal_misses,
        sharing_shift: SharingShift::largest(session),
    })
}
