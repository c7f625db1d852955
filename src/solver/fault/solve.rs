//! What becomes of a converter in which a part has failed.

use super::case::{FaultCase, Plans, Starts};
use super::effect::Effect;
use super::group::{GroupPlan, GroupStart};
use super::outcome::{FaultOutcome, FaultedState, Trap};
use super::remaining_chain::RemainingChain;
use crate::converter::{Arrangement, Converter};
use crate::solver::Solver;
use crate::units::Hertz;

/// Ratio of neighbouring frequencies where a controller is followed down.
const STRIDE: f64 = 1.02;

impl FaultCase {
    /// The same, whose searches start from the solutions of a converter, the nominal one.
    #[must_use]
    pub fn prepared(self, solver: &Solver, converter: &Converter) -> Self {
        let converter = converter.at(&self.point.condition);
        let start = |plan: Option<GroupPlan>| {
            let group = plan?.group(&converter, self.asked(), &GroupStart::default());
            Some(group.prepare(solver).1)
        };
        let Plans { whole, fed } = self.plans(&converter);
        let starts =
            Starts { whole: start(whole).unwrap_or_default(), fed: start(fed).unwrap_or_default() };
        Self { starts, ..self }
    }

    fn plans(&self, converter: &Converter) -> Plans {
        if self.arrangement == Arrangement::Paralleled {
            let whole = self.working_phases(converter);
            return Plans { whole: Some(whole), fed: None };
        }
        match Effect::of(&self.fault, converter, self.point.drive) {
            Effect::Passes(legs) => RemainingChain::new(self, &legs).plans(),
            Effect::Stops | Effect::OneLegDrives | Effect::ShortsInput => Plans::default(),
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
            Effect::ShortsInput => FaultOutcome::NoSteadyState,
            Effect::OneLegDrives => self.solve_one_leg(solver, &converter),
            Effect::Passes(legs) => RemainingChain::new(self, &legs).solve(solver, &converter),
        }
    }

    /// Where the controller ends if it starts from the healthy frequency: none where it finds the output.
    ///
    /// A slow controller lowers the frequency while the current is too small. That leads to the output on
    /// the inductive side alone. Where the fault moves the resonance above the healthy frequency, the
    /// controller starts on the capacitive side.
    pub fn trap(
        &self,
        solver: &Solver,
        converter: &Converter,
        healthy: Hertz,
        found: &FaultedState,
    ) -> Option<Trap> {
        if found.state.switching_frequency <= healthy {
            return None;
        }
        let converter = converter.at(&self.point.condition);
        let Plans { whole, fed } = self.plans(&converter);
        let is_it = |plan: &GroupPlan| plan.phases == found.carrying;
        let plan = [whole, fed].into_iter().flatten().find(is_it)?;
        let group = plan.group(&converter, self.asked(), &GroupStart::default());
        let wanted = self.point.output_current;
        let (mut frequency, lowest) = (healthy, self.band.minimum);
        let mut current = group.current_at(solver, frequency)?;
        while current < wanted && frequency > lowest {
            frequency = Hertz((frequency.0 / STRIDE).max(lowest.0));
            current = group.current_at(solver, frequency)?;
        }
        (current < wanted).then_some(Trap { frequency, current })
    }
}
