//! Sizes with which an aged flying capacitor can trap the controller on the capacitive side.
//!
//! A slow controller goes on from the frequency that it had, and lowers it while the current is too small.
//! Where the capacitor has moved the resonance above that frequency, it ends at the lower end of the band
//! (`solver::fault`).

use super::corner::left;
use super::prepared::{PreparedCase, PreparedSize, Wear};
use crate::converter::{Age, Arrangement, FailedLegs, FailureMode, Fault, Parameter};
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::solver::fault::{FaultCase, Trap};
use crate::study::common::session::Session;

/// A converter of a size that is trapped.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeTrap {
    /// Name of the operating point.
    pub operating_point: String,
    /// The phase before the aged flying capacitor, counted from 0.
    pub place: usize,
    /// What is left of it, as a share of the size: the lower end of its tolerance, aged.
    pub left: f64,
    /// Where the controller ends.
    pub trap: Trap,
}

/// The share of a size that an aged flying capacitor at the lower end of its tolerance has; none where the
/// scenario does not tell how it ages.
pub(super) fn least_left(scenario: &Scenario) -> Option<f64> {
    let tolerance = scenario.tolerances.get(Parameter::FlyingCapacitance);
    let lowest = tolerance.map_or(0.0, |own| own.ends()[0]);
    Some(left(scenario)? * (1.0 + lowest))
}

/// A size whose nominal converter has one aged flying capacitor in the driven leg, at each place and operating
/// point: those that trap the controller. Empty too where the scenario does not tell how it ages.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn traps(
    scenario: &Scenario,
    session: &Session,
    size: &PreparedSize,
) -> Result<Vec<SizeTrap>, EngineError> {
    let Some(left) = least_left(scenario) else { return Ok(Vec::new()) };
    let is_new =
        |own: &&PreparedCase| own.wear == Wear::New && own.case.point.condition.age == Age::New;
    let cases: Vec<&PreparedCase> = size.cases.iter().filter(is_new).collect();
    let of_case = session.workers().map(&cases, |own| {
        let aged = |place| AgedCapacitor { place, left };
        let trapped = |place| trap(scenario, session, own, aged(place));
        (0..scenario.phases - 1).filter_map(trapped).collect::<Vec<_>>()
    });
    Ok(of_case?.into_iter().flatten().collect())
}

/// Which capacitor is aged.
#[derive(Debug, Clone, Copy)]
struct AgedCapacitor {
    place: usize,
    left: f64,
}

fn trap(
    scenario: &Scenario,
    session: &Session,
    own: &PreparedCase,
    aged: AgedCapacitor,
) -> Option<SizeTrap> {
    let AgedCapacitor { place, left } = aged;
    let (state, point) = (own.outcome.solved()?, &own.case.point);
    let fault = Fault {
        failure: FailureMode::FlyingCapacitorAged(left),
        phase: place,
        legs: Some(FailedLegs::Driven),
    };
    let (chain, diode_drop) = (Arrangement::Chain, scenario.faults.body_diode_drop);
    let case = FaultCase::new(fault, point.clone(), scenario.frequency, chain, diode_drop)
        .telling(false, own.case.switch);
    let outcome = case.solve(&session.solver(), &own.converter);
    let (solver, frequency) = (session.solver(), state.switching_frequency);
    let trap = case.trap_if_short(&solver, &own.converter, frequency, outcome.state()?)?;
    Some(SizeTrap { operating_point: point.name.clone(), place, left, trap })
}
