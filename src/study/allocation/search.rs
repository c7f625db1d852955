//! The search in stocks of any size: tanks grouped by the surrogate from several starts, then
//! exchanges that the evaluator confirms.

use itertools::iproduct;
use rand::rngs::ChaCha8Rng;

use super::allocator::Allocator;
use super::grouping::{StartingOrder, group_tanks};
use super::plan::{PlannedConverter, count_passing};
use super::surrogate::Surrogate;
use crate::study::common::progress::Progress;

/// Margins of the surrogate in turn, in units of the limit.
const MARGINS: [f64; 5] = [1.0, 0.97, 1.03, 0.93, 1.07];
/// How the searches begin.
const STARTS: [StartingOrder; 3] =
    [StartingOrder::Sorted, StartingOrder::Random, StartingOrder::Random];
/// Searches that are made at most.
pub(super) const SEARCHES: usize = MARGINS.len() * STARTS.len();

/// The best plan of the searches.
pub(super) struct BestPlan {
    pub plan: Vec<PlannedConverter>,
    /// Whether the user stopped the searches before the last of them.
    pub stopped: bool,
}

impl Allocator<'_> {
    /// The best plan of several searches; `progress` advances by every search. The surrogate is held to
    /// less and to more than the limits, because its limits are not quite those of the solver.
    pub(super) fn search(
        &self,
        capacitors: &[usize],
        rng: &mut ChaCha8Rng,
        progress: &mut dyn Progress,
    ) -> Option<BestPlan> {
        let mut best: Option<Vec<PlannedConverter>> = None;
        for (start, margin) in iproduct!(STARTS, MARGINS) {
            let surrogate = Surrogate { margin, ..self.surrogate.clone() };
            let stopped = || self.evaluator.stopped();
            let groups = group_tanks(&surrogate, self.count, start, rng, &stopped);
            let Some(mut plan) = self.evaluate_groups(groups, capacitors) else { break };
            let finished = self.exchange(&mut plan).is_some();
            if best.as_ref().is_none_or(|best| count_passing(&plan) > count_passing(best)) {
                best = Some(plan);
            }
            if !finished {
                break;
            }
            progress.advance(1);
            if best.as_ref().is_some_and(|best| count_passing(best) == self.count.converters) {
                return best.map(|plan| BestPlan { plan, stopped: false });
            }
        }
        best.map(|plan| BestPlan { plan, stopped: self.evaluator.stopped() })
    }
}
