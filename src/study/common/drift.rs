//! The drift of flying-capacitor voltages in a solved chain.

use crate::converter::{AssumedDrift, ChainDrift, DriftConditions, Drive, OperatingPoint};
use crate::solver::{PhaseState, SteadyState};
use crate::units::Ampere;

/// What a scenario's drift comes to in a solved chain. In half-bridge drive charge balance holds every
/// voltage, so that none drifts.
pub fn chain_drift(
    assumed: &AssumedDrift,
    state: &SteadyState,
    point: &OperatingPoint,
) -> ChainDrift {
    let phases = state.phases.len();
    match (point.drive, assumed) {
        (Drive::HalfBridge, _) => ChainDrift::none(phases),
        (Drive::FullBridge, AssumedDrift::Stated(drift)) => ChainDrift::stated(phases, *drift),
        (Drive::FullBridge, AssumedDrift::FromCauses(causes)) => {
            ChainDrift::from_causes(causes, &drift_conditions(state, point))
        }
    }
}

/// What the drift depends on in a solved chain. Where the solver does not tell the currents at the
/// switching instants, the peak currents stand in for them: no current at turn-off is higher.
pub fn drift_conditions(state: &SteadyState, point: &OperatingPoint) -> DriftConditions {
    let turn_off = |phase: &PhaseState| -> Ampere {
        phase.middle.map_or(phase.peak_current, |tank| tank.tank_current)
    };
    DriftConditions {
        input_voltage: point.input_voltage,
        switching_frequency: state.switching_frequency,
        turn_off_currents: state.phases.iter().map(turn_off).collect(),
    }
}
