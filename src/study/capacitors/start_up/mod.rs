//! Which start keeps what the switches may block: every sequence by the law that carries it (`laws`), and on
//! request integrated (`integrated`). What is known of them is in `result`, the solved operating points in
//! `prepared`.

mod integrated;
mod laws;
mod prepared;
mod result;

use self::integrated::integrate;
use self::prepared::PreparedStart;
pub use self::result::{
    FollowedStart, IntegratedRun, PointStart, SequenceResult, StartMethod, StartOutcome,
    StartSequence, StartUpStudy,
};
use crate::converter::{Arrangement, Stress};
use crate::scenario::Scenario;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::units::Volt;

/// The starts at every operating point of a session, with the scenario's own flying capacitors.
///
/// # Errors
///
/// When the user asks to stop.
pub(in crate::study) fn start_up(
    scenario: &Scenario,
    session: &Session,
    method: StartMethod,
    progress: &mut dyn Progress,
) -> Result<StartUpStudy, StudyError> {
    let (mut prepared, mut unsolved) = (Vec::new(), Vec::new());
    for case in session.cases(Arrangement::Chain) {
        match PreparedStart::new(scenario, session, &case.point) {
            Some(own) => prepared.push(own),
            None => unsolved.push(case.point.name.clone()),
        }
    }
    let inputs = scenario.operating_points.iter().map(|point| point.input_voltage.0);
    let mut points: Vec<PointStart> = prepared.iter().map(|own| own.by_laws(scenario)).collect();
    if method == StartMethod::Integrated {
        integrate(scenario, session, &prepared, &mut points, progress)?;
    }
    Ok(StartUpStudy {
        settings: scenario.start_up,
        blocking_limit: scenario.limits.chain.blocking_voltage,
        has_switch_limits: scenario.limits.parts.iter().any(|own| {
            own.arrangement == Arrangement::Chain && own.rating.stress == Stress::BlockingVoltage
        }),
        peak_limit: scenario.limits.chain.peak_current,
        method,
        points,
        unsolved,
        highest_input: Volt(inputs.fold(0.0, f64::max)),
    })
}
