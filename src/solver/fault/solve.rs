//! What becomes of a converter in which a part has failed.

use super::case::{FaultCase, Plans, Starts};
use super::effect::Effect;
use super::group::{GroupPlan, GroupStart};
use super::outcome::{FaultOutcome, NoSteadyState};
use super::remaining_chain::RemainingChain;
use crate::converter::{Arrangement, Converter};
use crate::solver::Solver;

impl FaultCase {
    /// The same, whose searches start from the solutions of a converter, the nominal one.
    #[must_use]
    pub fn prepared(self, solver: &Solver, converter: &Converter) -> Self {
        let converter = converter.at(&self.point.condition);
        let start = |plan: Option<GroupPlan>| {
            let aged = self.fault.aged(&converter);
            let group = plan?.group(&aged, self.asked(), &GroupStart::default());
            Some(group.prepare(solver).1)
        };
        let Plans { whole, fed } = self.plans(&converter);
        let starts = Starts {
            whole: start(whole).unwrap_or_default(),
            fed: start(fed).unwrap_or_default(),
            together: None,
        };
        Self { starts, ..self }
    }

    /// The same, whose searches for one frequency of two groups start from that of the nominal converter.
    #[must_use]
    pub fn led_by(mut self, nominal: &FaultOutcome) -> Self {
        self.starts.together = nominal.state().map(|found| found.state.switching_frequency);
        self
    }

    fn plans(&self, converter: &Converter) -> Plans {
        if self.arrangement == Arrangement::Paralleled {
            let whole = self.working_phases(converter);
            return Plans { whole: Some(whole), fed: None };
        }
        match Effect::of(&self.fault, converter, self.point.drive) {
            Effect::Passes(legs) => RemainingChain::new(self, &legs).plans(),
            Effect::OneLegDrives(leg) => {
                Plans { whole: Some(self.plan_of_leg(converter, leg)), fed: None }
            }
            Effect::Stops | Effect::ShortsInput => Plans::default(),
        }
    }

    /// What becomes of a converter.
    pub fn solve(&self, solver: &Solver, converter: &Converter) -> FaultOutcome {
        let converter = converter.at(&self.point.condition);
        if self.arrangement == Arrangement::Paralleled {
            return self.solve_paralleled(solver, &converter);
        }
        match Effect::of(&self.fault, &converter, self.point.drive) {
            Effect::Stops => FaultOutcome::Stops,
            Effect::ShortsInput => FaultOutcome::NoSteadyState(NoSteadyState::InputShorted),
            Effect::OneLegDrives(leg) => self.solve_one_leg(solver, &converter, leg),
            Effect::Passes(legs) => RemainingChain::new(self, &legs).solve(solver, &converter),
        }
    }
}
