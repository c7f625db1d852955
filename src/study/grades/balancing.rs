//! Whether charge balancing is worth its flying capacitors: the chain against the paralleled
//! converter, each with all of its sets of grades.
//!
//! A set is better than another one if it meets the yield target and the other one does not, or if
//! both do, or both do not, and it costs less per good converter. So set s is better than set p if any
//! two of three hold: s meets the target, p misses it, p costs more than s. An arrangement is named if
//! one of its sets on the short list is shown to be better than every set of the other arrangement.
//!
//! **Level.** The named arrangement is not the better one with a probability of at most
//! 1 − confidence. *Proof.* Let p be the truly best set of the other arrangement; it does not depend on
//! the samples. The answer is wrong only if a listed set s was shown to be better than p and is not.
//! Then one of these bounds errs: the lower bound of the yield of s on the fresh samples, the upper
//! bound of the yield of p on the first or on the fresh ones, the bounds of how often only one of s
//! and p passes. There are at most L sets s, as many as a short list comes to hold. Every bound is an
//! exact one-sided bound (Clopper and Pearson 1934). Those of p err with a probability of ε each, those
//! that belong to s, or to s and p, with ε/L. The sum is 5 ε. Either arrangement may be named, so that
//! ε is a tenth of 1 − confidence. ∎
//!
//! The number of rivals does not matter, as p is one set. That *every* other set costs more is wrong
//! only if the truly cheapest one does not: the same proof.

use super::cost::CostModel;
use super::result::{
    BalancingAnswer, BalancingReason, BalancingVerdict, OpenReason, OpenRival, SetResult,
};
use crate::converter::Arrangement;
use crate::statistics::{
    Confidence, PairedCounts, StatisticsError, Yield, lower_bound, upper_bound,
};

/// What is shown of a candidate and a rival; two of three make the candidate the better one.
struct ShownFacts {
    /// The candidate meets the target.
    meets: bool,
    /// The rival misses it.
    misses: bool,
    /// The rival costs more.
    costs_more: bool,
}

/// Bounds of one answer that may err: five for either arrangement.
const BOUNDS: f64 = 10.0;
/// Intervals of the yield in which costs are compared.
const PIECES: u32 = 1000;

/// The evidence: all sets on the first samples, and the short lists of both arrangements on the fresh
/// ones.
pub(super) struct BalancingEvidence<'a> {
    /// All sets on the first samples.
    pub first: &'a [SetResult],
    /// The short lists on the fresh samples.
    pub fresh: &'a [SetResult],
    /// How often two sets of the short lists pass together, by their indices.
    pub counts: &'a dyn Fn(usize, usize) -> PairedCounts,
    /// The yield target.
    pub target: f64,
    /// The permitted error of the answer.
    pub error: f64,
    /// Sets that the short list of an arrangement comes to hold at most.
    pub listed: &'a dyn Fn(Arrangement) -> usize,
}

/// A set of the arrangement that may be named.
struct Candidate<'a> {
    index: usize,
    model: &'a CostModel,
    /// Its yield is at least this.
    least: f64,
}

/// A set of the other arrangement.
struct Rival<'a> {
    /// Where it is among all sets.
    set: usize,
    /// Where it is on its short list.
    index: Option<usize>,
    model: &'a CostModel,
    /// Its yield is at most this.
    most: f64,
}

impl BalancingEvidence<'_> {
    /// The answer.
    ///
    /// # Errors
    ///
    /// When the confidence level is not one that statistics can take.
    pub(super) fn answer(&self) -> Result<BalancingAnswer, StatisticsError> {
        let chain = self.reason_for(Arrangement::Chain)?;
        let paralleled = self.reason_for(Arrangement::Paralleled)?;
        let (verdict, reason) = match (chain, paralleled) {
            (Some(reason), None) => (BalancingVerdict::Recommended, Some(reason)),
            (None, Some(reason)) => (BalancingVerdict::NotRecommended, Some(reason)),
            _ => (BalancingVerdict::NotDecided, None),
        };
        let open = match verdict {
            BalancingVerdict::NotDecided => self.open_rival()?,
            _ => None,
        };
        Ok(BalancingAnswer { verdict, reason, open })
    }

    /// The best set of the other arrangement that the best of all is not shown to be better than.
    fn open_rival(&self) -> Result<Option<OpenRival>, StatisticsError> {
        let verdict = |set: &SetResult| set.verdict(self.target);
        let by_preference = |a: &SetResult, b: &SetResult| {
            let cost = a.cost.estimate.total_cmp(&b.cost.estimate);
            verdict(a).cmp(&verdict(b)).then(cost)
        };
        let best = self.fresh.iter().enumerate().min_by(|(_, a), (_, b)| by_preference(a, b));
        let Some((best, set)) = best else { return Ok(None) };
        let named = set.candidate.arrangement;
        let level = self.listed_level(named)?;
        let candidates = self.candidates(named, level)?;
        let Some(candidate) = candidates.iter().find(|candidate| candidate.index == best) else {
            return Ok(None);
        };
        let mut open = None;
        for rival in self.rivals(named, self.level()?)? {
            let facts = self.facts(candidate, &rival, level)?;
            let result = rival.index.map_or(&self.first[rival.set], |index| &self.fresh[index]);
            let is_first =
                |(other, _): &(&SetResult, OpenRival)| by_preference(result, other).is_lt();
            if !facts.make_better() && open.as_ref().is_none_or(is_first) {
                open = Some((result, OpenRival { set: rival.set, reason: facts.open_reason() }));
            }
        }
        Ok(open.map(|(_, rival)| rival))
    }

    /// The level of the bounds of a rival.
    fn level(&self) -> Result<Confidence, StatisticsError> {
        Confidence::new(1.0 - self.error / BOUNDS)
    }

    /// The level of the bounds that belong to one of the listed sets of the named arrangement.
    fn listed_level(&self, named: Arrangement) -> Result<Confidence, StatisticsError> {
        let shared = (self.listed)(named).max(1) as f64;
        Confidence::new(1.0 - self.error / (BOUNDS * shared))
    }

    /// Why an arrangement is shown to be the better one; none where it is not. Sets that are shown to meet the
    /// target speak first: the cost of one that does not is no reason to choose another one.
    fn reason_for(&self, named: Arrangement) -> Result<Option<BalancingReason>, StatisticsError> {
        let listed_level = self.listed_level(named)?;
        let rivals = self.rivals(named, self.level()?)?;
        let mut best = None;
        for candidate in self.candidates(named, listed_level)? {
            let reason = self.reason_of(&candidate, &rivals, listed_level)?;
            let is_met = candidate.least >= self.target;
            let rank = |reason: BalancingReason| (is_met, reason == BalancingReason::Cost);
            best = best.max(reason.map(rank));
        }
        Ok(best.map(
            |(_, by_cost)| {
                if by_cost { BalancingReason::Cost } else { BalancingReason::Target }
            },
        ))
    }

    fn candidates(
        &self,
        named: Arrangement,
        level: Confidence,
    ) -> Result<Vec<Candidate<'_>>, StatisticsError> {
        let listed = self.fresh.iter().enumerate();
        let listed = listed.filter(|(_, set)| set.candidate.arrangement == named);
        let candidate = |(index, set): (usize, &'_ SetResult)| {
            let least = lower_bound(set.good.successes, set.good.trials, level)?;
            Ok(Candidate { index, model: &self.fresh[index].model, least })
        };
        listed.map(candidate).collect()
    }

    fn rivals(
        &self,
        named: Arrangement,
        level: Confidence,
    ) -> Result<Vec<Rival<'_>>, StatisticsError> {
        let most = |good: &Yield| upper_bound(good.successes, good.trials, level);
        let others = self.first.iter().enumerate();
        let others = others.filter(|(_, set)| set.candidate.arrangement != named);
        let rival = |(set, result)| {
            let SetResult { candidate, model, good, .. }: &SetResult = result;
            let index = self.fresh.iter().position(|fresh| fresh.candidate == *candidate);
            let most = match index {
                Some(index) => most(good)?.min(most(&self.fresh[index].good)?),
                None => most(good)?,
            };
            Ok(Rival { set, index, model, most })
        };
        others.map(rival).collect()
    }

    /// Why a set is shown to be better than all rivals; none where it is not.
    fn reason_of(
        &self,
        candidate: &Candidate,
        rivals: &[Rival],
        level: Confidence,
    ) -> Result<Option<BalancingReason>, StatisticsError> {
        let mut reason = BalancingReason::Cost;
        for rival in rivals {
            let facts = self.facts(candidate, rival, level)?;
            if !facts.make_better() {
                return Ok(None);
            }
            if !facts.costs_more {
                reason = BalancingReason::Target;
            }
        }
        Ok(Some(reason))
    }

    /// What is shown of a candidate and a rival.
    fn facts(
        &self,
        candidate: &Candidate,
        rival: &Rival,
        level: Confidence,
    ) -> Result<ShownFacts, StatisticsError> {
        Ok(ShownFacts {
            meets: candidate.least >= self.target,
            misses: rival.most < self.target,
            costs_more: self.costs_more(rival, candidate, level)?,
        })
    }

    /// Whether a rival is shown to cost more than a candidate.
    fn costs_more(
        &self,
        rival: &Rival,
        candidate: &Candidate,
        level: Confidence,
    ) -> Result<bool, StatisticsError> {
        let ahead = match rival.index {
            Some(index) => {
                let counts = (self.counts)(candidate.index, index);
                let trials = counts.trials();
                lower_bound(counts.first, trials, level)?
                    - upper_bound(counts.second, trials, level)?
            }
            None => -1.0,
        };
        Ok(costs_more(rival, candidate, ahead))
    }
}

impl ShownFacts {
    /// Whether they make the candidate the better one.
    fn make_better(&self) -> bool {
        let shown = [self.meets, self.misses, self.costs_more];
        shown.iter().filter(|shown| **shown).count() >= 2
    }

    /// Why they do not; at most one of them holds.
    fn open_reason(&self) -> OpenReason {
        match self {
            Self { costs_more: true, .. } => OpenReason::MayMeet,
            Self { misses: true, .. } => OpenReason::MayCostLess,
            _ => OpenReason::MayMeetAndCostLess,
        }
    }
}

/// Whether the rival costs more at all yields within the bounds: it yields `most` at most, the
/// candidate `least` at least, and the candidate's yield is `ahead` of the rival's at least.
///
/// Costs fall as yields rise. So in any interval of the rival's yield its upper end makes the rival
/// cheapest, and its lower end the candidate dearest.
fn costs_more(rival: &Rival, candidate: &Candidate, ahead: f64) -> bool {
    let least = |of_rival: f64| candidate.least.max(of_rival + ahead).min(1.0);
    let exceeds =
        |from: f64, to: f64| rival.model.per_good(to) > candidate.model.per_good(least(from));
    // Below this yield of the rival, the candidate's own bound is the higher one.
    let start = (candidate.least - ahead).clamp(0.0, rival.most);
    let width = (rival.most - start) / f64::from(PIECES);
    let end = |piece: u32| start + f64::from(piece) * width;
    exceeds(0.0, start) && (0..PIECES).all(|piece| exceeds(end(piece), end(piece + 1)))
}
