//! Soft switching of a solved converter: what the switches of the scenario make of its currents.

use crate::converter::{Arrangement, ChainDrift, Converter, Leg, OperatingPoint, SwitchTiming};
use crate::scenario::{Scenario, SwitchSettings};
use crate::solver::SteadyState;
use crate::solver::commutation::{Commutation, CommutationCase, Transition, TurnOn};
use crate::study::common::drift::DriftingChain;
use crate::units::Volt;

/// By which multiples of I·td/Q the dead time shifted the sharing error, in the median of converters
/// that were simulated with it until steady.
const SHIFTS: [f64; 2] = [0.3, 0.4];

/// A shift of the sharing error that is not small beside its limit, as a share of it.
const NOTEWORTHY: f64 = 0.1;

/// How the switches of a solved converter turn on.
#[derive(Debug, Clone, PartialEq)]
pub struct SoftSwitching {
    /// Every transition, and the loss.
    pub commutation: Commutation,
    /// Highest turn-on voltage that counts as soft, as a share of the interval voltage.
    pub soft_share: f64,
    /// By how much the dead time shifts the sharing error in half of all converters, about: a
    /// fraction. A tied pair hands power from one phase to the other. None where no pair ties: in the
    /// paralleled arrangement, and with falling phases first.
    pub sharing_shift: Option<[f64; 2]>,
    /// That of the flying-capacitor voltages.
    drift: ChainDrift,
}

/// How many transitions end in which way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TurnOnCounts {
    /// Softly.
    pub soft: usize,
    /// Not.
    pub hard: usize,
    /// Too close to the limit to tell.
    pub not_decided: usize,
}

impl TurnOnCounts {
    /// Of all transitions.
    pub fn all(self) -> usize {
        self.soft + self.hard + self.not_decided
    }
}

/// A solved converter in a case.
#[derive(Debug, Clone, Copy)]
pub struct SolvedCase<'a> {
    /// Its parts, under the condition of the operating point.
    pub converter: &'a Converter,
    /// Its steady state.
    pub state: &'a SteadyState,
    /// The operating point.
    pub point: &'a OperatingPoint,
    /// The arrangement.
    pub arrangement: Arrangement,
}

impl<'a> SolvedCase<'a> {
    /// What the drift of a scenario comes to.
    pub fn drift(&self, scenario: &Scenario) -> ChainDrift {
        let Self { converter, state, point, .. } = *self;
        DriftingChain { converter, state, point }.drift(&scenario.drift)
    }

    /// The same with the switches of a scenario.
    pub fn commutation(self, switch: &'a SwitchSettings) -> CommutationCase<'a> {
        CommutationCase {
            state: self.state,
            converter: self.converter,
            point: self.point,
            arrangement: self.arrangement,
            switch: switch.specification(self.arrangement),
        }
    }
}

impl SoftSwitching {
    /// How the switches turn on; none where the solver does not tell the currents at the switching
    /// instants. `drift` is that of the flying-capacitor voltages.
    pub fn new(switch: &SwitchSettings, drift: ChainDrift, solved: SolvedCase<'_>) -> Option<Self> {
        let commutation = solved.commutation(switch).solve()?;
        Some(Self::of(commutation, switch, drift, solved))
    }

    /// The same with the switches that the steady state was solved with, where it already tells how they
    /// turn on.
    pub fn as_specified(
        switch: &SwitchSettings,
        drift: ChainDrift,
        solved: SolvedCase<'_>,
    ) -> Option<Self> {
        match &solved.state.commutation {
            Some(known) => Some(Self::of(known.clone(), switch, drift, solved)),
            None => Self::new(switch, drift, solved),
        }
    }

    fn of(
        commutation: Commutation,
        switch: &SwitchSettings,
        drift: ChainDrift,
        solved: SolvedCase<'_>,
    ) -> Self {
        let drifts = solved.arrangement == Arrangement::Chain;
        Self {
            soft_share: switch.soft_share,
            sharing_shift: sharing_shift(switch, solved),
            drift: if drifts { drift } else { ChainDrift::none(solved.converter.phases()) },
            commutation,
        }
    }

    /// Highest voltage across a switch during the dead times, with the assumed drift of the
    /// flying-capacitor voltages.
    pub fn highest_voltage(&self) -> Volt {
        Volt(self.highest_voltages().fold(0.0, f64::max))
    }

    /// The same of the low and the high switch of every transition, in volt.
    ///
    /// The drift of the flying capacitors in its path raises a switch's voltage.
    pub fn highest_voltages(&self) -> impl Iterator<Item = f64> {
        self.commutation.transitions.iter().flat_map(|t| self.highest_in(t))
    }

    /// The same of the low and the high switch of one phase of a leg.
    pub fn highest_voltages_of(&self, phase: usize, leg: Leg) -> [f64; 2] {
        let own = self.commutation.transitions.iter().filter(|t| (t.phase, t.leg) == (phase, leg));
        own.map(|t| self.highest_in(t)).fold([0.0; 2], |[low, high], [own_low, own_high]| {
            [f64::max(low, own_low), f64::max(high, own_high)]
        })
    }

    fn highest_in(&self, transition: &Transition) -> [f64; 2] {
        let Transition { phase, highest_low, highest_high, .. } = *transition;
        let (low, high) = (self.drift.across_phase(phase), self.drift.across_high_switch(phase));
        [highest_low.0 + low.0, highest_high.0 + high.0]
    }

    /// The verdict on a transition.
    pub fn verdict(&self, transition: &Transition) -> TurnOn {
        transition.verdict(self.soft_share)
    }

    /// How many transitions end in which way.
    pub fn counts(&self) -> TurnOnCounts {
        let mut counts = TurnOnCounts::default();
        for transition in &self.commutation.transitions {
            match self.verdict(transition) {
                TurnOn::Soft => counts.soft += 1,
                TurnOn::Hard => counts.hard += 1,
                TurnOn::NotDecided => counts.not_decided += 1,
            }
        }
        counts
    }

    /// The transition with the highest turn-on voltage, as a share of its interval voltage.
    pub fn worst(&self) -> Option<&Transition> {
        let all = self.commutation.transitions.iter();
        all.max_by(|a, b| a.turn_on_share().total_cmp(&b.turn_on_share()))
    }

    /// The transition whose swing falls short most, as a share of its interval voltage.
    pub fn falls_shortest(&self) -> Option<&Transition> {
        let all = self.commutation.transitions.iter();
        all.max_by(|a, b| a.shortfall().total_cmp(&b.shortfall()))
    }

    /// The shift of the sharing error, where it is not small beside the limit.
    pub fn noteworthy_shift(&self, limit: Option<f64>) -> Option<[f64; 2]> {
        let [_, largest] = self.sharing_shift?;
        self.sharing_shift.filter(|_| limit.is_some_and(|limit| largest >= NOTEWORTHY * limit))
    }
}

/// 0.3 and 0.4 times I·td/Q, with the largest tank current at a switching instant and the charge of
/// a high interval.
fn sharing_shift(switch: &SwitchSettings, solved: SolvedCase<'_>) -> Option<[f64; 2]> {
    let ties =
        solved.arrangement == Arrangement::Chain && switch.chain.timing == SwitchTiming::Together;
    if !ties {
        return None;
    }
    let phases = solved.state.phases.iter();
    let states = phases.clone().flat_map(|phase| [phase.start, phase.middle]).flatten();
    let current = states.map(|tank| tank.tank_current.0.abs()).fold(0.0, f64::max);
    let charge = phases.map(|phase| phase.charge).fold(f64::INFINITY, f64::min);
    Some(SHIFTS.map(|shift| shift * current * switch.chain.dead_time.0 / charge))
}
