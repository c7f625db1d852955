//! The answer: what was found, question by question.

use super::cheapest::Cheapest;
use super::critical::CriticalComparison;
use super::line_search::{BandSearch, TriedBand};
use super::map::{ExcludedPair, TradeMap};
use super::orderable::OrderableSet;
use super::other_assumptions::OtherAssumptions;
use super::rule::Rule;
use super::verification::{Verification, confirmed, rounded_down};
use crate::converter::{Arrangement, Drive, Parameter};
use crate::scenario::{Tolerance, Tolerances};
use crate::statistics::{Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::SharingShift;

/// Whose bands are varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// All bands, by one factor.
    Together,
    /// One band; the others are as in the scenario.
    Alone(Parameter),
}

/// Bands by a common factor: rounded down to three digits, so that they can be written down, but no
/// narrower than the present ones from a factor of 1 on; no wider than `widest` or the present band.
/// Measured parts stay as they are.
#[must_use]
pub fn scaled(present: &Tolerances, widest: f64, factor: f64) -> Tolerances {
    let bought = present.iter().filter(|(_, own)| !own.is_measured());
    bought.fold(present.clone(), |all, (parameter, own)| {
        let band = rounded_down(factor * own.band).min(own.widest_band(widest));
        all.with_band(parameter, if factor < 1.0 { band } else { band.max(own.band) })
    })
}

/// What the search and the verification runs of a row come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BandOutcome {
    /// Even a band of zero misses the target, by the upper end of the interval.
    NoneMeets,
    /// The samples do not tell: no verification run confirms the place found, or, without one, not even a band
    /// of zero was seen to meet the target, or to miss it.
    Open(Option<f64>),
    /// Nothing wider was allowed.
    AllMeet(f64),
    /// A fresh seed confirms this place.
    Confirmed(f64),
}

/// The widest band of a subject.
#[derive(Debug, Clone, PartialEq)]
pub struct WidestBand {
    /// Whose bands are varied.
    pub subject: Subject,
    /// The present band, of the nominal value; 1 for the factor of all together.
    pub present: f64,
    /// What the search found; its places are bands, or factors.
    pub search: BandSearch,
    /// The yield where this part is exact, or all parts are, on the seed of the search.
    pub exact: Yield,
    /// Whether that misses the target, by the upper end of the interval at the shared level.
    pub misses: bool,
    /// Runs on fresh seeds at what was found; none where nothing was.
    pub verifications: Vec<Verification>,
}

impl WidestBand {
    /// What the search and the verification runs come to.
    pub fn outcome(&self) -> BandOutcome {
        match (self.search.widest(), self.confirmed()) {
            (None, _) if self.misses => BandOutcome::NoneMeets,
            (found, None) => BandOutcome::Open(found.map(|point| point.at)),
            (_, Some(verification)) if self.reaches_top() => BandOutcome::AllMeet(verification.at),
            (_, Some(verification)) => BandOutcome::Confirmed(verification.at),
        }
    }

    /// The narrowest place at which a verification run saw less than the target.
    pub fn refuted(&self, target: f64) -> Option<&Verification> {
        let below = self.verifications.iter().filter(|run| run.good.estimate < target);
        below.reduce(|a, b| if b.at < a.at { b } else { a })
    }

    /// Whether the widest place allowed is confirmed, and nothing narrower failed.
    pub fn reaches_top(&self) -> bool {
        let top = rounded_down(self.search.top);
        self.search.failing().is_none() && self.confirmed().is_some_and(|run| run.at >= top)
    }

    /// The widest place that a fresh seed confirms.
    pub fn confirmed(&self) -> Option<&Verification> {
        confirmed(&self.verifications)
    }

    /// The part whose band is varied alone; none of all together, nor of a band of zero.
    pub fn varied_band(&self) -> Option<Parameter> {
        match self.subject {
            Subject::Alone(parameter) if self.present > 0.0 => Some(parameter),
            _ => None,
        }
    }

    /// What the confirmed place is of the present one; none without either.
    pub fn margin(&self) -> Option<f64> {
        self.confirmed()
            .filter(|_| self.present > 0.0)
            .map(|verification| verification.at / self.present)
    }

    /// What the place found by the search is of the present one, 0 where it found none. Rows are
    /// compared by it, because all searches draw the same samples, and verification runs do not.
    pub fn room(&self) -> f64 {
        let found = self.search.widest().filter(|_| self.present > 0.0);
        found.map_or(0.0, |point| point.at / self.present)
    }

    /// Whether the search saw anything that stops wider bands.
    pub fn is_stopped(&self) -> bool {
        self.search.failing().is_some()
    }

    /// Samples of the search that pass with the present bands.
    pub fn passing_at_present(&self) -> u64 {
        let at = |point: &&TriedBand| point.at.total_cmp(&self.present).is_eq();
        self.search.points.iter().find(at).map_or(0, |point| point.trial.good)
    }

    /// The limit that stops wider bands: the one missed most often at the narrowest that fails.
    pub fn binding(&self) -> Option<&Binding> {
        self.search.failing().and_then(|point: &TriedBand| point.trial.binding.as_ref())
    }
}

/// The answers for an arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrangementBands {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The present bands on a fresh seed.
    pub present: Verification,
    /// What that says about the target.
    pub verdict: Verdict,
    /// Whether the arrangement has a limit. Else it is good wherever it delivers the output, and no verdict.
    pub is_judged: bool,
    /// All together first, then each band alone.
    pub rows: Vec<WidestBand>,
    /// Whether there is a row for every band, and they were compared if they could be.
    pub complete: bool,
    /// The most critical part on fresh samples; none where there is nothing to compare.
    pub comparison: Option<CriticalComparison>,
}

impl ArrangementBands {
    /// The verdict to be told; not decided where there is none.
    pub fn told_verdict(&self) -> Verdict {
        if self.is_judged { self.verdict } else { Verdict::NotDecided }
    }

    /// The answer for a subject.
    pub fn row(&self, subject: Subject) -> Option<&WidestBand> {
        self.rows.iter().find(|row| row.subject == subject)
    }

    /// Bands varied alone that are not zero and that something stops.
    fn stopped(&self) -> impl Iterator<Item = &WidestBand> {
        let alone = self.rows.iter().filter(|row| row.varied_band().is_some());
        alone.filter(|row| row.is_stopped())
    }

    /// Whether present bands pass, and the search saw each of them to have room: only then does the
    /// room say which part matters most. Below that the widest band of a part that hardly matters
    /// shrinks most.
    pub fn has_room(&self) -> bool {
        self.verdict == Verdict::Pass && self.stopped().all(|row| row.room() >= 1.0)
    }

    /// By the estimates of the search, the part with the least room, if each has some; else the one
    /// that gains most yield when it is exact. None where nothing stops any band, or where rows are
    /// missing. Whether it is the most critical part indeed is for [`Self::comparison`] to tell.
    pub fn critical(&self) -> Option<&WidestBand> {
        let stopped = self.stopped().filter(|_| self.complete);
        let by_room = |a: &&WidestBand, b: &&WidestBand| a.room().total_cmp(&b.room());
        if self.has_room() {
            return stopped.min_by(by_room);
        }
        let gain = |row: &WidestBand| row.exact.successes;
        stopped.max_by(|a, b| gain(a).cmp(&gain(b)).then_with(|| by_room(b, a)))
    }

    /// Whether no common factor helps: all parts exact were not seen to meet the target.
    pub fn is_hopeless(&self) -> bool {
        self.row(Subject::Together).is_some_and(|row| row.search.widest().is_none())
    }
}

/// Where a whole set of bands comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ProposalSource {
    /// The cheapest that can be bought.
    Cheapest,
    /// Steps that can be ordered.
    Steps,
    /// The present bands, all times this factor.
    Factor(f64),
    /// The only band that the scenario has.
    Only(Parameter),
}

/// A whole set of bands that fresh samples confirm.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal<'a> {
    /// Where it comes from.
    pub source: ProposalSource,
    /// The bands.
    pub tolerances: Tolerances,
    /// The run that confirms them.
    pub verification: &'a Verification,
}

/// The set of steps that can be ordered, if fresh samples confirm it.
fn steps(found: &OrderableSet) -> Option<Proposal<'_>> {
    let (verification, set) = (found.confirmed()?, found.set.as_ref()?);
    let tolerances = set.tolerances.clone();
    Some(Proposal { source: ProposalSource::Steps, tolerances, verification })
}

/// A question on the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BandsStep {
    /// The yield of the present bands.
    Present(Arrangement),
    /// The widest bands of a subject.
    Widest(Arrangement, Subject),
    /// The cheapest set of the chain.
    Cheapest,
    /// The set of bands of the chain that can be ordered.
    Orderable,
    /// Which band of an arrangement is the most critical one.
    Critical(Arrangement),
    /// The trade between two bands of the chain.
    Trade,
    /// The recommended set under other assumptions.
    Assumptions,
}

/// What was found.
#[derive(Debug)]
pub struct Bands {
    /// How it was carried out; the seed is that of the search.
    pub settings: Settings,
    /// When bands meet the target.
    pub rule: Rule,
    /// Drives of the operating points.
    pub drives: Vec<Drive>,
    /// By how much the dead time shifts sharing at most, which yields leave out; none where that is small.
    pub sharing_shift: Option<SharingShift>,
    /// The bands that all but the cheapest set start from: the scenario's, or the set on offer.
    pub present: Tolerances,
    /// Whether parts on offer have no tolerance in the scenario, so that `present` is the cheapest
    /// set on offer that was confirmed; where none was, nothing else is asked.
    pub on_offer: bool,
    /// The arrangements that have a limit. Without one every band of the chain would do, and none is proposed.
    pub judged: Vec<Arrangement>,
    /// Whether parts have prices: then only what is on offer is proposed.
    pub priced: bool,
    /// The widest band worth asking for.
    pub widest: f64,
    /// The chain, then the paralleled reference.
    pub parts: Vec<ArrangementBands>,
    /// The cheapest set, if the scenario has prices.
    pub cheapest: Option<Cheapest>,
    /// The set of bands that can be ordered, if the scenario has no prices.
    pub orderable: Option<OrderableSet>,
    /// The trade, if two bands or more are given and some pair of them may meet the target.
    pub map: Option<TradeMap>,
    /// The two bands to be traded, where no pair of them meets the target.
    pub excluded_pair: Option<ExcludedPair>,
    /// The recommended set under other assumptions; none where none is recommended, where nothing scatters,
    /// where the samples are too few, or where it was not asked for.
    pub other_assumptions: Option<OtherAssumptions>,
    /// Whether other assumptions were asked for.
    pub is_explained: bool,
    /// Number of trials made with as many samples as the search.
    pub trials: u64,
    /// Number of verification runs, with
    /// [`VERIFICATION_FACTOR`](super::rule::VERIFICATION_FACTOR) times the samples.
    pub verifications: u64,
    /// What was left to do when the user asked to stop.
    pub unfinished: Vec<BandsStep>,
}

impl Bands {
    /// The answers for an arrangement, as far as they go.
    pub fn part(&self, arrangement: Arrangement) -> Option<&ArrangementBands> {
        self.parts.iter().find(|part| part.arrangement == arrangement)
    }

    /// The whole set of bands for the chain that is proposed, confirmed by fresh samples: where parts
    /// have prices the cheapest on offer, else the steps that can be ordered. Where no such set is
    /// confirmed, all present bands times their common factor, or the only band there is: nobody may sell
    /// those. A factor is none that would shrink bands which pass as they are, or that takes all parts as
    /// exact.
    pub fn proposal(&self) -> Option<Proposal<'_>> {
        if !self.is_judged() {
            return None;
        }
        if self.priced {
            let found = self.cheapest.as_ref()?;
            let (verification, choice) = (found.confirmed()?, found.choice.as_ref()?);
            return Some(Proposal {
                source: ProposalSource::Cheapest,
                tolerances: choice.tolerances.clone(),
                verification,
            });
        }
        if let Some(proposal) = self.orderable.as_ref().and_then(steps) {
            return Some(proposal);
        }
        let part = self.part(Arrangement::Chain)?;
        let Some(row) = part.row(Subject::Together) else { return self.only(part) };
        let verification = row.confirmed().filter(|verification| verification.at > 0.0)?;
        let helps = verification.at >= 1.0 || part.verdict != Verdict::Pass;
        let (source, tolerances) =
            (ProposalSource::Factor(verification.at), self.scaled(verification.at));
        helps.then_some(Proposal { source, tolerances, verification })
    }

    /// Whether the chain has a limit.
    pub fn is_judged(&self) -> bool {
        self.judged.contains(&Arrangement::Chain)
    }

    /// Whether the user asked to stop before the search for a whole set of bands of the chain was done.
    pub fn has_not_searched(&self) -> bool {
        let together = BandsStep::Widest(Arrangement::Chain, Subject::Together);
        self.unfinished.iter().any(|step| match step {
            BandsStep::Cheapest | BandsStep::Orderable => true,
            other => *other == together,
        })
    }

    /// The set of bands that is recommended: the proposed one, else the present bands if they pass.
    pub fn recommended(&self) -> Option<Tolerances> {
        let passes = |part: &&ArrangementBands| part.told_verdict() == Verdict::Pass;
        let present = || self.part(Arrangement::Chain).filter(passes).map(|_| self.present.clone());
        self.proposal().map(|proposal| proposal.tolerances).or_else(present)
    }

    /// The widest band of the only one there is.
    fn only<'a>(&self, part: &'a ArrangementBands) -> Option<Proposal<'a>> {
        let mut all = self.present.iter().filter(|(_, own)| !own.is_measured());
        let (Some((parameter, _)), None) = (all.next(), all.next()) else { return None };
        let verification = part
            .row(Subject::Alone(parameter))?
            .confirmed()
            .filter(|verification| verification.at > 0.0)?;
        let tolerances = self.present.with_band(parameter, verification.at);
        Some(Proposal { source: ProposalSource::Only(parameter), tolerances, verification })
    }

    /// The present bands by a common factor, as they were tried.
    pub fn scaled(&self, factor: f64) -> Tolerances {
        scaled(&self.present, self.widest, factor)
    }

    /// Measured parts: nobody can order them with another band, so that they stay as they are.
    pub fn measured(&self) -> impl Iterator<Item = Parameter> {
        self.present.iter().filter(|(_, own)| own.is_measured()).map(|(parameter, _)| parameter)
    }

    /// The parts that a common factor would make wider than what is asked for.
    pub fn clipped(&self, factor: f64) -> Vec<Parameter> {
        let beyond = |own: &Tolerance| {
            let is_wider = factor > 1.0 && factor * own.band > own.widest_band(self.widest);
            is_wider && !own.is_measured()
        };
        self.present.iter().filter(|(_, own)| beyond(own)).map(|(p, _)| p).collect()
    }

    /// Number of statements made, each of which may be wrong.
    pub fn statements(&self) -> usize {
        let [verified, single] = self.by_kind();
        verified + single
    }

    /// Statements that may use the whole permitted error: every line put on fresh samples, the
    /// cheapest set or the set of steps, the dots of the map, its crosses. And those of one interval or test at the shared
    /// level: present bands, lines said to miss, the most critical part, that no cheaper set, no set of
    /// steps or no pair of bands meets the target. A set on offer that all starts from is one and the same statement as
    /// the cheapest set.
    fn by_kind(&self) -> [usize; 2] {
        let rows = || self.parts.iter().flat_map(|part| &part.rows);
        let confirmed = rows().filter(|row| !row.verifications.is_empty()).count();
        let missed = rows().filter(|row| row.misses).count();
        let compared = self.parts.iter().filter(|part| part.comparison.is_some()).count();
        let map = 2 * usize::from(self.map.is_some());
        let excluded = usize::from(self.excluded_pair.is_some());
        let present = self.parts.len() - usize::from(self.on_offer && !self.parts.is_empty());
        let cheapest = self.cheapest.as_ref();
        let chosen = cheapest.is_some_and(|found| !found.verifications.is_empty());
        let ordered = self.orderable.as_ref();
        let refused = cheapest.is_some_and(Cheapest::rules_out)
            || ordered.is_some_and(|set| set.rules_out(self.rule.target));
        let ordered = ordered.is_some_and(|set| !set.verifications.is_empty());
        let single = present + missed + compared + excluded + usize::from(refused);
        [confirmed + usize::from(chosen) + usize::from(ordered) + map, single]
    }

    /// The permitted error of a statement: that of the lower end of a two-sided interval.
    pub fn error_each(&self) -> f64 {
        self.rule.plain.two_sided_tail()
    }

    /// The confidence with which all statements hold together (Bonferroni); 0 says nothing.
    pub fn confidence_together(&self) -> f64 {
        let [verified, single] = self.by_kind().map(|n| n as f64);
        let errors = verified * self.error_each() + single * self.rule.shared.two_sided_tail();
        (1.0 - errors).max(0.0)
    }

    /// Whether the user stopped the search.
    pub fn is_partial(&self) -> bool {
        !self.unfinished.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{MeasuredParts, Shape, Tolerance};

    /// Nobody can order other measured parts: a common factor is that of the other bands.
    #[test]
    fn measured_parts_have_no_factor() {
        let parts = MeasuredParts {
            file: "cores.csv".into(),
            column: "L_H".into(),
            read_as: None,
            values: [-1.0, 1.0].into(),
        };
        let measured = Shape::Measured(parts.into());
        let (core, capacitor) = (Parameter::MagnetisingInductance, Parameter::ResonantCapacitance);
        let present = Tolerances::default()
            .with(core, Some(Tolerance::new(measured, 0.04)))
            .with(capacitor, Some(Tolerance::new(Shape::Uniform, 0.05)));
        for factor in [0.5, 2.0] {
            let bands = scaled(&present, 0.3, factor);
            assert_eq!(bands.get(core), present.get(core));
            assert!((bands.get(capacitor).unwrap().band - 0.05 * factor).abs() < 1e-12);
        }
    }
}
