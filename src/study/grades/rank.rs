//! The comparison itself: all sets, the short list, and what fresh samples say of it.

use super::{Candidate, Comparison, CostModel, Ranking, SetResult, Step};
use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::scenario::{Grades, Scenario};
use crate::statistics::{Confidence, StatisticsError, Yield};
use crate::study::pairs::Pairs;
use crate::study::run::{RunError, Settings};
use crate::study::trial::Tried;

/// Sets in the chain that are tried again at most.
pub const SHORTLIST: usize = 4;

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
pub type Try<'a> = dyn FnMut(Stage, &[Candidate], u64) -> Result<Tried, RunError> + 'a;

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
    try_out: &mut Try,
) -> Result<Ranking, RunError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let (size, target) = ((scenario.phases, legs), scenario.limits.yield_target);
    let view = View { grades, size, confidence, target };
    let all: Vec<Candidate> =
        Arrangement::ALL.iter().flat_map(|a| Candidate::all(grades, *a)).collect();
    let tried = try_out(Stage::All, &all, settings.seed)?;
    let first = view.round(&all, tried, confidence)?;
    let in_chain = first.of(Arrangement::Chain);
    let listed = view.shortlist(&first.results[..in_chain]);
    let mut ranking = Ranking {
        settings,
        fresh_seed: settings.seed.wrapping_add(1),
        legs,
        standing: first.results[listed[0]].good.verdict(target),
        best: listed[0],
        sets: Vec::new(),
        paralleled: Vec::new(),
        shortlist: Vec::new(),
        without_balancing: None,
        steps: Vec::new(),
        interrupted: first.interrupted.then_some(Stage::All),
    };
    if !first.interrupted {
        view.verify(&first, &listed, &mut ranking, try_out)?;
    }
    let mut results = view.compared(first, ranking.best)?;
    mark_front(&mut results[..in_chain]);
    mark_front(&mut results[in_chain..]);
    ranking.paralleled = results.split_off(in_chain);
    ranking.sets = results;
    Ok(ranking)
}

/// The result; none where the user asked to stop.
fn uninterrupted<T>(result: Result<T, RunError>) -> Result<Option<T>, RunError> {
    match result {
        Err(RunError::Engine(EngineError::Interrupted(_))) => Ok(None),
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
        candidates: &[Candidate],
        tried: Tried,
        confidence: Confidence,
    ) -> Result<Round, StatisticsError> {
        let results = candidates.iter().zip(&tried.each).map(|(candidate, trial)| {
            let good = Yield::new(trial.good, trial.samples, confidence)?;
            let model = CostModel::new(self.grades, candidate, self.size);
            let times = candidate.chosen(self.grades).filter_map(|(_, grade)| grade.lead_time);
            Ok(SetResult {
                candidate: candidate.clone(),
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

    /// Places of those sets that stand best to the target, cheapest first; of equal costs the
    /// better yield, then the set listed first.
    fn preferred(self, sets: &[SetResult]) -> Vec<usize> {
        let standing = |set: &SetResult| set.good.verdict(self.target);
        let best = sets.iter().map(standing).min();
        let mut places: Vec<usize> =
            (0..sets.len()).filter(|n| Some(standing(&sets[*n])) == best).collect();
        places.sort_by(|a, b| {
            let (a, b) = (&sets[*a], &sets[*b]);
            let cost = a.cost.estimate.total_cmp(&b.cost.estimate);
            cost.then(b.good.successes.cmp(&a.good.successes))
        });
        places
    }

    fn shortlist(self, sets: &[SetResult]) -> Vec<usize> {
        let mut places = self.preferred(sets);
        places.truncate(SHORTLIST);
        places
    }

    /// Tries the short list on fresh samples, picks the recommended set there, and tries what
    /// stands one step from it.
    fn verify(
        self,
        first: &Round,
        listed: &[usize],
        ranking: &mut Ranking,
        try_out: &mut Try,
    ) -> Result<(), RunError> {
        let in_chain = first.of(Arrangement::Chain);
        let paralleled = self.preferred(&first.results[in_chain..]);
        let rival = paralleled.first().map(|n| in_chain + n);
        let candidate = |n: &usize| first.results[*n].candidate.clone();
        let list: Vec<Candidate> = listed.iter().chain(&rival).map(candidate).collect();
        let tried = uninterrupted(try_out(Stage::ShortList, &list, ranking.fresh_seed))?;
        let Some(tried) = tried else {
            ranking.interrupted = Some(Stage::ShortList);
            return Ok(());
        };
        let fresh = self.round(&list, tried, self.shared(listed.len())?)?;
        let picked = self.preferred(&fresh.results[..listed.len()])[0];
        ranking.best = listed[picked];
        let interrupted = fresh.interrupted;
        let mut results = self.compared(fresh, picked)?;
        ranking.without_balancing = results.drain(listed.len()..).next();
        ranking.shortlist = results;
        if interrupted {
            ranking.interrupted = Some(Stage::ShortList);
            return Ok(());
        }
        self.take_steps(&list[picked], ranking, try_out)
    }

    /// The level at which the intervals of so many sets hold together (Bonferroni).
    fn shared(self, sets: usize) -> Result<Confidence, StatisticsError> {
        Confidence::new(1.0 - self.confidence.one_sided_tail() / sets.max(1) as f64)
    }

    fn take_steps(
        self,
        best: &Candidate,
        ranking: &mut Ranking,
        try_out: &mut Try,
    ) -> Result<(), RunError> {
        let steps = self.steps(&best.set);
        let stepped = steps.iter().map(|step| {
            let mut candidate = best.clone();
            candidate.set[step.offer] = step.grade;
            candidate
        });
        let list: Vec<Candidate> = std::iter::once(best.clone()).chain(stepped).collect();
        let tried = uninterrupted(try_out(Stage::Steps, &list, ranking.fresh_seed))?;
        let Some(tried) = tried else {
            ranking.interrupted = Some(Stage::Steps);
            return Ok(());
        };
        let round = self.round(&list, tried, self.confidence)?;
        ranking.interrupted = round.interrupted.then_some(Stage::Steps);
        let results = self.compared(round, 0)?;
        ranking.steps = steps.into_iter().zip(results.into_iter().skip(1)).collect();
        Ok(())
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

    /// Compares every candidate with the one at `best`. The level is raised so that all intervals
    /// hold together with the scenario's confidence (Bonferroni). That is also enough where the
    /// samples themselves chose `best`: the set that truly is the cheapest is called dearer only if
    /// one of its own comparisons with the others errs.
    fn compared(self, round: Round, best: usize) -> Result<Vec<SetResult>, StatisticsError> {
        let Round { mut results, pairs, .. } = round;
        let level = self.shared(results.len() - 1)?;
        let reference = results[best].model.clone();
        for (n, set) in results.iter_mut().enumerate().filter(|(n, _)| *n != best) {
            let counts = pairs.counts(n, best);
            let good = counts.difference(level)?;
            let cost = counts.cost_difference(
                |y| set.model.per_good(y),
                |y| reference.per_good(y),
                level,
            )?;
            set.against = Some(Comparison { good, cost });
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
