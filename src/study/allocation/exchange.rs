//! Exchanges of parts between converters of a plan, which the evaluator confirms.

use itertools::Itertools as _;

use super::allocator::Allocator;
use super::plan::{PartSet, PlannedConverter, count_passing, spare_tanks};

/// Exchanges are tried while the surrogate predicts less than so many times the limit.
const PROMISING: f64 = 1.1;

impl Allocator<'_> {
    /// Exchanges tanks between a converter that fails and another, or those left over, as long as
    /// more converters pass. Only exchanges that the surrogate calls promising are tried. `None` when
    /// the user asked to stop.
    pub(super) fn exchange(&self, plan: &mut [PlannedConverter]) -> Option<()> {
        let mut spare = spare_tanks(plan, self.surrogate.tanks);
        loop {
            let before = count_passing(plan);
            for failing in 0..plan.len() {
                // Where the surrogate rules all exchanges out, nothing else asks.
                if self.evaluator.stopped() {
                    return None;
                }
                if !plan[failing].evaluation.passes
                    && !self.reorder(&mut plan[failing])?
                    && !self.replace(&mut plan[failing], &mut spare)?
                {
                    self.exchange_one(plan, failing)?;
                }
            }
            if count_passing(plan) == before {
                return Some(());
            }
        }
    }

    /// Whether the solver should evaluate a converter with these tanks.
    fn is_promising(&self, tanks: &[usize]) -> bool {
        self.surrogate.expected(tanks) <= PROMISING
    }

    /// Tries the parts of a failing converter in other orders; whether it passes then.
    fn reorder(&self, planned: &mut PlannedConverter) -> Option<bool> {
        if !self.is_promising(&planned.tanks) {
            return Some(false);
        }
        self.pass_in_some_order(planned)
    }

    /// Tries tanks left over in a failing converter; whether it passes with one of them.
    fn replace(&self, planned: &mut PlannedConverter, spare: &mut [usize]) -> Option<bool> {
        for other in spare {
            for phase in 0..planned.tanks.len() {
                let mut changed = planned.clone();
                let given_up = std::mem::replace(&mut changed.tanks[phase], *other);
                if self.is_promising(&changed.tanks) && self.pass_in_some_order(&mut changed)? {
                    (*planned, *other) = (changed, given_up);
                    return Some(true);
                }
            }
        }
        Some(false)
    }

    /// Whether a converter passes, as it is or with its tanks or flying capacitors in another order,
    /// which it then keeps.
    fn pass_in_some_order(&self, planned: &mut PlannedConverter) -> Option<bool> {
        let given = planned.parts();
        planned.evaluation = self.evaluate(vec![given.clone()])?.pop()?.evaluation;
        if planned.evaluation.passes {
            return Some(true);
        }
        let with_tanks = |tanks| PartSet { tanks, ..given.clone() };
        let with_capacitors = |capacitors| PartSet { capacitors, ..given.clone() };
        let tanks = reordered(&given.tanks).into_iter().map(with_tanks);
        let capacitors = reordered(&given.capacitors).into_iter().map(with_capacitors);
        let tried = self.evaluate(tanks.chain(capacitors).collect())?;
        let found = tried.into_iter().find(|tried| tried.evaluation.passes);
        let passes = found.is_some();
        if let Some(found) = found {
            *planned = found;
        }
        Some(passes)
    }

    /// Exchanges a tank of a failing converter for one of another.
    fn exchange_one(&self, plan: &mut [PlannedConverter], failing: usize) -> Option<()> {
        for other in (0..plan.len()).filter(|other| *other != failing) {
            let phases = 0..plan[failing].tanks.len();
            for (i, k) in phases.cartesian_product(0..plan[other].tanks.len()) {
                let (mut a, mut b) = (plan[failing].clone(), plan[other].clone());
                let passed = b.evaluation.passes;
                std::mem::swap(&mut a.tanks[i], &mut b.tanks[k]);
                if !self.is_promising(&a.tanks) || (passed && !self.is_promising(&b.tanks)) {
                    continue;
                }
                if self.pass_in_some_order(&mut a)? && (self.pass_in_some_order(&mut b)? || !passed)
                {
                    (plan[failing], plan[other]) = (a, b);
                    return Some(());
                }
            }
        }
        Some(())
    }
}

/// The same parts in other orders: with two of them exchanged, and rotated. These are all other
/// orders of up to three parts.
pub(super) fn reordered(parts: &[usize]) -> Vec<Vec<usize>> {
    let exchanged = (0..parts.len()).array_combinations().map(|[i, k]| {
        let mut order = parts.to_vec();
        order.swap(i, k);
        order
    });
    let rotated = (1..parts.len()).map(|by| {
        let mut order = parts.to_vec();
        order.rotate_left(by);
        order
    });
    exchanged.chain(rotated).collect()
}
