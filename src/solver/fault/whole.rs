//! All phases of a converter with a failed part, put together from the groups that were solved.

use arrayvec::ArrayVec;

use super::case::FaultCase;
use super::group::PhaseGroup;
use super::outcome::{FaultOutcome, FaultedState};
use super::voltages::{FaultedVoltages, VoltageLaw};
use crate::converter::{Arrangement, MAX_PHASES};
use crate::solver::steady_state::{Outcome, PhaseState, SteadyState, SwitchCurrent};
use crate::units::{Ampere, Hertz};

impl FaultCase {
    /// What a solved group means for a converter with so many phases.
    pub(super) fn outcome(
        &self,
        phases: usize,
        group: &PhaseGroup,
        outcome: Outcome,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        match outcome {
            Outcome::Solved(state) if group.phases.len() == phases => {
                self.runs(Whole { state, carrying: (0..phases).collect() }, law)
            }
            Outcome::Solved(state) => {
                let mut whole = Whole::idle(phases, state.switching_frequency);
                whole.take(&state, &group.phases);
                let commutation = state.commutation.as_ref();
                whole.state.commutation = commutation.map(|own| own.at_places(&group.phases));
                whole.state.output_ripple = state.output_ripple;
                self.runs(whole, law)
            }
            Outcome::OutOfRange => FaultOutcome::OutOfRange,
            Outcome::NotSolved(why) => FaultOutcome::not_solved(why),
        }
    }

    pub(super) fn runs(&self, whole: Whole, law: VoltageLaw<'_>) -> FaultOutcome {
        let Whole { state, carrying } = whole;
        let voltages = match self.arrangement {
            Arrangement::Chain => FaultedVoltages { case: self, state: &state, law }.of_legs(),
            Arrangement::Paralleled => ArrayVec::new(),
        };
        FaultOutcome::Runs(Box::new(FaultedState { state, carrying, voltages }))
    }
}

/// The state of all phases, put together from that of groups.
#[derive(Debug)]
pub(super) struct Whole {
    state: SteadyState,
    carrying: ArrayVec<usize, MAX_PHASES>,
}

impl Whole {
    /// So many idle phases.
    pub(super) fn idle(phases: usize, frequency: Hertz) -> Self {
        let phases = std::iter::repeat_n(PhaseState::default(), phases).collect();
        let state = SteadyState {
            switching_frequency: frequency,
            phases,
            output_ripple: None,
            commutation: None,
            dissipation: None,
        };
        Self { state, carrying: ArrayVec::new() }
    }

    /// Takes the phases of a group. The low switch between a phase that carries current and one that does
    /// not carries that current alone, in the half period in which the phase is low.
    pub(super) fn take(&mut self, group: &SteadyState, phases: &[usize]) {
        for (n, k) in phases.iter().enumerate() {
            let mut own = group.phases[n];
            if phases.get(n + 1).is_some_and(|next| *next != k + 1) {
                own.switches.low = rest(&own, own.switches.high);
                // In half-bridge drive the low switch of the return leg carries all already.
                if own.switches.return_high.rms.0 > 0.0 {
                    own.switches.return_low = rest(&own, own.switches.return_high);
                }
            }
            self.state.phases[*k] = own;
            self.carrying.push(*k);
        }
        self.carrying.sort_unstable();
    }
}

/// What the other switch of a leg carries where no other phase shares it.
fn rest(phase: &PhaseState, high: SwitchCurrent) -> SwitchCurrent {
    let (all, high_rms) = (phase.rms_current.0, high.rms.0);
    SwitchCurrent {
        rms: Ampere((all * all - high_rms * high_rms).max(0.0).sqrt()),
        mean: Ampere(phase.mean_abs_current.0 - high.mean.0),
        peak: phase.peak_current,
    }
}
