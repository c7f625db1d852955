//! The comparison itself: all sets, the short list, and what fresh samples say of it.

use super::cost::CostModel;
use super::result::{GradeStep, Ranking, SetComparison, SetResult, Stage, SteppedSet};
use super::set::GradeSet;
use crate::converter::{Arrangement, ConverterSize};
use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::scenario::{Grades, Scenario};
use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::common::error::StudyError;
use crate::study::common::pairs::Pairs;
use crate::study::common::settings::Settings;
use crate::study::common::trials::PairedTrials;

/// Sets in the chain that are evaluated again at a time: as long as none of them meets the target on
/// the fresh samples, as many more are taken in.
const SHORTLIST: usize = 4;
/// Sets in the chain that are evaluated again at most.
const LONGEST: usize = 3 * SHORTLIST;

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
    let ranker = Ranker { grades, size, confidence, target: scenario.limits.yield_target };
    let all: Vec<GradeSet> =
        Arrangement::ALL.iter().flat_map(|a| GradeSet::all(grades, *a)).collect();
    let source = RandomSource::from(settings.seed);
    let tried = evaluate(Stage::All, &all, source)?;
    let first = ranker.evaluated(&all, tried, SampleLot { source, confidence })?;
    let in_chain = first.count(Arrangement::Chain);
    let order = ranker.preferred(&first.results[..in_chain]);
    let mut ranking = Ranking {
        settings,
        verification: source.with_stream(1),
        size,
        best: order[0],
        sets: Vec::new(),
        paralleled: Vec::new(),
        shortlist: Vec::new(),
        without_balancing: None,
        steps: Vec::new(),
        interrupted: first.interrupted.then_some(Stage::All),
    };
    if !first.interrupted {
        ranker.verify(&first, &order, &mut ranking, evaluate)?;
    }
    let mut results = ranker.compared(first, ranking.best)?;
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

/// Where a lot of samples comes from, and the level of its intervals.
#[derive(Debug, Clone, Copy)]
struct SampleLot {
    source: RandomSource,
    confidence: Confidence,
}

/// Sets evaluated on one lot of samples.
struct EvaluatedSets {
    results: Vec<SetResult>,
    pairs: Pairs,
    interrupted: bool,
}

impl EvaluatedSets {
    /// Number of the sets in an arrangement.
    fn count(&self, arrangement: Arrangement) -> usize {
        self.results.iter().filter(|r| r.candidate.arrangement == arrangement).count()
    }
}

/// Ranks sets by their yields and costs.
#[derive(Debug, Clone, Copy)]
struct Ranker<'a> {
    grades: &'a Grades,
    size: ConverterSize,
    confidence: Confidence,
    target: f64,
}

impl Ranker<'_> {
    /// Yields and costs of sets on one lot of samples.
    fn evaluated(
        self,
        sets: &[GradeSet],
        tried: PairedTrials,
        lot: SampleLot,
    ) -> Result<EvaluatedSets, StatisticsError> {
        let results = sets.iter().zip(&tried.trials).map(|(set, trial)| {
            let good = Yield::new(trial.good, trial.samples, lot.confidence)?;
            let model = CostModel::new(self.grades, set, self.size);
            Ok(SetResult {
                candidate: set.clone(),
                source: lot.source,
                good,
                binding: trial.binding.clone(),
                parts: model.parts(),
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

    /// Indices of all sets: those with the best verdict on the target first, then the cheapest; of
    /// equal costs the better yield, then the set listed first.
    fn preferred(self, sets: &[SetResult]) -> Vec<usize> {
        let verdict = |set: &SetResult| set.good.verdict(self.target);
        let mut order: Vec<usize> = (0..sets.len()).collect();
        order.sort_by(|a, b| {
            let (a, b) = (&sets[*a], &sets[*b]);
            let cost = a.cost.estimate.total_cmp(&b.cost.estimate);
            verdict(a).cmp(&verdict(b)).then(cost).then(b.good.successes.cmp(&a.good.successes))
        });
        order
    }

    /// Evaluates the short list on fresh samples, picks the recommended set there, and evaluates the
    /// sets one step from it.
    fn verify(
        self,
        first: &EvaluatedSets,
        order: &[usize],
        ranking: &mut Ranking,
        evaluate: &mut EvaluateSets,
    ) -> Result<(), StudyError> {
        // One level for every length that the list may come to have.
        let level = self.shared(order.len().min(LONGEST))?;
        for length in (SHORTLIST..=LONGEST).step_by(SHORTLIST) {
            let listed = &order[..length.min(order.len())];
            let passes = self.verify_list(first, listed, level, ranking, evaluate)?;
            if ranking.is_partial() {
                return Ok(());
            }
            if passes || listed.len() == order.len() {
                break;
            }
        }
        let best = first.results[ranking.best].candidate.clone();
        self.take_steps(&best, level, ranking, evaluate)
    }

    /// Evaluates a short list, and the best without charge balancing, on fresh samples; whether the
    /// best of the list meets the target there.
    fn verify_list(
        self,
        first: &EvaluatedSets,
        listed: &[usize],
        confidence: Confidence,
        ranking: &mut Ranking,
        evaluate: &mut EvaluateSets,
    ) -> Result<bool, StudyError> {
        let in_chain = first.count(Arrangement::Chain);
        let rival = in_chain + self.preferred(&first.results[in_chain..])[0];
        let candidate = |n: &usize| first.results[*n].candidate.clone();
        let list: Vec<GradeSet> = listed.iter().chain([&rival]).map(candidate).collect();
        let tried = uninterrupted(evaluate(Stage::ShortList, &list, ranking.verification))?;
        let Some(tried) = tried else {
            ranking.interrupted = Some(Stage::ShortList);
            return Ok(false);
        };
        let lot = SampleLot { source: ranking.verification, confidence };
        let fresh = self.evaluated(&list, tried, lot)?;
        let picked = self.preferred(&fresh.results[..listed.len()])[0];
        let passes = fresh.results[picked].good.verdict(self.target) == Verdict::Pass;
        ranking.best = listed[picked];
        ranking.interrupted = fresh.interrupted.then_some(Stage::ShortList);
        let mut results = self.compared(fresh, picked)?;
        ranking.without_balancing = results.pop();
        ranking.shortlist = results;
        Ok(passes)
    }

    /// The level at which the intervals of so many sets hold together (Bonferroni).
    fn shared(self, sets: usize) -> Result<Confidence, StatisticsError> {
        Confidence::new(1.0 - self.confidence.one_sided_tail() / sets.max(1) as f64)
    }

    /// Evaluates the sets one step from the recommended one.
    fn take_steps(
        self,
        best: &GradeSet,
        confidence: Confidence,
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
        let lot = SampleLot { source: ranking.verification, confidence };
        let evaluated = self.evaluated(&list, tried, lot)?;
        ranking.interrupted = evaluated.interrupted.then_some(Stage::Steps);
        let results = self.compared(evaluated, 0)?.into_iter().skip(1);
        let stepped = |(step, result): (GradeStep, SetResult)| {
            let stated = self.grades.sets.contains(&result.candidate.grades);
            SteppedSet { step, result, stated }
        };
        ranking.steps = steps.into_iter().zip(results).map(stepped).collect();
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

    /// Compares every set with the one at `best`. The level is raised so that all intervals hold
    /// together with the scenario's confidence (Bonferroni). That is also enough where the samples
    /// themselves chose `best`: the set that truly is the cheapest is called dearer only if one of its
    /// own comparisons with the others errs.
    fn compared(
        self,
        evaluated: EvaluatedSets,
        best: usize,
    ) -> Result<Vec<SetResult>, StatisticsError> {
        let EvaluatedSets { mut results, pairs, .. } = evaluated;
        let level = self.shared(results.len() - 1)?;
        let reference = results[best].model.clone();
        let any_good = results[best].good.successes > 0;
        for (n, set) in results.iter_mut().enumerate().filter(|(n, _)| *n != best) {
            let counts = pairs.counts(n, best);
            let good = counts.difference(level)?;
            let set_cost = |y| set.model.per_good(y);
            let cost = counts.cost_difference(set_cost, |y| reference.per_good(y), level)?;
            // Where no sample is good, no rework price makes up for it.
            let cost = cost.filter(|_| set.good.successes > 0 && any_good);
            set.against = Some(SetComparison { good, cost });
        }
        Ok(results)
    }
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
