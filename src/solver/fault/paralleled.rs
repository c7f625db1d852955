//! The paralleled reference, whose phases do not depend on each other.
//!
//! A phase that takes no charge drops out, and the others go on. A shorted switch shorts the input as
//! soon as the other switch of its leg turns on. With one gate dead in a full bridge the other leg drives
//! the phase with half of the amplitude: body diodes hold the dead leg.

use arrayvec::ArrayVec;

use super::case::FaultCase;
use super::group::{GroupPlan, GroupStart};
use super::outcome::{FaultOutcome, NoSteadyState};
use super::together::Pair;
use super::voltages::VoltageLaw;
use crate::converter::{Arrangement, Converter, Drive, FailureMode, MAX_PHASES};
use crate::solver::Solver;
use crate::solver::links::ChainLinks;
use crate::units::Volt;

impl FaultCase {
    /// The phases that go on as if nothing had happened.
    pub(super) fn working_phases(&self, converter: &Converter) -> GroupPlan {
        let left = (0..converter.phases()).filter(|k| *k != self.fault.phase);
        self.paralleled(left.collect(), 1.0, converter)
    }

    /// Phases with a share of their voltage.
    fn paralleled(
        &self,
        phases: ArrayVec<usize, MAX_PHASES>,
        share: f64,
        converter: &Converter,
    ) -> GroupPlan {
        let of_one = self.point.input_voltage.0 / converter.phases() as f64;
        GroupPlan {
            links: Some(ChainLinks {
                elastances: phases.iter().map(|_| [0.0, 0.0]).collect(),
                ripple: 0.0,
            }),
            input: Volt(share * phases.len() as f64 * of_one),
            phases,
            drive: self.point.drive,
            arrangement: Arrangement::Paralleled,
        }
    }

    pub(super) fn solve_paralleled(&self, solver: &Solver, converter: &Converter) -> FaultOutcome {
        if matches!(self.fault.failure, FailureMode::HighSwitchShort | FailureMode::LowSwitchShort)
        {
            return FaultOutcome::NoSteadyState(NoSteadyState::InputShorted);
        }
        let (asked, law) = (self.asked(), VoltageLaw::Input);
        let working = self.working_phases(converter);
        let working = working.group(converter, asked, &self.starts.whole);
        let is_one_gate =
            matches!(self.fault.failure, FailureMode::HighGateOff | FailureMode::LowGateOff);
        if !is_one_gate || self.point.drive == Drive::HalfBridge {
            return self.outcome(converter.phases(), &working, working.solve(solver), law);
        }
        let damaged = self.paralleled([self.fault.phase].into_iter().collect(), 0.5, converter);
        let damaged = damaged.group(converter, asked, &GroupStart::default());
        let pair = Pair { first: &working, second: &damaged, asked, held: None };
        pair.outcome(solver, self, converter.phases(), law)
    }
}
