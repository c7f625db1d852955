//! The losses of all parts of a solved converter, and how warm they become.

use arrayvec::ArrayVec;

use super::dissipated::Dissipation;
use super::phase::PhaseLosses;
use super::phase_dissipation::PhaseDissipation;
use crate::converter::{Arrangement, Converter, MAX_PHASES, OperatingPoint};
use crate::solver::commutation::Commutation;
use crate::solver::steady_state::SteadyState;
use crate::units::{Ohm, Volt};

/// What the tanks of all phases see of the losses.
pub(super) type TankLoads = ArrayVec<TankLoad, MAX_PHASES>;

/// What a phase's tank sees of the losses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TankLoad {
    /// The series resistance that loses as much as all resistances of the phase together.
    pub(super) resistance: Ohm,
    /// Drop of one diode at its temperature.
    pub(super) drop: Volt,
}

impl Dissipation {
    /// Losses of a solved converter, whose parts are those under the condition of the operating point.
    /// None where a part has no steady temperature: the solver does not give such a converter out as
    /// solved.
    pub fn new(
        state: &SteadyState,
        converter: &Converter,
        point: &OperatingPoint,
        arrangement: Arrangement,
    ) -> Option<Self> {
        let commutation = state.commutation.as_ref();
        let own = Self::of(state, commutation, converter, point, arrangement);
        (!own.runs_away).then_some(own)
    }

    pub(super) fn of(
        state: &SteadyState,
        commutation: Option<&Commutation>,
        converter: &Converter,
        point: &OperatingPoint,
        arrangement: Arrangement,
    ) -> Self {
        let own = PhaseLosses::new(state, commutation, converter, point, arrangement);
        let mut phases = vec![PhaseDissipation::default(); state.phases.len()];
        let mut runs_away = false;
        for (k, phase) in phases.iter_mut().enumerate() {
            runs_away |= own.fill(k, phase);
        }
        for k in 0..state.phases.len() {
            own.share_nodes(k, &mut phases);
        }
        Self { phases, knows_turn_on: commutation.is_some(), runs_away }
    }

    /// What each tank sees, in a solution with these currents.
    pub(super) fn loads(&self, state: &SteadyState) -> TankLoads {
        let load = |(own, phase): (&PhaseDissipation, &crate::solver::PhaseState)| {
            let square = phase.rms_current.0.powi(2);
            let taken = own.switches_by_tank + own.diode_resistances + own.windings.0 + own.rest.0;
            let resistance = if square > 0.0 { (taken / square).max(0.0) } else { 0.0 };
            TankLoad { resistance: Ohm(resistance), drop: own.drop }
        };
        self.phases.iter().zip(&state.phases).map(load).collect()
    }
}
