//! A chain whose legs still pass charge, though a part of one of them has failed.
//!
//! In half-bridge drive, and where all legs are damaged alike, the phases that receive voltage are a
//! chain of their own. In full-bridge drive with one damaged leg a dc offset is absorbed by the resonant
//! capacitor. So the charge of a phase is the same in both legs, and the sound leg forces all charges to
//! be equal. Then the amplitudes W(k) = (V(k) + V'(k))/2 are those of a healthy converter. With m phases
//! that receive voltage in the damaged leg, of drop d of a body diode, that holds while
//!
//! ```text
//! Σ 2 W(k) over the m phases ≥ Vin + Q J + least ΣV'(k)
//! ```
//!
//! J is what the nodes of the damaged leg rise by with the charge Q. Body diodes keep the voltages of the sound leg
//! up (`src/solver/fault/sound_leg.rs`): with low ripple a phase alone at −d, two in a row at −d together. With equal
//! phases it holds for m > N/2, and for m = N/2 as long as the ripple is as low as the drops.
//!
//! Else the sound leg is clamped at the m phases. They share a charge Q₁, the others a charge Q₂, if their
//! voltage suffices to make them conduct. The sound leg's capacitors pass Q₂ alone:
//!
//! ```text
//! m phases:  2 ΣW = Vin + Q₁ J + ΣA'(k)
//! others:    2 ΣW = Vin + m d + Q₂ (J' among the others − J' among the m phases) + ΣA(k)
//! ```
//!
//! where d counts once for two phases in a row, with the lines A' of the sound leg's sources, of which Q₂ passes
//! its capacitors, and A of the damaged leg's (`src/solver/fault/ripple.rs`). Which diodes conduct of two phases in a
//! row depends on the ripple: where the pair is held, a drop more or less is left open, and with more than two phases
//! what a diode takes of a current that flows back. Diodes only add charge. Where that would leave the m phases less
//! than the others, they are off, and all share. Where high switch k ≥ 3 is shorted, ΣA lies between −n d and 0 for
//! the n others. If what is open decides more than 2 % of a phase current, nothing is said.

use arrayvec::ArrayVec;

use super::case::{FaultCase, Plans};
use super::group::{GroupPlan, GroupStart};
use super::leg::LegRemainder;
use super::outcome::FaultOutcome;
use super::ripple::HeldRipple;
use super::sound_leg::SoundLeg;
use super::together::{HeldPair, Pair};
use super::voltages::VoltageLaw;
use crate::converter::{Arrangement, Converter, FailureMode, Leg, MAX_PHASES};
use crate::solver::Solver;
use crate::solver::links::ChainLinks;
use crate::solver::steady_state::{PhaseState, SteadyState};
use crate::units::Volt;

/// Voltage, of the input, by which a source may differ from what it is taken for: it moves the frequency by some
/// 0.15 %.
const NEGLIGIBLE: f64 = 1e-3;

/// Which diodes of a sound leg conduct.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ClampingDiodes {
    /// One of each phase that receives voltage in the damaged leg.
    OfEachPhase,
    /// One of two such phases in a row.
    OfPairs,
}

/// The driven legs of a chain, one of which may be damaged.
#[derive(Debug, Clone, Copy)]
pub(super) struct RemainingChain<'a> {
    case: &'a FaultCase,
    legs: &'a [LegRemainder],
    /// The one damaged leg, where both are driven and the other one is sound.
    damaged: Option<Leg>,
}

/// What joins some phases of these legs, of which one may take no part.
pub(super) fn links(legs: [Option<&LegRemainder>; 2], phases: &[usize]) -> ChainLinks {
    let seen = |leg: Option<&LegRemainder>, k: usize| leg.map_or(0.0, |leg| leg.elastances[k]);
    let present = legs.into_iter().flatten();
    ChainLinks {
        elastances: phases.iter().map(|k| legs.map(|leg| seen(leg, *k))).collect(),
        ripple: present.map(|leg| leg.jumps.iter().sum::<f64>()).sum(),
    }
}

impl<'a> RemainingChain<'a> {
    /// The legs that a fault leaves.
    pub(super) fn new(case: &'a FaultCase, legs: &'a [LegRemainder]) -> Self {
        let damaged = match legs {
            [driven, other] if driven.fed != other.fed => {
                let is_return = other.fed_phases() < driven.fed_phases();
                Some(Leg::ALL[usize::from(is_return)])
            }
            _ => None,
        };
        Self { case, legs, damaged }
    }

    /// What becomes of a converter.
    pub(super) fn solve(&self, solver: &Solver, converter: &Converter) -> FaultOutcome {
        let Plans { whole, fed } = self.plans();
        let mut shared = None;
        if let Some(plan) = whole {
            let aged = self.case.fault.aged(converter);
            let group = plan.group(&aged, self.case.asked(), &self.case.starts.whole);
            let outcome = group.solve(solver);
            let is_held = |state| self.reaches_diodes(state) || self.rises_above_input(state);
            if outcome.solved().is_some_and(is_held) {
                return FaultOutcome::Unknown;
            }
            let is_free = outcome.solved().is_none_or(|state| self.is_sound_leg_free(state));
            let law = self.law(&aged);
            let found = self.case.outcome(converter.phases(), &group, outcome, law);
            if is_free {
                return found;
            }
            shared = Some(found);
        }
        let apart =
            fed.map_or(FaultOutcome::Stops, |fed| self.solve_apart(solver, converter, &fed));
        // Diodes only add to a charge: where they would take from it, they are off.
        shared.filter(|_| self.is_against_diodes(&apart)).unwrap_or(apart)
    }

    /// Whether the phases that receive voltage in the damaged leg carry less than the others.
    fn is_against_diodes(&self, apart: &FaultOutcome) -> bool {
        let Some(found) = apart.state() else { return false };
        let mean = |fed: bool| {
            let phases = self.fed_phases(fed);
            let charges = phases.iter().map(|k| found.state.phases[*k].charge);
            charges.sum::<f64>() / phases.len().max(1) as f64
        };
        mean(true) < mean(false)
    }

    /// What the voltages follow from where all phases that carry current share one charge.
    fn law<'c>(&self, converter: &'c Converter) -> VoltageLaw<'c>
    where
        'a: 'c,
    {
        let is_whole = self.legs.iter().all(|leg| leg.fed.iter().all(|fed| *fed));
        match self.damaged {
            Some(damaged) => VoltageLaw::Shared { legs: self.legs, damaged },
            None if is_whole => VoltageLaw::Whole(converter),
            None => VoltageLaw::Alike { legs: self.legs },
        }
    }

    /// The groups of phases.
    pub(super) fn plans(&self) -> Plans {
        let Some(damaged) = self.damaged else {
            return Plans {
                whole: Some(self.of_fed_phases(self.case.point.input_voltage)),
                fed: None,
            };
        };
        let m = self.legs[damaged as usize].fed_phases();
        let whole = (2 * m >= self.legs[0].fed.len()).then(|| self.of_all_phases());
        let fed = GroupPlan {
            links: Some(self.links_of(damaged, &self.fed_phases(true))),
            ..self.of_fed_phases(self.clamped_input(ClampingDiodes::OfEachPhase))
        };
        Plans { whole, fed: Some(fed) }
    }

    /// The drops of the diodes that clamp a sound leg, in volt.
    fn clamps(&self, diodes: ClampingDiodes) -> f64 {
        let fed = self.fed_phases(true);
        let count = match diodes {
            ClampingDiodes::OfEachPhase => fed.len(),
            ClampingDiodes::OfPairs => {
                let rows = fed.chunk_by(|one, next| one + 1 == *next);
                rows.map(|row| row.len().div_ceil(2)).sum()
            }
        };
        count as f64 * self.case.diode_drop.0
    }

    /// Phases that receive voltage in all legs, or those that do not.
    fn fed_phases(&self, fed: bool) -> ArrayVec<usize, MAX_PHASES> {
        let is_fed = |k: &usize| self.legs.iter().all(|leg| leg.fed[*k]);
        (0..self.legs[0].fed.len()).filter(|k| is_fed(k) == fed).collect()
    }

    fn of_fed_phases(&self, input: Volt) -> GroupPlan {
        let phases = self.fed_phases(true);
        let is_whole = phases.len() == self.legs[0].fed.len();
        let joined = links([self.legs.first(), self.legs.get(1)], &phases);
        GroupPlan { links: (!is_whole).then_some(joined), phases, ..self.plan(input) }
    }

    fn of_all_phases(&self) -> GroupPlan {
        let phases: ArrayVec<usize, MAX_PHASES> = (0..self.legs[0].fed.len()).collect();
        GroupPlan {
            links: Some(links([self.legs.first(), self.legs.get(1)], &phases)),
            phases,
            ..self.plan(self.case.point.input_voltage)
        }
    }

    fn plan(&self, input: Volt) -> GroupPlan {
        GroupPlan {
            phases: ArrayVec::new(),
            links: None,
            input,
            drive: self.case.point.drive,
            arrangement: Arrangement::Chain,
        }
    }

    /// What one leg makes of phases that the other one holds at zero.
    fn links_of(&self, leg: Leg, phases: &[usize]) -> ChainLinks {
        let own = &self.legs[leg as usize];
        let inner = phases.windows(2).filter(|pair| pair[0] + 1 == pair[1]);
        let legs = match leg {
            Leg::Driven => [Some(own), None],
            Leg::Return => [None, Some(own)],
        };
        ChainLinks { ripple: inner.map(|pair| own.jumps[pair[0]]).sum(), ..links(legs, phases) }
    }

    /// Whether the sound leg can keep all charges equal without its diodes.
    fn is_sound_leg_free(&self, state: &SteadyState) -> bool {
        let Some(damaged) = self.damaged else { return true };
        let own = &self.legs[damaged as usize];
        let fed = || state.phases.iter().enumerate().filter(|(k, _)| own.fed[*k]);
        let twice: f64 = fed().map(|(_, phase)| 2.0 * phase.start_voltage.0).sum();
        let charge = fed().map(|(_, phase)| phase.charge).fold(0.0, f64::max);
        let least = self.sound_leg(damaged, &state.phases).least_sum();
        let ripple = charge * own.jumps.iter().sum::<f64>();
        // Where the others begin, capacitors between them hold a voltage, which all phases share.
        let held = own.idle.elastances.iter().sum::<f64>() - own.idle.total;
        let share = own.fed_phases() as f64 / state.phases.len() as f64;
        let more = share * charge * held;
        twice + more >= self.case.point.input_voltage.0 + ripple + least
    }

    fn sound_leg<'s>(&'s self, damaged: Leg, phases: &'s [PhaseState]) -> SoundLeg<'s> {
        let sound = damaged.other() as usize;
        SoundLeg {
            leg: &self.legs[sound],
            half: sound,
            fed: &self.legs[damaged as usize].fed,
            phases,
            drop: self.case.diode_drop.0,
        }
    }

    /// What the phases that receive voltage share in the damaged leg while these diodes conduct, half of it.
    fn clamped_input(&self, diodes: ClampingDiodes) -> Volt {
        Volt(0.5 * (self.case.point.input_voltage.0 - self.clamps(diodes)))
    }

    /// Whether the ripple of an aged capacitor is so high that a body diode takes over: the voltage of a
    /// phase falls below its drop. The closed form does not tell what follows.
    pub(super) fn reaches_diodes(&self, state: &SteadyState) -> bool {
        let drop = self.case.diode_drop.0;
        let is_aged = matches!(self.case.fault.failure, FailureMode::FlyingCapacitorAged(_));
        let falls = |leg: &LegRemainder, half: usize| {
            state.phases.iter().zip(&leg.elastances).any(|(phase, elastance)| {
                phase.start_voltage.0 - elastance * phase.charge_range[half].1 < -drop
            })
        };
        is_aged && self.legs.iter().enumerate().any(|(half, leg)| falls(leg, half))
    }

    /// Whether the diode of the first high switch takes over what flows back into a node that each period joins
    /// the input: its voltage would rise above the input by more than the drop. A little of it changes nothing.
    fn rises_above_input(&self, state: &SteadyState) -> bool {
        let FaultCase { fault, point, diode_drop, .. } = self.case;
        let is_joined =
            matches!(fault.failure, FailureMode::LowSwitchShort | FailureMode::Bypassed);
        if !is_joined || fault.phase > 0 {
            return false;
        }
        // A phase that takes no part is not in the group: then the second one is its first.
        let second = usize::from(state.phases.len() == self.legs[0].fed.len());
        let rise = |(half, leg): (usize, &LegRemainder)| {
            let back = state.phases[second].charge_range[half].0;
            if leg.fed[0] { 0.0 } else { -leg.dips[0] * back - diode_drop.0 }
        };
        let highest = self.legs.iter().enumerate().map(rise).fold(0.0, f64::max);
        highest > NEGLIGIBLE * point.input_voltage.0
    }

    /// Solves the phases that receive voltage apart from the others. The ripple that passes the sound leg tells
    /// which diodes conduct.
    fn solve_apart(&self, solver: &Solver, converter: &Converter, fed: &GroupPlan) -> FaultOutcome {
        let Some(damaged) = self.damaged else { return FaultOutcome::Stops };
        let apart = |diodes| self.solve_clamped(solver, converter, fed, diodes);
        let found = apart(ClampingDiodes::OfEachPhase);
        let passing = found.state().and_then(|found| {
            let other = *self.fed_phases(false).first()?;
            Some(vec![found.state.phases[other]; found.state.phases.len()])
        });
        let of_pairs = passing.is_some_and(|phases| self.sound_leg(damaged, &phases).holds_pairs());
        if of_pairs { apart(ClampingDiodes::OfPairs) } else { found }
    }

    fn solve_clamped(
        &self,
        solver: &Solver,
        converter: &Converter,
        fed: &GroupPlan,
        diodes: ClampingDiodes,
    ) -> FaultOutcome {
        let Some(damaged) = self.damaged else { return FaultOutcome::Stops };
        let law = VoltageLaw::Clamped { legs: self.legs, damaged };
        let asked = self.case.asked();
        let others = self.fed_phases(false);
        let input = Volt(0.5 * (self.case.point.input_voltage.0 + self.clamps(diodes)));
        let fed = GroupPlan { input: self.clamped_input(diodes), ..fed.clone() };
        let sound = damaged.other();
        let mut links = self.links_of(sound, &others);
        links.ripple -= self.links_of(sound, &self.fed_phases(true)).ripple;
        let others = GroupPlan { links: Some(links), phases: others, ..self.plan(input) };
        let fed = fed.group(converter, asked, &self.case.starts.fed);
        let others = others.group(converter, asked, &GroupStart::default());
        let held = Some(self.held(damaged, diodes));
        let pair = Pair { first: &fed, second: &others, asked, held: held.as_ref() };
        pair.outcome(solver, self.case, converter.phases(), law)
    }

    /// Elastance of the sound leg's capacitor between two phases, where a diode takes what flows back into it, in
    /// 1/farad. Zero of more phases: what diodes take there is not known.
    fn between(&self, damaged: Leg) -> f64 {
        let is_taken = self.legs[damaged as usize].has_back_flow_taken();
        if is_taken { self.legs[damaged.other() as usize].jumps[0] } else { 0.0 }
    }

    /// The largest elastance of the sound leg's capacitors between a phase that receives voltage in the damaged leg
    /// and one that does not, in 1/farad.
    fn at_boundaries(&self, damaged: Leg) -> f64 {
        let fed = &self.legs[damaged as usize].fed;
        let ends = fed.windows(2).zip(&self.legs[damaged.other() as usize].jumps);
        let between = ends.filter(|(pair, _)| pair[0] != pair[1]).map(|(_, own)| *own);
        between.fold(0.0, f64::max)
    }

    /// The ripple of both groups where diodes clamp the sound leg.
    fn held(&self, damaged: Leg, diodes: ClampingDiodes) -> HeldPair {
        let sound = damaged.other();
        let idle = &self.legs[damaged as usize].idle;
        let others = self.fed_phases(false);
        let drops = others.len() as f64 * self.case.diode_drop.0;
        let seen = |own: &ArrayVec<f64, MAX_PHASES>, phases: &[usize]| {
            phases.iter().map(|k| own[*k]).collect::<ArrayVec<f64, MAX_PHASES>>()
        };
        let clamps = HeldRipple {
            elastances: seen(&self.legs[sound as usize].elastances, &self.fed_phases(true)),
            half: sound as usize,
            drops: self.clamps(diodes),
            total: 0.0,
        };
        // Where more than capacitors decides, these voltages sum to something between −n d and 0.
        let (open, idle) = if idle.is_open {
            (drops, HeldRipple { drops: 0.5 * drops, ..HeldRipple::default() })
        } else {
            let drops = if idle.total > 0.0 { drops } else { 0.0 };
            let elastances = seen(&idle.elastances, &others);
            (0.0, HeldRipple { elastances, half: damaged as usize, drops, total: idle.total })
        };
        // Of pairs the lines are not those of their sources.
        let open = open + self.clamps(ClampingDiodes::OfEachPhase) - self.clamps(diodes);
        let doubt = Some(open).filter(|volts| *volts > 0.0).map(Volt);
        let between = self.between(damaged);
        let open_between = if between > 0.0 { 0.0 } else { self.at_boundaries(damaged) };
        HeldPair { first: clamps, second: idle, doubt, between, open_between }
    }
}
