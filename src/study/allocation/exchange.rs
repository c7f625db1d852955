//! The search in stocks of any size: allotments by the surrogate from several starts, then exchanges
//! that the judge confirms.

use std::collections::BTreeSet;

use rand::rngs::ChaCha8Rng;

use super::{
    ALLOTMENTS, Bench, PlannedConverter, REPEATS, StartingOrder, Surrogate, group_tanks, passing,
};
use crate::converter::Converter;

/// What the surrogate is held to in turn, in units of the limit.
const MARGINS: [f64; 5] = [1.0, 0.97, 1.03, 0.93, 1.07];
/// How the searches begin.
const STARTS: [StartingOrder; 3] =
    [StartingOrder::Sorted, StartingOrder::Random, StartingOrder::Random];
/// Searches that are made.
pub(super) const SEARCHES: usize = MARGINS.len() * STARTS.len();

impl Bench<'_> {
    /// The best of several searches, and whether the user stopped them: the surrogate is held to less
    /// and to more than the limits, since it does not see them quite where the solver does.
    pub(super) fn best(
        &self,
        size: (usize, usize),
        capacitors: &[usize],
        surrogate: &Surrogate,
        rng: &mut ChaCha8Rng,
    ) -> Option<(Vec<PlannedConverter>, bool)> {
        let mut best: Option<Vec<PlannedConverter>> = None;
        let tries = STARTS.iter().flat_map(|start| MARGINS.map(|margin| (*start, margin)));
        for (n, (start, margin)) in (1..).zip(tries) {
            let held = Surrogate { margin, ..surrogate.clone() };
            let allotment = group_tanks(&held, size, (start, rng), &|| self.judge.stopped());
            let Some(mut list) = self.judge_all(&allotment, capacitors) else { break };
            let finished = self.exchange(&mut list, surrogate).is_some();
            let most = best.as_ref().map_or(0, |best| passing(best));
            if best.is_none() || passing(&list) > most {
                best = Some(list);
            }
            if !finished {
                break;
            }
            (self.progress)(REPEATS + n, ALLOTMENTS);
            if best.as_ref().is_some_and(|best| passing(best) == size.0) {
                return best.map(|best| (best, false));
            }
        }
        best.map(|best| (best, self.judge.stopped()))
    }

    /// Exchanges tanks between a converter that fails and another, or those left over, as long as
    /// more pass by the judge; only exchanges that the surrogate calls promising are tried.
    fn exchange(&self, list: &mut [PlannedConverter], surrogate: &Surrogate) -> Option<()> {
        let mut spare = spare_tanks(list, surrogate.tanks);
        loop {
            let before = passing(list);
            for failing in 0..list.len() {
                if !list[failing].evaluation.passes
                    && !self.reorder(&mut list[failing], surrogate)?
                    && !self.replace(&mut list[failing], &mut spare, surrogate)?
                {
                    self.exchange_one(list, failing, surrogate)?;
                }
            }
            if passing(list) == before {
                return Some(());
            }
        }
    }

    /// Tries the parts of a failing converter in other places; whether it passes then.
    fn reorder(&self, build: &mut PlannedConverter, surrogate: &Surrogate) -> Option<bool> {
        if !surrogate.is_promising(&build.tanks) {
            return Some(false);
        }
        self.passes(build)
    }

    /// Tries tanks left over in a failing converter; whether it passes with one of them.
    fn replace(
        &self,
        build: &mut PlannedConverter,
        spare: &mut [usize],
        surrogate: &Surrogate,
    ) -> Option<bool> {
        for other in spare {
            for phase in 0..build.tanks.len() {
                let mut changed = build.clone();
                let given_up = std::mem::replace(&mut changed.tanks[phase], *other);
                if surrogate.is_promising(&changed.tanks) && self.passes(&mut changed)? {
                    (*build, *other) = (changed, given_up);
                    return Some(true);
                }
            }
        }
        Some(false)
    }

    /// Whether a converter passes, as it is or with its tanks or flying capacitors in other places,
    /// which it is given then.
    fn passes(&self, build: &mut PlannedConverter) -> Option<bool> {
        let as_is = (build.tanks.clone(), build.capacitors.clone());
        build.evaluation = self.judge.evaluate(&[self.converter(&as_is.0, &as_is.1)])?.pop()?;
        if build.evaluation.passes {
            return Some(true);
        }
        let tanks = reordered(&as_is.0).into_iter().map(|tanks| (tanks, as_is.1.clone()));
        let capacitors = reordered(&as_is.1).into_iter().map(|own| (as_is.0.clone(), own));
        let choices: Vec<(Vec<usize>, Vec<usize>)> = tanks.chain(capacitors).collect();
        let converters: Vec<Converter> =
            choices.iter().map(|(tanks, own)| self.converter(tanks, own)).collect();
        let judged = self.judge.evaluate(&converters)?;
        let found = choices.into_iter().zip(judged).find(|(_, judged)| judged.passes);
        let Some(((tanks, capacitors), judged)) = found else { return Some(false) };
        *build = PlannedConverter { tanks, capacitors, evaluation: judged };
        Some(true)
    }

    /// Exchanges a tank of a failing converter for one of another.
    fn exchange_one(
        &self,
        list: &mut [PlannedConverter],
        failing: usize,
        surrogate: &Surrogate,
    ) -> Option<()> {
        for other in (0..list.len()).filter(|other| *other != failing) {
            for (i, k) in (0..list[failing].tanks.len())
                .flat_map(|i| (0..list[other].tanks.len()).map(move |k| (i, k)))
            {
                let (mut a, mut b) = (list[failing].clone(), list[other].clone());
                let passed = b.evaluation.passes;
                std::mem::swap(&mut a.tanks[i], &mut b.tanks[k]);
                if !surrogate.is_promising(&a.tanks)
                    || (passed && !surrogate.is_promising(&b.tanks))
                {
                    continue;
                }
                if self.passes(&mut a)? && (self.passes(&mut b)? || !passed) {
                    (list[failing], list[other]) = (a, b);
                    return Some(());
                }
            }
        }
        Some(())
    }
}

/// The tanks that stand in no converter of the list, of so many in stock.
pub(super) fn spare_tanks(list: &[PlannedConverter], all: usize) -> Vec<usize> {
    let used: BTreeSet<usize> = list.iter().flat_map(|build| &build.tanks).copied().collect();
    (0..all).filter(|n| !used.contains(n)).collect()
}

/// The same parts with two of them in each other's place, and turned round: every other order there is
/// of up to three.
pub(super) fn reordered(parts: &[usize]) -> Vec<Vec<usize>> {
    let count = parts.len();
    let pairs = (0..count).flat_map(|i| (i + 1..count).map(move |k| (i, k)));
    let swapped = pairs.map(|(i, k)| {
        let mut order = parts.to_vec();
        order.swap(i, k);
        order
    });
    let turned = (1..count).map(|by| {
        let mut order = parts.to_vec();
        order.rotate_left(by);
        order
    });
    swapped.chain(turned).collect()
}
