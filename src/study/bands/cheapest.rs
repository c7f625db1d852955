//! The cheapest set of parts that meets the target, of those that can be bought.
//!
//! Only what is on offer can be bought, so the choice is finite and the search exact. Sets are gone
//! through by rising price; the first that passes is the cheapest. What makes that quick: a set
//! that fails is narrowed, part by part, to a smallest set that still fails (a *core*), and
//! everything at least as wide in every part is struck out untried, because wider bands do no
//! better. Parts of unlike shape or lot share are neither wider nor narrower than each other:
//! between them nothing is struck out. The trend is checked where it matters: whatever stands one
//! step narrower than the answer must pass too.

use super::looks::{LOOKS, Look, proven};
use super::trials::Trials;
use crate::converter::Parameter;
use crate::scenario::{Tolerance, Tolerances};
use crate::study::run::RunError;

/// The most trials; beyond them the cheapest set seen to pass stands, without being proven the
/// cheapest.
const TRIALS: u64 = 400;

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
    /// Whether it scatters as another one does, as wide or wider.
    fn as_wide(&self, other: &Self) -> bool {
        let (own, other) = (self.tolerance, other.tolerance);
        own.shape == other.shape
            && own.lot_share.total_cmp(&other.lot_share).is_eq()
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
        let own = &self.offers[place];
        let narrower = |n: &usize| {
            let other = &self.offers[*n];
            own.as_wide(other) && !other.as_wide(own)
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

    /// Price of the parts of one converter.
    fn price(&self, set: &[usize]) -> f64 {
        self.priced.iter().zip(set).map(|(part, n)| part.count as f64 * part.offers[*n].price).sum()
    }

    /// The tolerances with the parts of a set.
    fn tolerances(&self, set: &[usize], others: &Tolerances) -> Tolerances {
        self.priced.iter().zip(set).fold(*others, |all, (part, n)| {
            all.with(part.parameter, Some(part.offers[*n].tolerance))
        })
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
pub struct Choice {
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
    /// The set is the cheapest, and a fresh seed confirms it.
    Proven,
    /// No set on offer passes.
    NoneMeets,
    /// All looks at fresh seeds missed.
    NotProven,
    /// The most trials were made: a cheaper set may exist.
    TooManyTrials,
}

/// The cheapest set.
#[derive(Debug, Clone, PartialEq)]
pub struct Cheapest {
    /// What is on offer.
    pub catalogue: Catalogue,
    /// How the search ended.
    pub ending: Ending,
    /// The set chosen last; none where none meets the target.
    pub choice: Option<Choice>,
    /// Runs on fresh seeds, in their order; the choices that missed were struck out.
    pub looks: Vec<Look>,
    /// Trials made on the seed of the search.
    pub trials: u64,
    /// Neighbours one step narrower that fail: the trend does not hold there.
    pub violations: usize,
}

impl Cheapest {
    /// The run that confirms the choice, if one does.
    pub fn proven(&self) -> Option<&Look> {
        proven(&self.looks)
    }

    /// The part chosen for a parameter, if one was.
    pub fn chosen(&self, parameter: Parameter) -> Option<&Offered> {
        let place = self.catalogue.priced.iter().position(|part| part.parameter == parameter)?;
        let choice = self.choice.as_ref()?;
        self.catalogue.priced[place].offers.get(*choice.set.get(place)?)
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
) -> Result<Cheapest, RunError> {
    let first = trials.asked();
    let (cores, seen) = (Vec::new(), None);
    let mut search = Search { tolerances, catalogue: &catalogue, trials, cores, seen, first };
    let mut looks: Vec<Look> = Vec::new();
    let (set, ending) = search.go_through(question, &mut looks)?;
    let violations = match &set {
        Some(set) if ending == Ending::Proven => search.narrower_that_fail(set)?,
        _ => 0,
    };
    let trials = search.trials.asked() - first - looks.len() as u64;
    let choice = set.map(|set| Choice {
        tolerances: catalogue.tolerances(&set, tolerances),
        price: catalogue.price(&set),
        set,
    });
    Ok(Cheapest { catalogue, ending, choice, looks, trials, violations })
}

impl Search<'_, '_> {
    /// Goes through all sets by rising price until a fresh seed confirms one.
    fn go_through(
        &mut self,
        question: u64,
        looks: &mut Vec<Look>,
    ) -> Result<(Option<Set>, Ending), RunError> {
        let mut last = None;
        for (price, set) in self.catalogue.by_price() {
            if self.is_struck_out(&set) {
                continue;
            }
            if self.trials.asked() - self.first >= TRIALS {
                return self.cut_short(question, looks);
            }
            if !self.meets(&set)? {
                let core = self.narrowed(set)?;
                self.cores.push(core);
                continue;
            }
            let look = self.look((price, &set), question, looks.len())?;
            let meets = look.meets;
            looks.push(look);
            last = Some(set.clone());
            if meets {
                return Ok((last, Ending::Proven));
            }
            if looks.len() == LOOKS {
                break;
            }
            self.cores.push(set);
        }
        let ending = if last.is_some() { Ending::NotProven } else { Ending::NoneMeets };
        Ok((last, ending))
    }

    /// Puts the cheapest set seen to pass on a fresh seed.
    fn cut_short(
        &mut self,
        question: u64,
        looks: &mut Vec<Look>,
    ) -> Result<(Option<Set>, Ending), RunError> {
        let Some((price, set)) = self.seen.clone().filter(|(_, set)| !self.is_struck_out(set))
        else {
            return Ok((None, Ending::TooManyTrials));
        };
        let look = self.look((price, &set), question, looks.len())?;
        let ending = if look.meets { Ending::TooManyTrials } else { Ending::NotProven };
        looks.push(look);
        Ok((Some(set), ending))
    }

    fn look(
        &mut self,
        (price, set): (f64, &Set),
        question: u64,
        number: usize,
    ) -> Result<Look, RunError> {
        let bands = self.catalogue.tolerances(set, self.tolerances);
        Look::take((price, &bands), (question, number), self.trials)
    }

    fn is_struck_out(&self, set: &Set) -> bool {
        self.cores.iter().any(|core| self.catalogue.as_wide(set, core))
    }

    fn meets(&mut self, set: &Set) -> Result<bool, RunError> {
        let meets = self.trials.meet(&self.catalogue.tolerances(set, self.tolerances))?;
        let own = self.catalogue.price(set);
        let cheaper = self.seen.as_ref().is_none_or(|(price, _)| own < *price);
        if meets && cheaper && self.catalogue.sets.contains(set) {
            self.seen = Some((own, set.clone()));
        }
        Ok(meets)
    }

    /// A set that fails, narrowed part by part as far as it still fails.
    fn narrowed(&mut self, set: Set) -> Result<Set, RunError> {
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
    fn narrower_that_fail(&mut self, set: &Set) -> Result<usize, RunError> {
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
