//! The search for a set of bands that can be ordered.
//!
//! The rule is fixed in advance, and all of it happens on the samples of the search:
//!
//! 1. Start: the present bands, each at the widest step that is no wider, if that set meets the target, or
//!    if fresh samples showed that the present bands do. Else the present bands times the common factor
//!    found, in the same way, or the narrowest steps. If those do not meet the target, no set of steps
//!    does, because wider bands do no better.
//! 2. Every band is tried one step wider, by itself. It may grow if the set still meets the target, or if
//!    no more samples fail than with the start. Of those that may, the one with the fewest failing samples
//!    grows. All trials draw the same samples, so that their failures differ by the bands alone. Of equals
//!    the one grows that then is the smallest share of the widest band which its part may have alone.
//! 3. That repeats until no single band may grow.
//!
//! Since wider bands do no better, failures seen with narrower bands are a lower bound. A band whose
//! bound is no better than the best one tried needs no trial. The last round trusts no bound.
//!
//! The set is then verified on fresh samples, in [`VERIFICATIONS`] runs at most, which share the permitted
//! error (Bonferroni). After a run that misses, the next one takes the last set before it, on the way from
//! the start, of which at most half as many samples of the search failed. Beyond the start all bands
//! shrink, a step at a time.

use std::cmp::Ordering;

use super::orderable::{
    OrderEnding, OrderableBand, OrderableSet, PartSteps, SetOfSteps, WiderStep,
};
use super::rule::VERIFICATIONS;
use super::trials::Trials;
use super::verification::Verification;
use crate::converter::Parameter;
use crate::scenario::{Tolerance, Tolerances};
use crate::statistics::Verdict;
use crate::study::common::error::StudyError;

/// How wide a band may be while all others stay, as the search saw it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WidestAlone {
    /// The part.
    pub parameter: Parameter,
    /// The widest band that meets the target; none where nothing stops it.
    pub band: Option<f64>,
}

/// What a set of steps is asked of.
#[derive(Debug, Clone, Copy)]
pub struct StepQuestion<'a> {
    /// The present bands.
    pub present: &'a Tolerances,
    /// Whether fresh samples showed that they meet the target.
    pub present_passes: bool,
    /// Half widths that can be ordered, rising. Of an unequal band the end farther from the nominal value
    /// is a step, and the other one stays in proportion.
    pub steps: &'a [f64],
    /// The widest band asked for.
    pub widest: f64,
    /// The common factor of all bands that the search found, if it found one.
    pub factor: Option<f64>,
    /// How wide each band alone may be; a part that is not there is stopped by nothing.
    pub alone: &'a [WidestAlone],
    /// Its number, which tells its fresh samples from those of other questions.
    pub number: u64,
}

impl StepQuestion<'_> {
    /// The steps of all parts that can be ordered: measured ones stay as they are.
    fn parts(&self) -> Vec<PartSteps> {
        let part = |(parameter, own): (Parameter, &Tolerance)| {
            let most = own.widest_band(self.widest) * (1.0 + 1e-9);
            let all = self.steps.iter().filter_map(|step| own.band_reaching(*step));
            let (steps, beyond): (Vec<f64>, Vec<f64>) = all.partition(|band| *band <= most);
            PartSteps { parameter, is_cut: !beyond.is_empty(), steps }
        };
        self.present.iter().filter(|(_, own)| !own.is_measured()).map(part).collect()
    }

    /// What share a band is of the widest one that its part may have alone; 0 where nothing stops it.
    fn share_of_alone(&self, parameter: Parameter, band: f64) -> f64 {
        let alone = self.alone.iter().find(|alone| alone.parameter == parameter);
        let share = |widest: f64| if widest > 0.0 { band / widest } else { f64::INFINITY };
        alone.and_then(|alone| alone.band).map_or(0.0, share)
    }
}

/// Searches and verifies a set of steps.
///
/// # Errors
///
/// Those of the trials.
pub fn orderable_set(
    question: &StepQuestion,
    trials: &mut Trials,
) -> Result<OrderableSet, StudyError> {
    let parts = question.parts();
    let first = trials.asked();
    let empty = |ending| OrderableSet {
        parts: parts.clone(),
        ending,
        set: None,
        bands: Vec::new(),
        verifications: Vec::new(),
        trials: 0,
    };
    if parts.iter().any(|part| part.steps.is_empty()) {
        return Ok(empty(OrderEnding::NoStep));
    }
    let mut search = StepSearch { question, parts: &parts, trials, permitted: 0 };
    let found = match search.start()? {
        Start::Misses(narrowest) => {
            let trials = search.trials.asked() - first;
            let set = Some(narrowest);
            return Ok(OrderableSet { set, trials, ..empty(OrderEnding::NoneMeets) });
        }
        Start::Meets(start) => search.grown_and_verified(start)?,
    };
    let bands = search.with_next_steps(&found.set)?;
    let trials = search.trials.asked() - first;
    let VerifiedSet { set, ending, verifications } = found;
    Ok(OrderableSet { set: Some(set), bands, verifications, trials, ..empty(ending) })
}

/// What the start comes to.
enum Start {
    /// A set that meets the target on the samples of the search.
    Meets(SetOfSteps),
    /// The narrowest set, which does not.
    Misses(SetOfSteps),
}

/// A band that may grow.
struct Candidate {
    /// Its place among the parts.
    part: usize,
    /// What share its next step is of the widest band of its part alone.
    share: f64,
    /// Failures seen one step wider, with bands of the others that were no wider than now.
    failures: u64,
    /// Whether one step more was seen not to meet the target.
    is_stopped: bool,
}

impl Candidate {
    /// What grows first is less.
    fn order(&self, other: &Self) -> Ordering {
        let failures = self.failures.cmp(&other.failures);
        let share = || self.share.total_cmp(&other.share);
        failures.then_with(share).then_with(|| self.part.cmp(&other.part))
    }
}

struct StepSearch<'a, 'b> {
    question: &'a StepQuestion<'a>,
    parts: &'a [PartSteps],
    trials: &'a mut Trials<'b>,
    /// Failures of the start: with no more a set may grow, whatever its interval says.
    permitted: u64,
}

impl StepSearch<'_, '_> {
    /// Tries a set on the samples of the search.
    fn tried(&mut self, places: Vec<usize>) -> Result<SetOfSteps, StudyError> {
        let with_step = |all: Tolerances, (part, place): (&PartSteps, &usize)| {
            all.with_band(part.parameter, part.steps[*place])
        };
        let present = self.question.present.clone();
        let tolerances = self.parts.iter().zip(&places).fold(present, with_step);
        let trial = self.trials.on_search_samples(&tolerances)?;
        let good = self.trials.rule.interval(&trial)?;
        Ok(SetOfSteps { places, tolerances, trial, good })
    }

    fn meets(&self, set: &SetOfSteps) -> bool {
        set.good.verdict(self.trials.rule.target) == Verdict::Pass
    }

    /// The present bands times a factor, each at the widest step that is no wider, or at its first one.
    fn stepped_down(&self, factor: f64) -> Vec<usize> {
        let place = |part: &PartSteps| {
            let present = self.question.present.get(part.parameter).map_or(0.0, |own| own.band);
            let most = factor * present * (1.0 + 1e-9);
            part.steps.partition_point(|step| *step <= most).saturating_sub(1)
        };
        self.parts.iter().map(place).collect()
    }

    /// The set to grow from.
    fn start(&mut self) -> Result<Start, StudyError> {
        let from_present = self.tried(self.stepped_down(1.0))?;
        let is_no_wider = |own: &SetOfSteps| {
            let band = |p| own.tolerances.get(p).map_or(0.0, |own| own.band);
            self.question.present.iter().all(|(p, present)| band(p) <= present.band * (1.0 + 1e-9))
        };
        let passes = self.question.present_passes && is_no_wider(&from_present);
        if passes || self.meets(&from_present) {
            return Ok(Start::Meets(from_present));
        }
        if let Some(factor) = self.question.factor {
            let set = self.tried(self.stepped_down(factor))?;
            if self.meets(&set) {
                return Ok(Start::Meets(set));
            }
        }
        let narrowest = self.tried(vec![0; self.parts.len()])?;
        let meets = self.meets(&narrowest);
        Ok(if meets { Start::Meets(narrowest) } else { Start::Misses(narrowest) })
    }

    /// All sets from the start to one of which no band can grow.
    fn grown(&mut self, start: &SetOfSteps) -> Result<Vec<SetOfSteps>, StudyError> {
        let failures = start.failures();
        let candidate = |part| Candidate { part, share: 0.0, failures, is_stopped: false };
        let mut candidates: Vec<Candidate> = (0..self.parts.len()).map(candidate).collect();
        let mut way = Vec::new();
        while let Some(wider) = self.widened(way.last().unwrap_or(start), &mut candidates)? {
            way.push(wider);
        }
        Ok(way)
    }

    /// The set with one band a step wider; none where no band can grow.
    fn widened(
        &mut self,
        set: &SetOfSteps,
        candidates: &mut [Candidate],
    ) -> Result<Option<SetOfSteps>, StudyError> {
        let found = self.least_harmful(set, candidates)?;
        if found.is_some() {
            return Ok(found);
        }
        // What was stopped with narrower bands is tried once more.
        for candidate in candidates.iter_mut() {
            candidate.is_stopped = false;
        }
        self.least_harmful(set, candidates)
    }

    /// Of all bands that may grow the one with the fewest failures one step wider.
    fn least_harmful(
        &mut self,
        set: &SetOfSteps,
        candidates: &mut [Candidate],
    ) -> Result<Option<SetOfSteps>, StudyError> {
        let question = self.question;
        let next = |candidate: &Candidate| {
            let part = &self.parts[candidate.part];
            part.steps.get(set.places[candidate.part] + 1).map(|step| (part.parameter, *step))
        };
        for candidate in candidates.iter_mut() {
            let share = next(candidate).map(|(p, step)| question.share_of_alone(p, step));
            candidate.share = share.unwrap_or(f64::INFINITY);
        }
        candidates.sort_by(Candidate::order);
        let mut best: Option<(&Candidate, SetOfSteps)> = None;
        for candidate in candidates {
            let may_grow = next(candidate).is_some() && !candidate.is_stopped;
            if best.as_ref().is_some_and(|(least, _)| least.order(candidate).is_le()) {
                break;
            }
            if !may_grow {
                continue;
            }
            let mut places = set.places.clone();
            places[candidate.part] += 1;
            let wider = self.tried(places)?;
            candidate.failures = wider.failures();
            candidate.is_stopped = !self.meets(&wider) && wider.failures() > self.permitted;
            let is_less = |(least, _): &(&Candidate, _)| candidate.order(least).is_lt();
            if !candidate.is_stopped && best.as_ref().is_none_or(is_less) {
                best = Some((candidate, wider));
            }
        }
        Ok(best.map(|(_, wider)| wider))
    }

    /// Grows a set, and verifies it or a narrower one. Gives all runs: the last one meets the target, or
    /// none does.
    fn grown_and_verified(&mut self, start: SetOfSteps) -> Result<VerifiedSet, StudyError> {
        self.permitted = start.failures();
        let mut way = self.grown(&start)?;
        let mut set = way.pop().unwrap_or_else(|| start.clone());
        way.insert(0, start);
        let mut verifications = Vec::new();
        loop {
            let source = self.trials.fresh(self.question.number, verifications.len());
            let run = Verification::run(1.0, &set.tolerances, source, self.trials)?;
            let meets = run.meets;
            verifications.push(run);
            if meets {
                return Ok(VerifiedSet { set, ending: OrderEnding::Confirmed, verifications });
            }
            let is_last = verifications.len() == VERIFICATIONS;
            let next = if is_last { None } else { self.narrower(&mut way, &set)? };
            let Some(next) = next else {
                return Ok(VerifiedSet { set, ending: OrderEnding::NotConfirmed, verifications });
            };
            set = next;
        }
    }

    /// The next set to verify after one that missed: at most half as many of its samples fail.
    fn narrower(
        &mut self,
        way: &mut Vec<SetOfSteps>,
        set: &SetOfSteps,
    ) -> Result<Option<SetOfSteps>, StudyError> {
        let most = set.failures() / 2;
        let mut places = set.places.clone();
        while let Some(before) = way.pop() {
            // Of a set without failures a band less tells nothing: all of them shrink.
            if set.failures() > 0 && before.failures() <= most {
                return Ok(Some(before));
            }
            places = before.places;
        }
        while places.iter().any(|place| *place > 0) {
            for place in &mut places {
                *place = place.saturating_sub(1);
            }
            let next = self.tried(places.clone())?;
            if next.failures() <= most {
                return Ok(Some(next));
            }
        }
        Ok(None)
    }

    /// The bands of a set, with what a step more does to each.
    fn with_next_steps(&mut self, set: &SetOfSteps) -> Result<Vec<OrderableBand>, StudyError> {
        let mut bands = Vec::new();
        for (n, part) in self.parts.iter().enumerate() {
            let mut places = set.places.clone();
            places[n] += 1;
            let wider = match part.steps.get(places[n]) {
                None => None,
                Some(band) => {
                    let SetOfSteps { good, trial, .. } = self.tried(places)?;
                    Some(WiderStep { band: *band, good, binding: trial.binding })
                }
            };
            let (parameter, band) = (part.parameter, part.steps[set.places[n]]);
            bands.push(OrderableBand { parameter, band, wider, is_cut: part.is_cut });
        }
        Ok(bands)
    }
}

/// A set with its verification runs.
struct VerifiedSet {
    set: SetOfSteps,
    ending: OrderEnding,
    verifications: Vec<Verification>,
}
