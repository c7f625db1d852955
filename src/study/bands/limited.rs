//! What limits a band, and how many samples would decide what is still open.

use super::answer::{ArrangementBands, Bands, WidestBand};
use super::cheapest::OpenSet;
use super::map::{CellVerdict, TradeMap};
use super::more_samples::{MOST_SAMPLES, two_digits};
use super::orderable::OrderableBand;
use super::rule::VERIFICATION_FACTOR;
use crate::statistics::Verdict;
use crate::study::common::demand::Binding;
use crate::study::common::trials::Trial;

/// From so many times the confirmed band on, what more samples may show counts as limited by their number.
const MATERIAL: f64 = 1.1;

/// What keeps a band from being wider.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitedBy<'a> {
    /// The widest band that the scenario asks for.
    WidestAsked,
    /// The limit missed most often at the narrowest band that fails.
    Limit(&'a Binding),
    /// The number of samples: at the narrowest band that fails the yield seen meets the target all the
    /// same. Either one failure fails a run, or more samples may widen the band by a tenth or more.
    Samples,
}

/// What keeps a band of the set from its next step, by the interval of the yield that the search saw there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StepLimit<'a> {
    /// The scenario has no wider step.
    LastStep,
    /// Its next step is wider than the widest band asked for.
    WidestAsked,
    /// The limit missed most often one step wider: the whole interval misses the target.
    Limit(Option<&'a Binding>),
    /// The number of samples: the interval holds the target, and the yield seen meets it.
    Samples,
    /// The samples do not tell: the interval holds the target, and the yield seen misses it. What was
    /// missed most often.
    NotDecided(Option<&'a Binding>),
    /// The search saw it meet the target, but fresh samples did not confirm a wider set.
    NotConfirmed,
}

impl StepLimit<'_> {
    /// Whether more samples may decide on the next step.
    pub fn is_open(&self) -> bool {
        matches!(self, Self::Samples | Self::NotDecided(_))
    }
}

impl Bands {
    /// What limits a row; none where the search saw no limit and verification found less than the
    /// widest band allowed.
    pub fn limited_by<'a>(&self, row: &'a WidestBand) -> Option<LimitedBy<'a>> {
        let Some(failing) = row.search.failing() else {
            return row.reaches_top().then_some(LimitedBy::WidestAsked);
        };
        let Trial { good, samples, binding } = &failing.trial;
        let seen_to_meet = *good as f64 >= self.rule.target * *samples as f64;
        if seen_to_meet && (self.one_failure_fails() || self.gains_by_samples(row)) {
            return Some(LimitedBy::Samples);
        }
        binding.as_ref().map(LimitedBy::Limit)
    }

    /// What keeps a band of the set from its next step.
    pub fn step_limit<'a>(&self, band: &'a OrderableBand) -> StepLimit<'a> {
        let target = self.rule.target;
        let Some(wider) = &band.wider else {
            return if band.is_cut { StepLimit::WidestAsked } else { StepLimit::LastStep };
        };
        match wider.good.verdict(target) {
            Verdict::Pass => StepLimit::NotConfirmed,
            Verdict::Fail => StepLimit::Limit(wider.binding.as_ref()),
            Verdict::NotDecided if wider.good.estimate >= target => StepLimit::Samples,
            Verdict::NotDecided => StepLimit::NotDecided(wider.binding.as_ref()),
        }
    }

    /// Samples of a run that may decide on an open set, by its yield in the search.
    pub fn samples_for_open_set(&self, open: &OpenSet) -> Option<u64> {
        self.samples_that_may_show(open.good.as_ref()?)
    }

    /// Samples of a run that may decide on the next step of a band, where its interval holds the target:
    /// they may show that it meets it, or that it misses it. None where ten million would not.
    pub fn samples_for_step(&self, band: &OrderableBand) -> Option<u64> {
        let wider = band.wider.as_ref().filter(|_| self.step_limit(band).is_open())?;
        self.samples_that_may_show(&wider.good)
    }

    /// Whether more samples may widen a confirmed band materially.
    fn gains_by_samples(&self, row: &WidestBand) -> bool {
        let both = row.confirmed().zip(self.more_samples(row));
        both.is_some_and(|(run, more)| more.gain(run.at) >= MATERIAL)
    }

    /// Whether the samples of a run are so few that one failure fails it.
    pub fn one_failure_fails(&self) -> bool {
        let samples = self.settings.samples;
        let one = Trial { good: samples.saturating_sub(1), samples, binding: None };
        self.rule.meets(&one).is_ok_and(|meets| !meets)
    }

    /// Samples of a run that may decide all of these open rows, by the yields seen so far, rounded
    /// up to two digits; `None` where ten million would not.
    pub fn samples_to_decide(&self, open: &[&WidestBand]) -> Option<u64> {
        let target = self.rule.target;
        let enough = |row: &&WidestBand| match row.verifications.last() {
            Some(run) => Some(run.good.samples_to_decide(target)?.div_ceil(VERIFICATION_FACTOR)),
            None => row.exact.samples_to_decide(target),
        };
        let all = open.iter().map(enough).collect::<Option<Vec<_>>>()?;
        let most = all.into_iter().max().filter(|most| *most < MOST_SAMPLES)?;
        // Where the last verification run came too close, a search with more samples begins
        // farther in.
        Some(two_digits(most.max(2 * self.settings.samples)))
    }

    /// The confidence with which one statement holds.
    pub fn confidence_of_each(&self) -> f64 {
        1.0 - self.error_each()
    }
}

impl WidestBand {
    /// Share of the samples of the search that pass with the present bands.
    pub fn share_passing_at_present(&self) -> f64 {
        self.passing_at_present() as f64 / self.exact.trials as f64
    }
}

impl ArrangementBands {
    /// Whether a row stays below present bands that were shown to meet the target.
    pub fn is_below_present(&self, row: &WidestBand) -> bool {
        self.verdict == Verdict::Pass && row.margin().is_some_and(|margin| margin < 1.0)
    }
}

impl TradeMap {
    /// Number of grid points of which the samples say this.
    pub fn count(&self, verdict: CellVerdict) -> usize {
        self.cells.iter().filter(|cell| cell.verdict == verdict).count()
    }
}
