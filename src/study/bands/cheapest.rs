//! The cheapest set of parts that meets the target, of those that can be bought.
//!
//! Only what is on offer can be bought, so the choice is finite and the search exact. Sets are gone
//! through by rising price; the first that passes is the cheapest. What makes that quick: a set
//! that fails is narrowed, part by part, to a smallest set that still fails (a *core*), and
//! everything at least as wide in every part is struck out untried, because wider bands do no
//! better. Parts of unlike shape or lot share are neither wider nor narrower than each other:
//! between them nothing is struck out. The trend is checked where it matters: whatever is one
//! step narrower than the answer must pass too.

use super::rule::VERIFICATIONS;
use super::trials::Trials;
use super::verification::{Verification, confirmed};
use crate::converter::Parameter;
use crate::scenario::{Tolerance, Tolerances};
use crate::statistics::{Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::error::StudyError;
use crate::study::common::trials::Trial;

/// The most trials; beyond them the cheapest set seen to pass is given, without being shown to be the
/// cheapest.
const TRIALS: u64 = 400;
/// The most trials that tell cheaper sets which miss the target from those left open.
const WEIGHED: u64 = 60;
/// The most sets left open that are kept by name.
const LISTED: usize = 5;

/// A part that can be bought.
#[derive(Debug, Clone, PartialEq)]
pub struct Offered {
    /// What the scenario calls it, if it has a name.
    pub name: Option<String>,
    /// How its values scatter.
    pub tolerance: Tolerance,
    /// Price of one part.
    pub price: f64,
}

impl Offered {
    /// Price of the parts that are bought for each one used, because others are screened out.
    fn price_per_used(&self) -> f64 {
        self.price * self.tolerance.bought_per_used()
    }

    /// Whether it scatters as another one does, as wide or wider.
    fn as_wide(&self, other: &Self) -> bool {
        let (own, other) = (&self.tolerance, &other.tolerance);
        own.shape == other.shape
            && own.lot_share.total_cmp(&other.lot_share).is_eq()
            && own.is_multiple_of(other)
            && own.band >= other.band
    }
}

/// A parameter with all parts on offer for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Priced {
    /// The parameter.
    pub parameter: Parameter,
    /// How many of the part a converter has.
    pub count: usize,
    /// What is on offer; not empty.
    pub offers: Vec<Offered>,
}

impl Priced {
    /// Places of the offers narrower than the one at `place`, the narrowest first.
    fn narrower(&self, place: usize) -> Vec<usize> {
        let widest = &self.offers[place];
        let narrower = |n: &usize| {
            let other = &self.offers[*n];
            widest.as_wide(other) && !other.as_wide(widest)
        };
        let mut places: Vec<_> = (0..self.offers.len()).filter(narrower).collect();
        let band = |n: usize| self.offers[n].tolerance.band;
        places.sort_by(|a, b| band(*a).total_cmp(&band(*b)));
        places
    }
}

/// Places in the offers, one a part.
pub type Set = Vec<usize>;

/// What can be bought.
#[derive(Debug, Clone, PartialEq)]
pub struct Catalogue {
    /// All parts on offer.
    pub priced: Vec<Priced>,
    /// The sets that may be bought.
    pub sets: Vec<Set>,
}

impl Catalogue {
    /// Every choice of one offer a part.
    pub fn of_all(priced: Vec<Priced>) -> Self {
        Self { sets: vec![Vec::new()], priced: Vec::new() }.and(priced)
    }

    /// With further parts, each offer of which goes with every set.
    #[must_use]
    pub fn and(mut self, priced: Vec<Priced>) -> Self {
        for part in &priced {
            let longer = |set: &Set| {
                (0..part.offers.len()).map(|n| [set.as_slice(), &[n]].concat()).collect::<Vec<_>>()
            };
            self.sets = self.sets.iter().flat_map(longer).collect();
        }
        self.priced.extend(priced);
        self
    }

    /// Price of the parts of one converter, with those that are screened out.
    fn price(&self, set: &[usize]) -> f64 {
        let parts = self.priced.iter().zip(set).map(|(part, n)| (part.count, &part.offers[*n]));
        parts.map(|(count, offer)| count as f64 * offer.price_per_used()).sum()
    }

    /// The tolerances with the parts of a set.
    fn tolerances(&self, set: &[usize], others: &Tolerances) -> Tolerances {
        self.priced.iter().zip(set).fold(others.clone(), |all, (part, n)| {
            all.with(part.parameter, Some(part.offers[*n].tolerance.clone()))
        })
    }

    /// A set with its tolerances and its price.
    fn choice(&self, set: Set, others: &Tolerances) -> PricedSet {
        PricedSet { tolerances: self.tolerances(&set, others), price: self.price(&set), set }
    }

    /// Whether a set is as wide as another in every part, or wider.
    fn as_wide(&self, set: &[usize], other: &[usize]) -> bool {
        let both = set.iter().zip(other);
        self.priced.iter().zip(both).all(|(part, (own, other))| {
            own == other || part.offers[*own].as_wide(&part.offers[*other])
        })
    }

    /// All sets with their prices, cheapest first.
    fn by_price(&self) -> Vec<(f64, Set)> {
        let mut sets: Vec<_> = self.sets.iter().map(|s| (self.price(s), s.clone())).collect();
        sets.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        sets
    }
}

/// A set that was chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct PricedSet {
    /// The place of each part in its offers.
    pub set: Set,
    /// The tolerances of all parts with it.
    pub tolerances: Tolerances,
    /// Price of its parts for one converter.
    pub price: f64,
}

/// Why the search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The set is the cheapest seen to pass, or the best where none was, and a fresh seed confirms it.
    Confirmed,
    /// No set on offer was seen to pass, nor did a fresh seed confirm the best of those that were not decided.
    NoneMeets,
    /// All verification runs missed.
    NotConfirmed,
    /// The most trials were made: a cheaper set may exist.
    TooManyTrials,
}

/// A set that was tried on the seed of the search.
#[derive(Debug, Clone, PartialEq)]
pub struct TriedSet {
    /// The set.
    pub choice: PricedSet,
    /// Its yield, with its interval at the shared level.
    pub good: Yield,
    /// The demand missed most often, and where.
    pub binding: Option<Binding>,
}

/// A set that neither missed the target nor is as wide as one that did.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenSet {
    /// The set.
    pub choice: PricedSet,
    /// Its yield on the seed of the search, with its interval at the shared level; none if it was not tried.
    pub good: Option<Yield>,
}

/// The cheapest set.
#[derive(Debug, Clone, PartialEq)]
pub struct Cheapest {
    /// What is on offer.
    pub catalogue: Catalogue,
    /// How the search ended.
    pub ending: Ending,
    /// The set chosen last; none where none meets the target.
    pub choice: Option<PricedSet>,
    /// Runs on fresh seeds, in their order; the choices that missed were struck out.
    pub verifications: Vec<Verification>,
    /// Number of sets cheaper than the confirmed one, or of all sets where none was, that neither
    /// missed the target nor are as wide as one that did: they may meet it.
    pub open: usize,
    /// The cheapest of them.
    pub passed_over: Vec<OpenSet>,
    /// Where none was confirmed, the listed set of which most samples of the search passed.
    pub best: Option<TriedSet>,
    /// Trials made on the seed of the search.
    pub trials: u64,
    /// Neighbours one step narrower that fail: the trend does not hold there.
    pub violations: usize,
}

impl Cheapest {
    /// The run that confirms the choice, if one does.
    pub fn confirmed(&self) -> Option<&Verification> {
        confirmed(&self.verifications)
    }

    /// Whether it is said that all cheaper sets miss the target, or all sets on offer.
    pub fn rules_out(&self) -> bool {
        self.open == 0
            && match self.ending {
                Ending::Confirmed => self.cheaper() > 0,
                Ending::NoneMeets => true,
                Ending::NotConfirmed | Ending::TooManyTrials => false,
            }
    }

    /// Whether a set is confirmed and no cheaper one may meet the target.
    pub fn is_settled(&self) -> bool {
        self.ending == Ending::Confirmed && self.open == 0
    }

    /// Number of open sets that are not kept by name.
    pub fn open_unlisted(&self) -> usize {
        self.open - self.passed_over.len()
    }

    /// Number of sets cheaper than the chosen one.
    fn cheaper(&self) -> usize {
        let price = self.choice.as_ref().map_or(f64::INFINITY, |choice| choice.price);
        self.catalogue.sets.iter().filter(|set| self.catalogue.price(set) < price).count()
    }

    /// The part chosen for a parameter, if one was.
    pub fn chosen(&self, parameter: Parameter) -> Option<&Offered> {
        let index = self.catalogue.priced.iter().position(|part| part.parameter == parameter)?;
        let choice = self.choice.as_ref()?;
        self.catalogue.priced[index].offers.get(*choice.set.get(index)?)
    }
}

struct Search<'a, 'b> {
    tolerances: &'a Tolerances,
    catalogue: &'a Catalogue,
    trials: &'a mut Trials<'b>,
    /// Sets that fail, and with them all that are as wide or wider.
    cores: Vec<Set>,
    /// The cheapest set seen to pass.
    seen: Option<(f64, Set)>,
    /// What was tried on the seed of the search.
    tried: Vec<(Set, Trial)>,
    /// Sets that surely miss the target, and with them all that are as wide or wider.
    missing: Vec<Set>,
    first: u64,
}

/// Searches the cheapest set. `tolerances` are those of parts that are not on offer.
///
/// # Errors
///
/// Those of the trials.
pub fn cheapest(
    tolerances: &Tolerances,
    catalogue: Catalogue,
    question: u64,
    trials: &mut Trials,
) -> Result<Cheapest, StudyError> {
    let first = trials.asked();
    let mut search = Search {
        tolerances,
        catalogue: &catalogue,
        trials,
        cores: Vec::new(),
        seen: None,
        tried: Vec::new(),
        missing: Vec::new(),
        first,
    };
    let mut verifications: Vec<Verification> = Vec::new();
    let (set, ending) = search.go_through(question, &mut verifications)?;
    let violations = match &set {
        // Next to a set that the search did not decide others may be undecided too.
        Some(set) if ending == Ending::Confirmed && search.meets(set)? => {
            search.narrower_that_fail(set)?
        }
        _ => 0,
    };
    let chosen = set.as_ref().filter(|_| confirmed(&verifications).is_some());
    let open = search.left_open(chosen)?;
    let best = if chosen.is_none() { search.best()? } else { None };
    let trials = search.trials.asked() - first;
    let choice = set.map(|set| search.catalogue.choice(set, tolerances));
    let listed = open.iter().take(LISTED).map(|set| search.open_set(set));
    let passed_over = listed.collect::<Result<Vec<_>, _>>()?;
    let open = open.len();
    Ok(Cheapest {
        catalogue,
        ending,
        choice,
        verifications,
        open,
        passed_over,
        best,
        trials,
        violations,
    })
}

impl Search<'_, '_> {
    /// Goes through all sets by rising price until a fresh seed confirms one.
    fn go_through(
        &mut self,
        question: u64,
        verifications: &mut Vec<Verification>,
    ) -> Result<(Option<Set>, Ending), StudyError> {
        let mut last = None;
        for (_, set) in self.catalogue.by_price() {
            if self.is_struck_out(&set) {
                continue;
            }
            if self.trials.asked() - self.first >= TRIALS {
                return self.cut_short(question, verifications);
            }
            if !self.meets(&set)? {
                let core = self.narrowed(set)?;
                self.cores.push(core);
                continue;
            }
            let verification = self.verify(&set, question, verifications.len())?;
            let meets = verification.meets;
            verifications.push(verification);
            last = Some(set.clone());
            if meets {
                return Ok((last, Ending::Confirmed));
            }
            if verifications.len() == VERIFICATIONS {
                break;
            }
            self.cores.push(set);
        }
        if last.is_some() {
            return Ok((last, Ending::NotConfirmed));
        }
        self.try_best_undecided(question, verifications)
    }

    /// Where no set was seen to pass: puts the best of those that are not decided on a fresh seed. There fewer statements
    /// share the permitted error, so that it may be shown to meet the target.
    fn try_best_undecided(
        &mut self,
        question: u64,
        verifications: &mut Vec<Verification>,
    ) -> Result<(Option<Set>, Ending), StudyError> {
        let best = self.best_listed().map(|(set, _)| set.clone());
        let Some(set) = best.filter(|set| !self.is_missing(set)) else {
            return Ok((None, Ending::NoneMeets));
        };
        let verification = self.verify(&set, question, verifications.len())?;
        let meets = verification.meets;
        verifications.push(verification);
        Ok(if meets { (Some(set), Ending::Confirmed) } else { (None, Ending::NoneMeets) })
    }

    /// Puts the cheapest set seen to pass on a fresh seed.
    fn cut_short(
        &mut self,
        question: u64,
        verifications: &mut Vec<Verification>,
    ) -> Result<(Option<Set>, Ending), StudyError> {
        let Some((_, set)) = self.seen.clone().filter(|(_, set)| !self.is_struck_out(set)) else {
            return Ok((None, Ending::TooManyTrials));
        };
        let verification = self.verify(&set, question, verifications.len())?;
        let ending = if verification.meets { Ending::TooManyTrials } else { Ending::NotConfirmed };
        verifications.push(verification);
        Ok((Some(set), ending))
    }

    /// Tries a set on the fresh samples of a run of the question.
    fn verify(&mut self, set: &Set, question: u64, run: usize) -> Result<Verification, StudyError> {
        let bands = self.catalogue.tolerances(set, self.tolerances);
        let (price, source) = (self.catalogue.price(set), self.trials.fresh(question, run));
        let verification = Verification::run(price, &bands, source, self.trials)?;
        if verification.good.verdict(self.trials.rule.target) == Verdict::Fail {
            self.missing.push(set.clone());
        }
        Ok(verification)
    }

    fn is_struck_out(&self, set: &Set) -> bool {
        self.cores.iter().any(|core| self.catalogue.as_wide(set, core))
    }

    /// Whether a set surely misses the target.
    fn is_missing(&self, set: &Set) -> bool {
        self.missing.iter().any(|other| self.catalogue.as_wide(set, other))
    }

    fn meets(&mut self, set: &Set) -> Result<bool, StudyError> {
        let meets = self.verdict(set)? == Verdict::Pass;
        let price = self.catalogue.price(set);
        let cheaper = self.seen.as_ref().is_none_or(|(least, _)| price < *least);
        if meets && cheaper && self.catalogue.sets.contains(set) {
            self.seen = Some((price, set.clone()));
        }
        Ok(meets)
    }

    /// What the samples of the search say about a set.
    fn verdict(&mut self, set: &Set) -> Result<Verdict, StudyError> {
        let bands = self.catalogue.tolerances(set, self.tolerances);
        let trial = self.trials.on_search_samples(&bands)?;
        let rule = self.trials.rule;
        let verdict = rule.interval(&trial)?.verdict(rule.target);
        if verdict == Verdict::Fail {
            self.missing.push(set.clone());
        }
        self.tried.push((set.clone(), trial));
        Ok(verdict)
    }

    /// The sets cheaper than the chosen one, or all, that may meet the target, cheapest first.
    fn left_open(&mut self, chosen: Option<&Set>) -> Result<Vec<Set>, StudyError> {
        let below = chosen.map_or(f64::INFINITY, |set| self.catalogue.price(set));
        let until = self.trials.asked() + WEIGHED;
        let mut open = Vec::new();
        for (_, set) in self.catalogue.by_price().into_iter().take_while(|own| own.0 < below) {
            if self.is_missing(&set) {
                continue;
            }
            let more = self.trials.asked() < until;
            if !(more && self.verdict(&set)? == Verdict::Fail) {
                open.push(set);
            }
        }
        Ok(open)
    }

    /// An open set, with what the samples of the search say of it.
    fn open_set(&self, set: &Set) -> Result<OpenSet, StudyError> {
        let tried = self.tried.iter().find(|(own, _)| own == set);
        let good = tried.map(|(_, trial)| self.trials.rule.interval(trial)).transpose()?;
        Ok(OpenSet { choice: self.catalogue.choice(set.clone(), self.tolerances), good })
    }

    /// The listed set of which most samples passed.
    fn best_listed(&self) -> Option<&(Set, Trial)> {
        let listed = self.tried.iter().filter(|(set, _)| self.catalogue.sets.contains(set));
        listed.max_by_key(|(_, trial)| trial.good)
    }

    /// The same with its yield.
    fn best(&self) -> Result<Option<TriedSet>, StudyError> {
        let Some((set, trial)) = self.best_listed() else {
            return Ok(None);
        };
        let choice = self.catalogue.choice(set.clone(), self.tolerances);
        let good = self.trials.rule.interval(trial)?;
        Ok(Some(TriedSet { choice, good, binding: trial.binding.clone() }))
    }

    /// A set that fails, narrowed part by part as far as it still fails.
    fn narrowed(&mut self, set: Set) -> Result<Set, StudyError> {
        let mut core = set;
        for (n, part) in self.catalogue.priced.iter().enumerate() {
            let mut places = part.narrower(core[n]);
            places.push(core[n]);
            // The narrowest place that still fails lies in low..=high.
            let (mut low, mut high) = (0, places.len() - 1);
            while low < high {
                // The narrowest first: most parts do not matter at all to one failure.
                let tried = if low == 0 { 0 } else { usize::midpoint(low, high) };
                let mut narrower = core.clone();
                narrower[n] = places[tried];
                if self.meets(&narrower)? {
                    low = tried + 1;
                } else {
                    high = tried;
                }
            }
            core[n] = places[high];
        }
        Ok(core)
    }

    /// Number of sets one step narrower that fail.
    fn narrower_that_fail(&mut self, set: &Set) -> Result<usize, StudyError> {
        let mut fail = 0;
        for (n, part) in self.catalogue.priced.iter().enumerate() {
            if let Some(place) = part.narrower(set[n]).last() {
                let mut narrower = set.clone();
                narrower[n] = *place;
                fail += usize::from(!self.meets(&narrower)?);
            }
        }
        Ok(fail)
    }
}
