//! The comparison itself: all sets, the short list, and what fresh samples say of it.

use super::balancing::BalancingEvidence;
use super::cost::CostModel;
use super::families::{Families, LONGEST, SHORTLIST};
use super::result::{
    BalancingAnswer, GradeStep, Ranking, SetComparison, SetResult, Stage, SteppedSet,
};
use super::set::GradeSet;
use crate::converter::{Arrangement, ConverterSize};
use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::scenario::{Grades, Limits, Scenario};
use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::pairs::Pairs;
use crate::study::common::settings::Settings;
use crate::study::common::trials::PairedTrials;

/// Evaluates sets on the samples of a source.
pub type EvaluateSets<'a> =
    dyn FnMut(Stage, &[GradeSet], RandomSource) -> Result<PairedTrials, StudyError> + 'a;

/// What is ranked.
#[derive(Debug, Clone, Copy)]
pub struct RankingRequest<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// The grades on offer.
    pub grades: &'a Grades,
    /// How many samples are drawn, and from which seed.
    pub settings: Settings,
    /// Phases and driven legs of the converter.
    pub size: ConverterSize,
}

/// Compares all sets of the grades on offer. Interrupted, it gives what it has, if that is anything.
///
/// # Errors
///
/// Those of `evaluate`, and when the confidence level is not one that statistics can take.
pub fn rank(
    request: RankingRequest<'_>,
    evaluate: &mut EvaluateSets,
) -> Result<Ranking, StudyError> {
    let RankingRequest { scenario, grades, settings, size } = request;
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let target = scenario.limits.yield_target;
    let families = Families::new(grades, confidence);
    let ranker = Ranker { grades, limits: &scenario.limits, size, families, target };
    let all: Vec<GradeSet> =
        Arrangement::ALL.iter().flat_map(|a| GradeSet::all(grades, *a)).collect();
    let source = RandomSource::from(settings.seed);
    let tried = evaluate(Stage::All, &all, source)?;
    let first = ranker.evaluated(&all, tried, source, |_| Ok(confidence))?;
    let order = SideOrder {
        chain: ranker.preferred(&first.results, Arrangement::Chain),
        paralleled: ranker.preferred(&first.results, Arrangement::Paralleled),
    };
    let mut ranking = Ranking {
        settings,
        verification: source.with_stream(1),
        size,
        sharing_shift: None,
        fewest_samples: families.fewest_samples(target).ok(),
        best: order.chain[0],
        sets: Vec::new(),
        paralleled: Vec::new(),
        shortlist: Vec::new(),
        paralleled_shortlist: Vec::new(),
        without_balancing: None,
        balancing: None,
        steps: Vec::new(),
        lot_series: Vec::new(),
        interrupted: first.interrupted.then_some(Stage::All),
    };
    if !first.interrupted {
        ranker.verify(&first, &order, &mut ranking, evaluate)?;
    }
    let levels = DifferenceLevels {
        chain: families.first_differences(Arrangement::Chain)?,
        paralleled: families.first_differences(Arrangement::Paralleled)?,
    };
    let mut results = compared(first, ranking.best, levels)?;
    let paralleled = results.split_off(order.chain.len());
    (ranking.sets, ranking.paralleled) = (results, paralleled);
    mark_front(&mut ranking.sets);
    mark_front(&mut ranking.paralleled);
    ranking.mark_listed();
    Ok(ranking)
}

/// The least number of samples with which a set can be shown to meet the yield target, all passing.
///
/// # Errors
///
/// When the confidence level or the target is not one that statistics can take.
pub fn fewest_samples(scenario: &Scenario, grades: &Grades) -> Result<u64, StatisticsError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    Families::new(grades, confidence).fewest_samples(scenario.limits.yield_target)
}

/// The result; none where the user asked to stop.
fn uninterrupted<T>(result: Result<T, StudyError>) -> Result<Option<T>, StudyError> {
    match result {
        Err(StudyError::Engine(EngineError::Interrupted(_))) => Ok(None),
        other => other.map(Some),
    }
}

/// Sets evaluated on one lot of samples.
struct EvaluatedSets {
    results: Vec<SetResult>,
    pairs: Pairs,
    interrupted: bool,
}

/// Indices of the sets of both arrangements, the best first.
struct SideOrder {
    chain: Vec<usize>,
    paralleled: Vec<usize>,
}

/// How many sets of either arrangement the short lists hold, and whether one of them meets the target.
#[derive(Clone, Copy)]
struct ListState {
    length: usize,
    passes: bool,
}

/// The levels of differences from the recommended set.
#[derive(Debug, Clone, Copy)]
struct DifferenceLevels {
    chain: Confidence,
    paralleled: Confidence,
}

/// Ranks sets by their yields and costs.
#[derive(Debug, Clone, Copy)]
struct Ranker<'a> {
    grades: &'a Grades,
    limits: &'a Limits,
    size: ConverterSize,
    families: Families,
    target: f64,
}

impl Ranker<'_> {
    /// Yields and costs of sets on the samples of a source, each yield at the level of its arrangement.
    fn evaluated(
        self,
        sets: &[GradeSet],
        tried: PairedTrials,
        source: RandomSource,
        level: impl Fn(Arrangement) -> Result<Confidence, StatisticsError>,
    ) -> Result<EvaluatedSets, StatisticsError> {
        let results = sets.iter().zip(&tried.trials).map(|(set, trial)| {
            let good = Yield::new(trial.good, trial.samples, level(set.arrangement)?)?;
            let model = CostModel::new(self.grades, set, self.size);
            Ok(SetResult {
                candidate: set.clone(),
                source,
                good,
                is_judged: Demand::is_any_set(self.limits, set.arrangement),
                binding: trial.binding.clone(),
                parts: model.parts(good.estimate),
                cost: model.cost(&good),
                surplus: model.surplus(good.estimate),
                lead_time: set.lead_time(self.grades),
                on_front: false,
                against: None,
                model,
            })
        });
        let results = results.collect::<Result<_, StatisticsError>>()?;
        Ok(EvaluatedSets { results, pairs: tried.pairs, interrupted: tried.interrupted })
    }

    /// Indices of all sets in an arrangement: those with the best verdict on the target first, then the
    /// cheapest; of equal costs the better yield, then the set listed first.
    fn preferred(self, sets: &[SetResult], arrangement: Arrangement) -> Vec<usize> {
        let verdict = |set: &SetResult| set.verdict(self.target);
        let all = 0..sets.len();
        let mut order: Vec<usize> =
            all.filter(|n| sets[*n].candidate.arrangement == arrangement).collect();
        order.sort_by(|a, b| {
            let (a, b) = (&sets[*a], &sets[*b]);
            let cost = a.cost.estimate.total_cmp(&b.cost.estimate);
            verdict(a).cmp(&verdict(b)).then(cost).then(b.good.successes.cmp(&a.good.successes))
        });
        order
    }

    /// Evaluates the short lists of both arrangements on fresh samples, picks the recommended set
    /// there, and evaluates the sets one step from it.
    fn verify(
        self,
        first: &EvaluatedSets,
        order: &SideOrder,
        ranking: &mut Ranking,
        evaluate: &mut EvaluateSets,
    ) -> Result<(), StudyError> {
        let begin =
            |order: &[usize]| ListState { length: SHORTLIST.min(order.len()), passes: false };
        let (mut chain, mut paralleled) = (begin(&order.chain), begin(&order.paralleled));
        loop {
            let lists = SideOrder {
                chain: order.chain[..chain.length].to_vec(),
                paralleled: order.paralleled[..paralleled.length].to_vec(),
            };
            self.verify_lists(first, &lists, ranking, evaluate)?;
            if ranking.is_partial() {
                return Ok(());
            }
            chain.passes = self.has_pass(&ranking.shortlist);
            paralleled.passes = self.has_pass(&ranking.paralleled_shortlist);
            let chain_grows = self.grow(&mut chain, &order.chain, &first.results);
            let grows = self.grow(&mut paralleled, &order.paralleled, &first.results);
            if !chain_grows && !grows {
                break;
            }
        }
        let best = first.results[ranking.best].candidate.clone();
        self.take_steps(&best, ranking, evaluate)
    }

    /// Whether a set of a short list meets the target there.
    fn has_pass(self, listed: &[SetResult]) -> bool {
        listed.iter().any(|set| set.verdict(self.target) == Verdict::Pass)
    }

    /// Takes more sets into a short list of which none meets the target, as long as one is left that
    /// may; whether it did.
    fn grow(self, list: &mut ListState, order: &[usize], first: &[SetResult]) -> bool {
        let most = order.len().min(LONGEST);
        let may_meet = |n: &usize| first[*n].verdict(self.target) != Verdict::Fail;
        if list.passes || !order[list.length..most].iter().any(may_meet) {
            return false;
        }
        list.length = (list.length + SHORTLIST).min(most);
        true
    }

    /// Evaluates both short lists on the same fresh samples.
    fn verify_lists(
        self,
        first: &EvaluatedSets,
        lists: &SideOrder,
        ranking: &mut Ranking,
        evaluate: &mut EvaluateSets,
    ) -> Result<(), StudyError> {
        let candidate = |n: &usize| first.results[*n].candidate.clone();
        let list: Vec<GradeSet> =
            lists.chain.iter().chain(&lists.paralleled).map(candidate).collect();
        let tried = uninterrupted(evaluate(Stage::ShortList, &list, ranking.verification))?;
        let Some(tried) = tried else {
            ranking.interrupted = Some(Stage::ShortList);
            return Ok(());
        };
        let families = self.families;
        let fresh = self
            .evaluated(&list, tried, ranking.verification, |side| families.listed_yields(side))?;
        let picked = self.preferred(&fresh.results, Arrangement::Chain)[0];
        ranking.best = lists.chain[picked];
        ranking.interrupted = fresh.interrupted.then_some(Stage::ShortList);
        // Nothing is compared with sets that are good wherever they deliver the output.
        if fresh.results.iter().all(|set| set.is_judged) {
            ranking.balancing = Some(self.balancing(first, &fresh)?);
        }
        let best = self.preferred(&fresh.results, Arrangement::Paralleled)[0];
        ranking.without_balancing = Some(best - lists.chain.len());
        let levels = DifferenceLevels {
            chain: families.fresh_differences(Arrangement::Chain)?,
            paralleled: families.fresh_differences(Arrangement::Paralleled)?,
        };
        let mut results = compared(fresh, picked, levels)?;
        ranking.paralleled_shortlist = results.split_off(lists.chain.len());
        ranking.shortlist = results;
        Ok(())
    }

    /// Whether charge balancing is worth its capacitors.
    fn balancing(
        self,
        first: &EvaluatedSets,
        fresh: &EvaluatedSets,
    ) -> Result<BalancingAnswer, StatisticsError> {
        let evidence = BalancingEvidence {
            first: &first.results,
            fresh: &fresh.results,
            counts: &|a, b| fresh.pairs.counts(a, b),
            target: self.target,
            error: self.families.error(),
            listed: &|arrangement| self.families.listed(arrangement),
        };
        evidence.answer()
    }

    /// Evaluates the sets one step from the recommended one.
    fn take_steps(
        self,
        best: &GradeSet,
        ranking: &mut Ranking,
        evaluate: &mut EvaluateSets,
    ) -> Result<(), StudyError> {
        let steps = self.steps(&best.grades);
        let stepped = steps.iter().map(|step| {
            let mut set = best.clone();
            set.grades[step.offer] = step.grade;
            set
        });
        let list: Vec<GradeSet> = std::iter::once(best.clone()).chain(stepped).collect();
        let tried = uninterrupted(evaluate(Stage::Steps, &list, ranking.verification))?;
        let Some(tried) = tried else {
            ranking.interrupted = Some(Stage::Steps);
            return Ok(());
        };
        let families = self.families;
        let evaluated =
            self.evaluated(&list, tried, ranking.verification, |_| families.stepped_yields())?;
        ranking.interrupted = evaluated.interrupted.then_some(Stage::Steps);
        // All of them are in the chain.
        let level = families.fresh_differences(Arrangement::Chain)?;
        let levels = DifferenceLevels { chain: level, paralleled: level };
        let results = compared(evaluated, 0, levels)?.into_iter().skip(1);
        let stepped = |(step, mut result): (GradeStep, SetResult)| {
            let stated = self.grades.sets.contains(&result.candidate.grades);
            // One verdict a set: the short list has fewer of them, and so the narrower intervals.
            if let Some(listed) = ranking.fresh_result(&result) {
                (result.good, result.cost) = (listed.good, listed.cost);
            }
            SteppedSet { step, result, stated }
        };
        let steps = steps.into_iter().zip(results).map(stepped).collect();
        ranking.steps = steps;
        Ok(())
    }

    /// One grade down and one up in every offer, where there is one.
    fn steps(self, set: &[usize]) -> Vec<GradeStep> {
        let chosen = self.grades.offers.iter().zip(set).enumerate();
        let steps = chosen.flat_map(|(offer, (on_offer, grade))| {
            let down = grade.checked_sub(1).map(|grade| GradeStep { offer, grade, dearer: false });
            let next = grade + 1;
            let up = GradeStep { offer, grade: next, dearer: true };
            let up = (next < on_offer.grades.len()).then_some(up);
            down.into_iter().chain(up)
        });
        steps.collect()
    }
}

/// Compares every set with the one at `best`, which the samples themselves may have chosen. The levels
/// allow for every choice, so that the intervals of a table hold together.
fn compared(
    evaluated: EvaluatedSets,
    best: usize,
    levels: DifferenceLevels,
) -> Result<Vec<SetResult>, StatisticsError> {
    let EvaluatedSets { mut results, pairs, .. } = evaluated;
    let reference = results[best].model.clone();
    let named = results[best].good;
    let any_good = named.successes > 0;
    for (n, set) in results.iter_mut().enumerate().filter(|(n, _)| *n != best) {
        let level = match set.candidate.arrangement {
            Arrangement::Chain => levels.chain,
            Arrangement::Paralleled => levels.paralleled,
        };
        let counts = pairs.counts(n, best);
        let good = counts.difference(level)?;
        let set_cost = |y| set.model.per_good(y);
        let cost = counts.cost_difference(set_cost, |y| reference.per_good(y), level)?;
        // Where no sample is good, no rework price makes up for it.
        let cost = cost.filter(|_| set.good.successes > 0 && any_good);
        let bounds = |good: &Yield| Yield::new(good.successes, good.trials, level);
        let is_above = set.model.per_good(bounds(&set.good)?.upper)
            > reference.per_good(bounds(&named)?.lower);
        set.against = Some(SetComparison { good, cost, is_above });
    }
    Ok(results)
}

/// Marks the sets that no other one beats in cost without losing in yield, or the other way round.
fn mark_front(sets: &mut [SetResult]) {
    let all: Vec<(f64, u64)> =
        sets.iter().map(|set| (set.cost.estimate, set.good.successes)).collect();
    for set in sets {
        let (cost, good) = (set.cost.estimate, set.good.successes);
        let is_beaten = all.iter().any(|(other_cost, other_good)| {
            *other_cost <= cost && *other_good >= good && (*other_cost < cost || *other_good > good)
        });
        set.on_front = cost.is_finite() && !is_beaten;
    }
}
