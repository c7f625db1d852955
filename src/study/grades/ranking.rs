//! The comparison itself: all sets, the short list, and what fresh samples say of it.

use super::{CostModel, GradeSet, GradeStep, Ranking, SetComparison, SetResult, SteppedSet};
use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::scenario::{Grades, Scenario};
use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::common::error::StudyError;
use crate::study::common::pairs::Pairs;
use crate::study::common::settings::Settings;
use crate::study::common::trial::Tried;

/// Sets in the chain that are tried again at a time, and how many at most: as long as none of them
/// meets the target on the fresh samples, the next ones are taken in.
const SHORTLIST: usize = 4;
const LONGEST: usize = 3 * SHORTLIST;

/// What is tried at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// All sets in both arrangements.
    All,
    /// The short list, on fresh samples.
    ShortList,
    /// The recommended set with its neighbours, on the same fresh samples.
    Steps,
}

impl Stage {
    /// The word used on the terminal and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::All => "all sets",
            Self::ShortList => "short list",
            Self::Steps => "single steps",
        }
    }
}

/// Tries candidates on the samples of a seed.
pub type EvaluateSets<'a> = dyn FnMut(Stage, &[GradeSet], u64) -> Result<Tried, StudyError> + 'a;

/// The numbers that results are computed with.
#[derive(Debug, Clone, Copy)]
struct View<'a> {
    grades: &'a Grades,
    size: (usize, usize),
    confidence: Confidence,
    target: f64,
}

/// What the samples of a seed say of candidates.
struct Round {
    results: Vec<SetResult>,
    pairs: Pairs,
    interrupted: bool,
}

/// Compares all sets of the scenario's grades; converters have `size` phases and driven legs.
/// Interrupted, it gives what it has, if that is anything.
///
/// # Errors
///
/// Those of `try_out`, and when the confidence level is not one that statistics can take.
pub fn rank(
    scenario: &Scenario,
    grades: &Grades,
    (settings, legs): (Settings, usize),
    try_out: &mut EvaluateSets,
) -> Result<Ranking, StudyError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let (size, target) = ((scenario.phases, legs), scenario.limits.yield_target);
    let view = View { grades, size, confidence, target };
    let all: Vec<GradeSet> =
        Arrangement::ALL.iter().flat_map(|a| GradeSet::all(grades, *a)).collect();
    let tried = try_out(Stage::All, &all, settings.seed)?;
    let first = view.round(&all, tried, (settings.seed, confidence))?;
    let in_chain = first.of(Arrangement::Chain);
    let order = view.preferred(&first.results[..in_chain]);
    let mut ranking = Ranking {
        settings,
        fresh_seed: settings.seed.wrapping_add(1),
        legs,
        best: order[0],
        sets: Vec::new(),
        paralleled: Vec::new(),
        shortlist: Vec::new(),
        without_balancing: None,
        steps: Vec::new(),
        interrupted: first.interrupted.then_some(Stage::All),
    };
    if !first.interrupted {
        view.verify(&first, &order, &mut ranking, try_out)?;
    }
    let mut results = view.compared(first, ranking.best)?;
    mark_front(&mut results[..in_chain]);
    mark_front(&mut results[in_chain..]);
    ranking.paralleled = results.split_off(in_chain);
    ranking.sets = results;
    Ok(ranking)
}

/// The result; none where the user asked to stop.
fn uninterrupted<T>(result: Result<T, StudyError>) -> Result<Option<T>, StudyError> {
    match result {
        Err(StudyError::Engine(EngineError::Interrupted(_))) => Ok(None),
        other => other.map(Some),
    }
}

impl Round {
    /// Number of the candidates in an arrangement.
    fn of(&self, arrangement: Arrangement) -> usize {
        self.results.iter().filter(|r| r.candidate.arrangement == arrangement).count()
    }
}

impl View<'_> {
    fn round(
        self,
        candidates: &[GradeSet],
        tried: Tried,
        (seed, confidence): (u64, Confidence),
    ) -> Result<Round, StatisticsError> {
        let results = candidates.iter().zip(&tried.each).map(|(candidate, trial)| {
            let good = Yield::new(trial.good, trial.samples, confidence)?;
            let model = CostModel::new(self.grades, candidate, self.size);
            let times = candidate.chosen(self.grades).filter_map(|(_, grade)| grade.lead_time);
            Ok(SetResult {
                candidate: candidate.clone(),
                seed,
                good,
                binding: trial.binding.clone(),
                parts: model.parts(),
                cost: model.cost(&good),
                surplus: model.surplus(good.estimate),
                lead_time: times.reduce(f64::max),
                on_front: false,
                against: None,
                model,
            })
        });
        let results = results.collect::<Result<_, StatisticsError>>()?;
        Ok(Round { results, pairs: tried.pairs, interrupted: tried.interrupted })
    }

    /// All places: those that stand best to the target first, then the cheapest; of equal costs the
    /// better yield, then the set listed first.
    fn preferred(self, sets: &[SetResult]) -> Vec<usize> {
        let standing = |set: &SetResult| set.good.verdict(self.target);
        let mut places: Vec<usize> = (0..sets.len()).collect();
        places.sort_by(|a, b| {
            let (a, b) = (&sets[*a], &sets[*b]);
            let cost = a.cost.estimate.total_cmp(&b.cost.estimate);
            standing(a).cmp(&standing(b)).then(cost).then(b.good.successes.cmp(&a.good.successes))
        });
        places
    }

    /// Tries the short list on fresh samples, picks the recommended set there, and tries what
    /// stands one step from it.
    fn verify(
        self,
        first: &Round,
        order: &[usize],
        ranking: &mut Ranking,
        try_out: &mut EvaluateSets,
    ) -> Result<(), StudyError> {
        let in_chain = first.of(Arrangement::Chain);
        let rival = in_chain + self.preferred(&first.results[in_chain..])[0];
        // One level for every length that the list may come to have.
        let level = self.shared(order.len().min(LONGEST))?;
        for length in (SHORTLIST..=LONGEST).step_by(SHORTLIST) {
            let listed = &order[..length.min(order.len())];
            let candidate = |n: &usize| first.results[*n].candidate.clone();
            let list: Vec<GradeSet> = listed.iter().chain([&rival]).map(candidate).collect();
            let tried = uninterrupted(try_out(Stage::ShortList, &list, ranking.fresh_seed))?;
            let Some(tried) = tried else {
                ranking.interrupted = Some(Stage::ShortList);
                return Ok(());
            };
            let fresh = self.round(&list, tried, (ranking.fresh_seed, level))?;
            let picked = self.preferred(&fresh.results[..listed.len()])[0];
            let passes = fresh.results[picked].good.verdict(self.target) == Verdict::Pass;
            ranking.best = listed[picked];
            ranking.interrupted = fresh.interrupted.then_some(Stage::ShortList);
            let mut results = self.compared(fresh, picked)?;
            ranking.without_balancing = results.pop();
            ranking.shortlist = results;
            if ranking.is_partial() {
                return Ok(());
            }
            if passes || listed.len() == order.len() {
                break;
            }
        }
        let best = first.results[ranking.best].candidate.clone();
        self.take_steps(&best, level, ranking, try_out)
    }

    /// The level at which the intervals of so many sets hold together (Bonferroni).
    fn shared(self, sets: usize) -> Result<Confidence, StatisticsError> {
        Confidence::new(1.0 - self.confidence.one_sided_tail() / sets.max(1) as f64)
    }

    fn take_steps(
        self,
        best: &GradeSet,
        level: Confidence,
        ranking: &mut Ranking,
        try_out: &mut EvaluateSets,
    ) -> Result<(), StudyError> {
        let steps = self.steps(&best.grades);
        let stepped = steps.iter().map(|step| {
            let mut candidate = best.clone();
            candidate.grades[step.offer] = step.grade;
            candidate
        });
        let list: Vec<GradeSet> = std::iter::once(best.clone()).chain(stepped).collect();
        let tried = uninterrupted(try_out(Stage::Steps, &list, ranking.fresh_seed))?;
        let Some(tried) = tried else {
            ranking.interrupted = Some(Stage::Steps);
            return Ok(());
        };
        let round = self.round(&list, tried, (ranking.fresh_seed, level))?;
        ranking.interrupted = round.interrupted.then_some(Stage::Steps);
        let results = self.compared(round, 0)?;
        ranking.steps = steps
            .into_iter()
            .zip(results.into_iter().skip(1))
            .map(|(step, result)| SteppedSet { step, result })
            .collect();
        Ok(())
    }

    /// One grade down and one up in every offer, where there is one.
    fn steps(self, set: &[usize]) -> Vec<GradeStep> {
        let each = self.grades.offers.iter().zip(set).enumerate();
        let steps = each.flat_map(|(offer, (on_offer, grade))| {
            let down = grade.checked_sub(1).map(|grade| GradeStep { offer, grade, dearer: false });
            let next = grade + 1;
            let up = GradeStep { offer, grade: next, dearer: true };
            let up = (next < on_offer.grades.len()).then_some(up);
            [down, up].into_iter().flatten()
        });
        steps.collect()
    }

    /// Compares every candidate with the one at `best`. The level is raised so that all intervals
    /// hold together with the scenario's confidence (Bonferroni). That is also enough where the
    /// samples themselves chose `best`: the set that truly is the cheapest is called dearer only if
    /// one of its own comparisons with the others errs.
    fn compared(self, round: Round, best: usize) -> Result<Vec<SetResult>, StatisticsError> {
        let Round { mut results, pairs, .. } = round;
        let level = self.shared(results.len() - 1)?;
        let reference = results[best].model.clone();
        let any_good = results[best].good.successes > 0;
        for (n, set) in results.iter_mut().enumerate().filter(|(n, _)| *n != best) {
            let counts = pairs.counts(n, best);
            let good = counts.difference(level)?;
            let (own, other) = (|y| set.model.per_good(y), |y| reference.per_good(y));
            let cost = counts.cost_difference(own, other, level)?;
            // Where no sample is good, no rework price makes up for it.
            let cost = cost.filter(|_| set.good.successes > 0 && any_good);
            set.against = Some(SetComparison { good, cost });
        }
        Ok(results)
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
