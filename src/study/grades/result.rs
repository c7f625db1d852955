//! What the comparison of grades results in.

use schemars::JsonSchema;
use serde::Serialize;

use super::cost::{Cost, CostModel};
use super::families::Families;
use super::lot_series::{LotSeries, Undrawn, fail_together};
use super::order::{BoundedYield, SeriesLots, SeriesOrder};
use super::set::GradeSet;
use crate::converter::ConverterSize;
use crate::population::RandomSource;
use crate::scenario::{Grades, Scenario};
use crate::statistics::{Confidence, Difference, Verdict, Yield, lower_bound};
use crate::study::common::demand::Binding;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::SharingShift;

/// A stage of the comparison: what is evaluated at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// All sets in both arrangements.
    All,
    /// The short list, on fresh samples.
    ShortList,
    /// The recommended set with its neighbours, on the same fresh samples.
    Steps,
    /// Series drawn from lots, of the set to build and of the next one.
    Series,
}

impl Stage {
    /// The word used on the terminal and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::All => "all sets",
            Self::ShortList => "short list",
            Self::Steps => "single steps",
            Self::Series => "series from lots",
        }
    }
}

/// The series of a set, drawn from lots.
#[derive(Debug, Clone)]
pub struct SeriesOfSet {
    /// The set.
    pub set: GradeSet,
    /// Its series.
    pub series: LotSeries,
}

/// What to order for the next set in cost.
#[derive(Debug, Clone)]
pub struct NextOrder<'a> {
    /// The set.
    pub set: &'a SetResult,
    /// Its order, with the confidence of that of the set to build.
    pub order: SeriesOrder,
}

/// One set of grades on one lot of samples.
#[derive(Debug, Clone)]
pub struct SetResult {
    /// The set and its arrangement.
    pub candidate: GradeSet,
    /// Where its samples come from.
    pub source: RandomSource,
    /// Its yield.
    pub good: Yield,
    /// Whether its arrangement has a limit. Else it is good wherever it delivers the output, and there is no verdict.
    pub is_judged: bool,
    /// The demand missed most often.
    pub binding: Option<Binding>,
    /// Price of its parts in one converter, measuring and matching included, surplus aside.
    pub parts: f64,
    /// Cost of a good converter.
    pub cost: Cost,
    /// What parts bought beyond the need add to it.
    pub surplus: f64,
    /// Longest lead time of its parts, in weeks; none where no part has one.
    pub lead_time: Option<f64>,
    /// Whether no other set in the same arrangement is cheaper and at least as good, or better and
    /// no dearer.
    pub on_front: bool,
    /// Against the recommended set; none for that set itself.
    pub against: Option<SetComparison>,
    pub(super) model: CostModel,
}

impl SetResult {
    /// What its yield says of the target; not decided where it is not judged.
    pub fn verdict(&self, target: f64) -> Verdict {
        if self.is_judged { self.good.verdict(target) } else { Verdict::NotDecided }
    }
}

/// A set against the recommended one, on the same samples: that set less the recommended one.
#[derive(Debug, Clone, Copy)]
pub struct SetComparison {
    /// Difference of the yields.
    pub good: Difference,
    /// Difference of the costs of a good converter; none where one of them has no bound.
    pub cost: Option<Difference>,
    /// Whether the least cost of this set lies above the highest of the other one.
    pub is_above: bool,
}

impl SetComparison {
    /// Whether the samples leave open which of the two is the cheaper.
    pub fn is_tie(&self) -> bool {
        self.cost.is_some_and(|cost| cost.is_open())
    }

    /// Whether this set is dearer over the whole interval of the difference, or by the bounds of both
    /// costs where the difference has none.
    pub fn is_dearer(&self) -> bool {
        self.cost.map_or(self.is_above, |cost| cost.lower > 0.0)
    }

    /// Whether this set is cheaper over the whole interval of the difference.
    pub fn is_cheaper(&self) -> bool {
        self.cost.is_some_and(|cost| cost.upper < 0.0)
    }
}

/// Whether to balance the charge with flying capacitors, rather than to parallel the phases plainly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum BalancingVerdict {
    /// A set in the chain is shown to be better than every set without charge balancing.
    #[serde(rename = "recommended")]
    Recommended,
    /// A set without charge balancing is shown to be better than every set in the chain.
    #[serde(rename = "not recommended")]
    NotRecommended,
    /// The samples do not decide.
    #[serde(rename = "not decided")]
    NotDecided,
}

/// What an answer on charge balancing rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum BalancingReason {
    /// Every set of the other arrangement costs more per good converter.
    #[serde(rename = "cost")]
    Cost,
    /// The sets of the other arrangement that may cost less miss the yield target.
    #[serde(rename = "yield target")]
    Target,
}

/// Why a set leaves the answer on charge balancing open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum OpenReason {
    /// It may meet the yield target, and is not shown to cost more than the best set of all.
    #[serde(rename = "may meet the target at no higher cost")]
    MayMeetAndCostLess,
    /// It costs more, but may meet the yield target, which the best set is not shown to meet.
    #[serde(rename = "may meet the target")]
    MayMeet,
    /// It misses the yield target, but is not shown to cost more, nor the best set to meet the target.
    #[serde(rename = "may cost less")]
    MayCostLess,
}

/// The set that leaves the answer on charge balancing open: of those of the other arrangement that the
/// best set of all is not shown to be better than, the best.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenRival {
    /// Its index among the sets with charge balancing, followed by those without.
    pub set: usize,
    /// Why.
    pub reason: OpenReason,
}

/// The answer on charge balancing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BalancingAnswer {
    /// The verdict.
    pub verdict: BalancingVerdict,
    /// What it rests on; none where it is not decided.
    pub reason: Option<BalancingReason>,
    /// The set that leaves it open; none where it is decided.
    pub open: Option<OpenRival>,
}

/// One grade dearer or cheaper in one offer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GradeStep {
    /// Index of the offer.
    pub offer: usize,
    /// Index of the grade in the offer.
    pub grade: usize,
    /// Whether it is the dearer one.
    pub dearer: bool,
}

/// A set one step from the recommended one.
#[derive(Debug, Clone)]
pub struct SteppedSet {
    /// The step.
    pub step: GradeStep,
    /// The set's result.
    pub result: SetResult,
    /// Whether the set is among the combinations of the scenario.
    pub stated: bool,
}

/// How much more a set costs per good converter than another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostDifference {
    /// In the scenario's currency.
    pub amount: f64,
    /// As a share of the other one's cost.
    pub relative: f64,
}

/// What a comparison says of the set that it names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum RankingAnswer {
    /// It meets the target on the fresh samples, and is the cheapest that does.
    #[serde(rename = "recommended")]
    Recommended,
    /// None is shown to meet the target. It is the cheapest that may.
    #[serde(rename = "not decided")]
    NotDecided,
    /// The samples are too few for any set to be shown to meet the target.
    #[serde(rename = "too few samples")]
    TooFewSamples,
    /// All sets of the short list miss the target. It is the cheapest of them.
    #[serde(rename = "target missed")]
    Missed,
    /// No sample of any set of the short list is good.
    #[serde(rename = "no good converter")]
    NoGoodConverter,
    /// The comparison was interrupted before the fresh samples.
    #[serde(rename = "not verified")]
    NotVerified,
    /// The chain has no limit that a set would have to meet.
    #[serde(rename = "not judged")]
    NotJudged,
}

/// The result of the comparison.
#[derive(Debug)]
pub struct Ranking {
    /// How it was carried out; the samples are those asked for.
    pub settings: Settings,
    /// The fresh samples.
    pub verification: RandomSource,
    /// Phases and driven legs, which decide how many parts a converter has.
    pub size: ConverterSize,
    /// By how much the dead time shifts sharing at most, which yields leave out; none where that is small.
    pub sharing_shift: Option<SharingShift>,
    /// The least number of samples with which a set can be shown to meet the yield target; none where
    /// no number that could be drawn does.
    pub fewest_samples: Option<u64>,
    /// All sets in the chain on the first samples, in the scenario's order.
    pub sets: Vec<SetResult>,
    /// All sets without charge balancing on the first samples; flying capacitors left out, each
    /// once.
    pub paralleled: Vec<SetResult>,
    /// Index of the set that the answer names among those in the chain: the cheapest of those with the
    /// best verdict on the target. [`Ranking::answer`] tells whether it is recommended.
    pub best: usize,
    /// The short list on fresh samples, cheapest first as the first samples had it; empty where the
    /// comparison was interrupted before.
    pub shortlist: Vec<SetResult>,
    /// The same of the sets without charge balancing.
    pub paralleled_shortlist: Vec<SetResult>,
    /// Index on that list of the cheapest set with the best verdict on the target.
    pub without_balancing: Option<usize>,
    /// Whether charge balancing is worth its capacitors; none where the comparison was interrupted
    /// before, and where sets with or without it are not judged.
    pub balancing: Option<BalancingAnswer>,
    /// One step from the recommended set, on the fresh samples, in the order of the offers.
    pub steps: Vec<SteppedSet>,
    /// Series drawn from lots: of the set to build, and of the next one in cost. Sets whose parts share none
    /// have none, nor have those whose series are not drawn.
    pub lot_series: Vec<SeriesOfSet>,
    /// The stage at which it was interrupted, whose samples are not all there.
    pub interrupted: Option<Stage>,
}

impl Ranking {
    /// Whether it was interrupted.
    pub fn is_partial(&self) -> bool {
        self.interrupted.is_some()
    }

    /// Says of the sets on fresh samples too which of them no other one beats on the first samples.
    pub(super) fn mark_listed(&mut self) {
        let all = self.sets.iter().chain(&self.paralleled);
        let front: Vec<GradeSet> =
            all.filter(|set| set.on_front).map(|set| set.candidate.clone()).collect();
        let steps = self.steps.iter_mut().map(|step| &mut step.result);
        let listed = self.shortlist.iter_mut().chain(&mut self.paralleled_shortlist);
        listed.chain(steps).for_each(|set| set.on_front = front.contains(&set.candidate));
    }

    /// The set that the answer names, on fresh samples, or on the first ones where there are no others.
    /// [`Self::answer`] tells whether it is recommended.
    pub fn recommended(&self) -> &SetResult {
        self.last_result(&self.sets[self.best])
    }

    /// Whether the named set meets the yield target. The samples that it was picked on decide nothing.
    pub fn verdict(&self, target: f64) -> Verdict {
        if self.shortlist.is_empty() {
            return Verdict::NotDecided;
        }
        self.recommended().verdict(target)
    }

    /// The result of a set on the fresh samples, where it was evaluated on them: on a short list, or one
    /// step from the recommended set.
    pub fn fresh_result(&self, set: &SetResult) -> Option<&SetResult> {
        let listed = self.shortlist.iter().chain(&self.paralleled_shortlist);
        let stepped = self.steps.iter().map(|step| &step.result);
        listed.chain(stepped).find(|fresh| fresh.candidate == set.candidate)
    }

    /// The result of a set: on the fresh samples where it was evaluated on them.
    pub fn last_result<'a>(&'a self, set: &'a SetResult) -> &'a SetResult {
        self.fresh_result(set).unwrap_or(set)
    }

    /// Whether all sets in the chain miss the target on the first samples.
    pub fn all_miss(&self, target: f64) -> bool {
        self.sets.iter().all(|set| set.verdict(target) == Verdict::Fail)
    }

    /// The other sets in the chain whose cost compares with the recommended one's like this,
    /// cheapest first; on the fresh samples where they were tried on them.
    fn others(&self, like: impl Fn(&SetComparison) -> bool) -> Vec<&SetResult> {
        let all = self.sets.iter().map(|set| self.last_result(set));
        let mut others: Vec<_> =
            all.filter(|set| set.against.as_ref().is_some_and(&like)).collect();
        others.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
        others
    }

    /// Sets that may be as cheap as the recommended one, whatever their yield.
    pub fn ties(&self) -> Vec<&SetResult> {
        self.others(SetComparison::is_tie)
    }

    /// Sets that are cheaper over the whole interval, and were passed over because of their yield.
    pub fn passed_over(&self) -> Vec<&SetResult> {
        self.others(SetComparison::is_cheaper)
    }

    /// Number of the other sets in the chain that are dearer.
    pub fn dearer(&self) -> usize {
        self.others(SetComparison::is_dearer).len()
    }

    /// Number of the other sets in the chain whose cost has no bound to be compared by.
    pub fn not_compared(&self) -> usize {
        self.others(|against| against.cost.is_none() && !against.is_above).len()
    }

    /// The next in cost on the fresh samples, of those that meet the target there.
    pub fn runner_up(&self, target: f64) -> Option<&SetResult> {
        let others = self.shortlist.iter().filter(|set| set.against.is_some());
        let meets = others.filter(|set| set.verdict(target) == Verdict::Pass);
        meets.min_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate))
    }

    /// How much more than the recommended set another one costs.
    pub fn above_recommended(&self, set: &SetResult) -> CostDifference {
        let recommended = self.recommended().cost.estimate;
        let amount = set.cost.estimate - recommended;
        CostDifference { amount, relative: amount / recommended }
    }

    /// On the fresh samples, the best set without charge balancing: the cheapest of those with the best
    /// verdict on the target.
    pub fn without_balancing(&self) -> Option<&SetResult> {
        self.paralleled_shortlist.get(self.without_balancing?)
    }

    /// Whether charge balancing is shown to be the worse choice.
    pub fn is_better_without_balancing(&self) -> bool {
        let verdict = self.balancing.map(|answer| answer.verdict);
        verdict == Some(BalancingVerdict::NotRecommended)
    }

    /// The set to build: that without charge balancing where this is shown to be better, otherwise the
    /// one with it that the answer names. None where that set is not shown to meet the target.
    pub fn set_to_build(&self, target: f64) -> Option<&SetResult> {
        if self.is_better_without_balancing() {
            let best = self.without_balancing();
            return best.filter(|set| set.verdict(target) == Verdict::Pass);
        }
        let is_recommended = self.answer(target) == RankingAnswer::Recommended;
        is_recommended.then(|| self.recommended())
    }

    /// What to order for the set to build; none where no set is shown to meet the target.
    pub fn order(&self, scenario: &Scenario, grades: &Grades) -> Option<SeriesOrder> {
        self.order_of(scenario, grades, self.set_to_build(scenario.limits.yield_target)?)
    }

    /// The same of the next set in cost. None where that has no order, or the set to build does without charge
    /// balancing; and where bad lots count in the series of one of them alone.
    pub fn next_order(&self, scenario: &Scenario, grades: &Grades) -> Option<NextOrder<'_>> {
        let order = self.order(scenario, grades)?;
        let set = self.next_to_build(scenario.limits.yield_target)?;
        let next = self.order_of(scenario, grades, set)?;
        let leaves_out = |own: &SeriesOrder| matches!(own.lots, SeriesLots::LeftOut(_));
        (leaves_out(&order) == leaves_out(&next)).then_some(NextOrder { set, order: next })
    }

    /// The next set in cost after that to build, with charge balancing as that.
    pub(super) fn next_to_build(&self, target: f64) -> Option<&SetResult> {
        let is_plain = self.is_better_without_balancing();
        self.runner_up(target).filter(|_| !is_plain && self.set_to_build(target).is_some())
    }

    /// What to order for a set; none where its yield is too low for any number.
    pub(super) fn order_of(
        &self,
        scenario: &Scenario,
        grades: &Grades,
        set: &SetResult,
    ) -> Option<SeriesOrder> {
        let confidence = Confidence::new(scenario.limits.confidence).ok()?;
        let level = Families::new(grades, confidence).series_bound().ok()?;
        let least = lower_bound(set.good.successes, set.good.trials, level).ok()?;
        let good = BoundedYield { seen: set.good.estimate, least, confidence };
        let lots = self.series_lots(scenario, grades, set, confidence);
        SeriesOrder::new(grades, &set.candidate, self.size, good, lots)
    }

    fn series_lots(
        &self,
        scenario: &Scenario,
        grades: &Grades,
        set: &SetResult,
        confidence: Confidence,
    ) -> SeriesLots {
        if !fail_together(scenario, grades, &set.candidate) {
            return SeriesLots::Independent;
        }
        let drawn = self.lot_series.iter().find(|own| own.set == set.candidate);
        match drawn {
            Some(SeriesOfSet { series, .. }) => match series.to_build(confidence) {
                Ok(_) => SeriesLots::Drawn(series.clone()),
                Err(reason) => SeriesLots::LeftOut(reason),
            },
            None if scenario.lots.is_none() => SeriesLots::LeftOut(Undrawn::NoBatches),
            None if self.is_partial() => SeriesLots::LeftOut(Undrawn::Stopped),
            None => {
                let most = LotSeries::most(grades.quantity, set.good.estimate);
                SeriesLots::LeftOut(Undrawn::TooLong(most))
            }
        }
    }

    /// The set that leaves the answer on charge balancing open, on fresh samples where it was tried on
    /// them; none where that is decided.
    pub fn open_rival(&self) -> Option<&SetResult> {
        let OpenRival { set, .. } = self.balancing?.open?;
        let first = self.sets.iter().chain(&self.paralleled).nth(set)?;
        Some(self.last_result(first))
    }

    /// What the comparison says of the set with charge balancing that it names.
    pub fn answer(&self, target: f64) -> RankingAnswer {
        let best = self.recommended();
        if !best.cost.estimate.is_finite() {
            return RankingAnswer::NoGoodConverter;
        }
        if !best.is_judged {
            return RankingAnswer::NotJudged;
        }
        if self.shortlist.is_empty() {
            return RankingAnswer::NotVerified;
        }
        match best.verdict(target) {
            Verdict::Pass => RankingAnswer::Recommended,
            Verdict::Fail => RankingAnswer::Missed,
            Verdict::NotDecided => {
                let enough = self.fewest_samples.is_some_and(|n| n <= best.good.trials);
                if enough { RankingAnswer::NotDecided } else { RankingAnswer::TooFewSamples }
            }
        }
    }

    /// Sets in the chain that none beats in cost and yield, and the recommended one, cheapest first.
    pub fn front(&self) -> Vec<&SetResult> {
        let best = &self.sets[self.best].candidate;
        let mut front: Vec<_> =
            self.sets.iter().filter(|set| set.on_front || set.candidate == *best).collect();
        front.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
        front
    }
}
