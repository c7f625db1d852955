//! The comparison itself: all sets, the cheapest, and what fresh samples say of it.

use super::{
    Bench, Comparison, CostModel, Passes, Ranking, Role, SetResult, Step, Tried, Verified,
};
use crate::engine::EngineError;
use crate::scenario::{Grades, Scenario};
use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::run::{RunError, Settings};

/// Rivals that are tried again at most.
const RIVALS: usize = 4;

/// A set to be tried again, and why.
type Again = (Vec<usize>, Vec<Role>);

/// The numbers that results are computed with.
#[derive(Debug, Clone, Copy)]
struct View<'a> {
    grades: &'a Grades,
    size: (usize, usize),
    confidence: Confidence,
    target: f64,
}

/// Compares all sets of the scenario's grades on `bench`; converters have `size` phases and driven
/// legs. Interrupted, it gives what it has, if that is one set at least.
///
/// # Errors
///
/// Those of the bench, and when the confidence level is not one that statistics can take.
pub fn rank(
    scenario: &Scenario,
    grades: &Grades,
    (settings, legs): (Settings, usize),
    bench: &mut dyn Bench,
) -> Result<Ranking, RunError> {
    let view = View {
        grades,
        size: (scenario.phases, legs),
        confidence: Confidence::new(scenario.limits.confidence)?,
        target: scenario.limits.yield_target,
    };
    let mut sets = Vec::new();
    bench.plan(grades.sets.len());
    let mut partial = view.try_all(&grades.sets, settings.seed, bench, &mut sets)?;
    mark_front(&mut sets);
    let (best, all_miss) = view.best(&sets);
    view.compare(&mut sets, best)?;
    let fresh_seed = settings.seed.wrapping_add(1);
    let (mut verified, mut paralleled) = (Vec::new(), None);
    if !partial {
        let again = view.to_try_again(&sets, best, all_miss);
        bench.plan(grades.sets.len() + again.len() + 1);
        partial = view.verify(again, fresh_seed, bench, &mut verified)?;
    }
    if !partial {
        paralleled = uninterrupted(bench.without_balancing(&sets[best].set, fresh_seed))?;
        partial = paralleled.is_none();
    }
    let paralleled = paralleled.flatten();
    Ok(Ranking { settings, fresh_seed, legs, sets, best, all_miss, verified, paralleled, partial })
}

/// The result; none where the user asked to stop.
fn uninterrupted<T>(result: Result<T, RunError>) -> Result<Option<T>, RunError> {
    match result {
        Err(RunError::Engine(EngineError::Interrupted(_))) => Ok(None),
        other => other.map(Some),
    }
}

impl View<'_> {
    /// Tries the sets in turn; gives whether it was interrupted after the first.
    fn try_all(
        self,
        sets: &[Vec<usize>],
        seed: u64,
        bench: &mut dyn Bench,
        results: &mut Vec<SetResult>,
    ) -> Result<bool, RunError> {
        for (n, set) in sets.iter().enumerate() {
            let tried = bench.try_set(set, seed);
            let tried = if n == 0 { Some(tried?) } else { uninterrupted(tried)? };
            let Some(tried) = tried else { return Ok(true) };
            results.push(self.result(set, &tried)?);
        }
        Ok(false)
    }

    /// Tries sets on fresh samples; gives whether it was interrupted.
    fn verify(
        self,
        again: Vec<Again>,
        seed: u64,
        bench: &mut dyn Bench,
        verified: &mut Vec<Verified>,
    ) -> Result<bool, RunError> {
        let list: Vec<Vec<usize>> = again.iter().map(|(set, _)| set.clone()).collect();
        let mut results = Vec::new();
        let done = uninterrupted(self.try_all(&list, seed, bench, &mut results))?;
        if !results.is_empty() {
            self.compare(&mut results, 0)?;
        }
        let pairs = again.into_iter().zip(results);
        verified.extend(pairs.map(|((_, roles), result)| Verified { roles, result }));
        Ok(done.unwrap_or(true))
    }

    fn result(self, set: &[usize], tried: &Tried) -> Result<SetResult, StatisticsError> {
        let passes = Passes::new(&tried.passed);
        let good = Yield::new(passes.count(), passes.samples(), self.confidence)?;
        let model = CostModel::new(self.grades, set, self.size);
        let chosen = self.grades.offers.iter().zip(set).map(|(offer, n)| &offer.grades[*n]);
        Ok(SetResult {
            set: set.to_vec(),
            good,
            binding: tried.binding.clone(),
            parts: model.parts(),
            cost: model.cost(&good),
            surplus: model.surplus(good.estimate),
            lead_time: chosen.filter_map(|grade| grade.lead_time).reduce(f64::max),
            on_front: false,
            against: None,
            passes,
            model,
        })
    }

    /// The cheapest set of those that do not surely miss the target, or of all where every one
    /// does; whether that is so. Of equal costs the better yield, then the set listed first.
    fn best(self, sets: &[SetResult]) -> (usize, bool) {
        let misses = |set: &SetResult| set.good.verdict(self.target) == Verdict::Fail;
        let all_miss = sets.iter().all(misses);
        let candidates = sets.iter().enumerate().filter(|(_, set)| all_miss || !misses(set));
        let best = candidates.min_by(|(_, a), (_, b)| {
            let cost = a.cost.estimate.total_cmp(&b.cost.estimate);
            cost.then(b.good.successes.cmp(&a.good.successes))
        });
        (best.map_or(0, |(n, _)| n), all_miss)
    }

    /// Compares every set with the one at `best`. The level is raised so that all intervals hold
    /// together with the scenario's confidence (Bonferroni).
    fn compare(self, sets: &mut [SetResult], best: usize) -> Result<(), StatisticsError> {
        let comparisons = (sets.len().max(2) - 1) as f64;
        let level = Confidence::new(1.0 - self.confidence.one_sided_tail() / comparisons)?;
        let reference = sets[best].clone();
        for (n, set) in sets.iter_mut().enumerate() {
            if n == best {
                continue;
            }
            let counts = set.passes.paired(&reference.passes);
            let good = counts.difference(level)?;
            let (own, other) = (&set.model, &reference.model);
            let cost = counts.cost_difference(|y| own.per_good(y), |y| other.per_good(y), level)?;
            set.against = Some(Comparison { good, cost });
        }
        Ok(())
    }

    /// The sets to be tried again with the reasons, the recommended one first, each once.
    fn to_try_again(self, sets: &[SetResult], best: usize, all_miss: bool) -> Vec<Again> {
        let mut again: Vec<Again> = Vec::new();
        let mut add = |set: &[usize], role| match again.iter_mut().find(|(known, _)| known == set) {
            Some((_, roles)) => roles.push(role),
            None => again.push((set.to_vec(), vec![role])),
        };
        add(&sets[best].set, Role::Recommended);
        let mut order: Vec<&SetResult> =
            sets.iter().enumerate().filter(|(n, _)| *n != best).map(|(_, set)| set).collect();
        order.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
        let misses = |set: &SetResult| set.good.verdict(self.target) == Verdict::Fail;
        let rivals = order.iter().filter(|set| all_miss || !misses(set));
        rivals.take(RIVALS).for_each(|set| add(&set.set, Role::Rival));
        let cheapest = order
            .first()
            .filter(|set| !all_miss && misses(set) && set.cost.estimate < sets[best].cost.estimate);
        if let Some(set) = cheapest {
            add(&set.set, Role::CheapestOfAll);
        }
        for step in self.steps(&sets[best].set) {
            let mut set = sets[best].set.clone();
            set[step.offer] = step.grade;
            add(&set, Role::Step(step));
        }
        again
    }

    /// One grade down and one up in every offer, where there is one.
    fn steps(self, set: &[usize]) -> Vec<Step> {
        let each = self.grades.offers.iter().zip(set).enumerate();
        let steps = each.flat_map(|(offer, (on_offer, grade))| {
            let down = grade.checked_sub(1).map(|grade| Step { offer, grade, up: false });
            let next = grade + 1;
            let up = Step { offer, grade: next, up: true };
            let up = (next < on_offer.grades.len()).then_some(up);
            [down, up].into_iter().flatten()
        });
        steps.collect()
    }
}

/// Marks the sets that no other one beats in cost without losing in yield, or the other way round.
fn mark_front(sets: &mut [SetResult]) {
    let places: Vec<(f64, u64)> =
        sets.iter().map(|set| (set.cost.estimate, set.good.successes)).collect();
    for (set, own) in sets.iter_mut().zip(&places) {
        let beats = |other: &(f64, u64)| {
            other.0 <= own.0 && other.1 >= own.1 && (other.0 < own.0 || other.1 > own.1)
        };
        set.on_front = own.0.is_finite() && !places.iter().any(beats);
    }
}
