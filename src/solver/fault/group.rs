//! Phases that share one charge, as a converter of their own.

use std::borrow::Cow;

use arrayvec::ArrayVec;

use super::ripple::{HeldRipple, SourceLine};
use crate::converter::{
    Arrangement, Converter, Drive, FrequencyBand, MAX_PHASES, OperatingPoint, SwitchSpecification,
};
use crate::solver::case::{Case, Start};
use crate::solver::dissipation::{Nearby, SelfHeated};
use crate::solver::exact::AtFrequency;
use crate::solver::links::ChainLinks;
use crate::solver::steady_state::{Outcome, SteadyState};
use crate::solver::{Method, Solver};
use crate::units::{Ampere, Hertz, Volt};

/// Which phases a group has, and what drives them.
#[derive(Debug, Clone)]
pub(super) struct GroupPlan {
    /// Its phases, counted from 0 in the whole converter.
    pub(super) phases: ArrayVec<usize, MAX_PHASES>,
    /// What joins them; none where they are all phases of the converter, joined by its flying capacitors.
    pub(super) links: Option<ChainLinks>,
    /// What their voltages sum to; on paralleled phases, too.
    pub(super) input: Volt,
    /// Their drive.
    pub(super) drive: Drive,
    /// Their arrangement.
    pub(super) arrangement: Arrangement,
}

/// The operating point and the band that a converter with a failed part is asked about.
#[derive(Debug, Clone, Copy)]
pub(super) struct RegulatedPoint<'a> {
    /// The operating point.
    pub(super) point: &'a OperatingPoint,
    /// The switching frequencies allowed.
    pub(super) band: FrequencyBand,
    /// Whether the steady state is to tell what loads every part.
    pub(super) with_stress: bool,
    /// The switches that their loss at turn-on warms, of phases that the converter's own capacitors or none
    /// join.
    pub(super) switch: Option<SwitchSpecification>,
}

/// Where the search for the steady state of a group starts: from that of the nominal one.
#[derive(Debug, Clone, Default)]
pub(super) struct GroupStart {
    start: Option<Start>,
    nearby: Option<Box<Nearby>>,
}

/// A group, ready to be solved.
#[derive(Debug)]
pub(super) struct PhaseGroup {
    /// Its phases, counted from 0 in the whole converter.
    pub(super) phases: ArrayVec<usize, MAX_PHASES>,
    converter: Converter,
    case: Case,
}

impl GroupPlan {
    /// The phases of this plan, of a converter under the condition of the operating point.
    pub(super) fn group(
        self,
        converter: &Converter,
        asked: RegulatedPoint,
        start: &GroupStart,
    ) -> PhaseGroup {
        let point =
            OperatingPoint { input_voltage: self.input, drive: self.drive, ..asked.point.clone() };
        let is_whole = self.links.is_none();
        let is_alone = self.arrangement == Arrangement::Paralleled;
        let case = Case {
            links: self.links.map(Box::new),
            with_stress: asked.with_stress,
            switch: asked.switch.filter(|_| is_whole || is_alone),
            start: start.start.clone(),
            nearby: start.nearby.clone(),
            ..Case::new(point, asked.band, self.arrangement)
        };
        let converter =
            if is_whole { converter.clone() } else { converter.of_phases(&self.phases) };
        PhaseGroup { converter, phases: self.phases, case }
    }
}

impl PhaseGroup {
    /// Its steady state.
    pub(super) fn solve(&self, solver: &Solver) -> Outcome {
        solver.solve(&self.converter, &self.case)
    }

    /// Its steady state, found without a start, and the start for others nearby.
    pub(super) fn prepare(&self, solver: &Solver) -> (Outcome, GroupStart) {
        let (outcome, Case { start, nearby, .. }) =
            solver.prepare(&self.converter, self.case.clone());
        (outcome, GroupStart { start, nearby })
    }

    /// Output current at a switching frequency. None where it does not settle there.
    pub(super) fn current_at(&self, solver: &Solver, frequency: Hertz) -> Option<Ampere> {
        GroupAtFrequencies::new(self).current(solver, frequency)
    }
}

/// The tanks of a converter with the resistances that are told apart.
pub(super) fn as_told<'c>(converter: &'c Converter, case: &Case) -> Cow<'c, Converter> {
    if converter.losses.is_none() {
        return Cow::Borrowed(converter);
    }
    Cow::Owned(SelfHeated::new(converter, case).first())
}

/// A group at given frequencies, with the last solution to start from.
pub(super) struct GroupAtFrequencies<'a> {
    converter: Cow<'a, Converter>,
    case: Case,
    exact: AtFrequency,
}

impl<'a> GroupAtFrequencies<'a> {
    /// Resistances that are told apart count at the temperatures that are given, as if the rectifier carried
    /// all of the tank's current.
    pub(super) fn new(group: &'a PhaseGroup) -> Self {
        let case = Case { start: None, nearby: None, ..group.case.clone() };
        let converter = as_told(&group.converter, &case);
        Self { exact: AtFrequency::new(&converter, &case.point), converter, case }
    }

    /// Output current at a switching frequency. None where it does not settle there.
    pub(super) fn current(&mut self, solver: &Solver, frequency: Hertz) -> Option<Ampere> {
        self.case.band = FrequencyBand { minimum: frequency, maximum: frequency };
        let (converter, effort) = (&*self.converter, solver.effort(1.0));
        match solver.method {
            Method::Exact => self.exact.output_current(converter, &self.case, &effort),
            Method::Averaged => {
                crate::solver::averaged::output_current(converter, &self.case, &effort)
            }
        }
    }

    /// What the voltages of its phases sum to.
    pub(super) fn input(&self) -> Volt {
        self.case.point.input_voltage
    }

    /// Puts lines in the place of sources that diodes hold: over those that the group has without them, with
    /// this sum of its voltages.
    pub(super) fn set_line(&mut self, held: &HeldRipple, line: SourceLine, base: Volt) {
        self.case.point.input_voltage = Volt(base.0 + 0.5 * line.start);
        let Some(links) = &mut self.case.links else { return };
        for (own, elastance) in links.elastances.iter_mut().zip(&held.elastances) {
            own[held.half] = line.share * elastance;
        }
    }

    /// Charge of each phase in its high interval at a switching frequency, in coulomb. None where it does
    /// not settle there, and with the averaged solver.
    pub(super) fn charge(&mut self, solver: &Solver, frequency: Hertz) -> Option<f64> {
        let state = self.state(solver, frequency)?;
        Some(state.phases.iter().map(|phase| phase.charge).fold(0.0, f64::max))
    }

    /// The steady state at a switching frequency. None where it does not settle there, and with the
    /// averaged solver.
    pub(super) fn state(&mut self, solver: &Solver, frequency: Hertz) -> Option<SteadyState> {
        self.case.band = FrequencyBand { minimum: frequency, maximum: frequency };
        self.exact.steady_state(&self.converter, &self.case, &solver.effort(1.0))
    }
}
