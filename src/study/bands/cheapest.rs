//! The cheapest set of bands that meets the target, of those that can be bought.
//!
//! Only listed bands can be bought, so the choice is finite and the search exact. Sets are gone
//! through by rising price; the first that passes is the cheapest. What makes that quick: a set
//! that fails is narrowed, part by part, to a smallest set that still fails (a *core*), and
//! everything at least as wide in every part is struck out untried, because wider bands do no
//! better. That trend is checked where it matters: whatever stands one step narrower than the
//! answer must pass too.

use super::looks::{LOOKS, Look};
use super::trials::Trials;
use crate::converter::Parameter;
use crate::scenario::{BandOffer, Tolerances};
use crate::study::run::RunError;

/// The most trials; beyond them the cheapest set seen to pass stands, without being proven the
/// cheapest.
const TRIALS: u64 = 400;

/// A part that is bought from a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Priced {
    /// The parameter.
    pub parameter: Parameter,
    /// How many of the part a converter has.
    pub count: usize,
    /// Rising bands, falling prices; not empty.
    pub offers: Vec<BandOffer>,
}

/// A set of listed bands, one a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The band of each part.
    pub bands: Vec<f64>,
    /// Price of all listed parts of one converter.
    pub price: f64,
}

/// Why the search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The set is the cheapest, and a fresh seed confirms it.
    Proven,
    /// Even the narrowest bands of all lists fail.
    NoneMeets,
    /// All looks at fresh seeds missed.
    NotProven,
    /// The most trials were made: a cheaper set may exist.
    TooManyTrials,
}

/// The cheapest set.
#[derive(Debug, Clone, PartialEq)]
pub struct Cheapest {
    /// What is bought from lists.
    pub priced: Vec<Priced>,
    /// How the search ended.
    pub ending: Ending,
    /// The set chosen last; none where none meets the target.
    pub choice: Option<Choice>,
    /// Runs on fresh seeds, in their order; the choices that missed were struck out.
    pub looks: Vec<Look>,
    /// Number of sets on the lists.
    pub sets: usize,
    /// Trials made on the seed of the search.
    pub trials: u64,
    /// Neighbours one step narrower that fail: the trend does not hold there.
    pub violations: usize,
}

/// A set as places in the lists.
type Set = Vec<usize>;

struct Search<'a, 'b> {
    tolerances: &'a Tolerances,
    priced: &'a [Priced],
    trials: &'a mut Trials<'b>,
    /// Sets that fail, and with them all that are as wide or wider.
    cores: Vec<Set>,
    /// The cheapest set seen to pass.
    seen: Option<(f64, Set)>,
    first: u64,
}

/// Searches the cheapest set.
///
/// # Errors
///
/// Those of the trials.
pub fn cheapest(
    tolerances: &Tolerances,
    priced: &[Priced],
    question: u64,
    trials: &mut Trials,
) -> Result<Cheapest, RunError> {
    let sets = by_price(priced);
    let first = trials.asked();
    let mut search = Search { tolerances, priced, trials, cores: Vec::new(), seen: None, first };
    let mut looks: Vec<Look> = Vec::new();
    let mut ending = Ending::NoneMeets;
    let mut choice = None;
    if search.meets(&vec![0; priced.len()])? {
        (choice, ending) = search.go_through(&sets, question, &mut looks)?;
    }
    let violations = match &choice {
        Some(set) if ending == Ending::Proven => search.narrower_that_fail(set)?,
        _ => 0,
    };
    let trials = search.trials.asked() - first - looks.len() as u64;
    let choice = choice.map(|set| search.choice(&set));
    let (priced, sets) = (priced.to_vec(), sets.len());
    Ok(Cheapest { priced, ending, choice, looks, sets, trials, violations })
}

/// All sets with their prices, cheapest first; of equal price the narrower first.
fn by_price(priced: &[Priced]) -> Vec<(f64, Set)> {
    let mut sets: Vec<Set> = vec![Vec::new()];
    for part in priced {
        let longer = |set: &Set| {
            (0..part.offers.len()).map(|n| [set.as_slice(), &[n]].concat()).collect::<Vec<_>>()
        };
        sets = sets.iter().flat_map(longer).collect();
    }
    let mut sets: Vec<_> = sets.into_iter().map(|set| (price(priced, &set), set)).collect();
    sets.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    sets
}

fn price(priced: &[Priced], set: &[usize]) -> f64 {
    priced.iter().zip(set).map(|(part, n)| part.count as f64 * part.offers[*n].price).sum()
}

/// Whether a set is as wide as another in every part, or wider.
fn as_wide(set: &[usize], other: &[usize]) -> bool {
    set.iter().zip(other).all(|(own, other)| own >= other)
}

impl Search<'_, '_> {
    /// Goes through all sets by rising price until a fresh seed confirms one.
    fn go_through(
        &mut self,
        sets: &[(f64, Set)],
        question: u64,
        looks: &mut Vec<Look>,
    ) -> Result<(Option<Set>, Ending), RunError> {
        let mut last = None;
        for (price, set) in sets {
            if self.cores.iter().any(|core| as_wide(set, core)) {
                continue;
            }
            if self.trials.asked() - self.first >= TRIALS {
                return self.cut_short(question, looks);
            }
            if !self.meets(set)? {
                let core = self.narrowed(set)?;
                self.cores.push(core);
                continue;
            }
            let look =
                Look::take((*price, &self.bands(set)), (question, looks.len()), self.trials)?;
            let meets = look.meets;
            looks.push(look);
            last = Some(set.clone());
            if meets {
                return Ok((last, Ending::Proven));
            }
            if looks.len() == LOOKS {
                break;
            }
            self.cores.push(set.clone());
        }
        Ok((last, Ending::NotProven))
    }

    /// Puts the cheapest set seen to pass on a fresh seed.
    fn cut_short(
        &mut self,
        question: u64,
        looks: &mut Vec<Look>,
    ) -> Result<(Option<Set>, Ending), RunError> {
        let struck_out = |set: &Set| self.cores.iter().any(|core| as_wide(set, core));
        let Some((price, set)) = self.seen.clone().filter(|(_, set)| !struck_out(set)) else {
            return Ok((None, Ending::TooManyTrials));
        };
        let look = Look::take((price, &self.bands(&set)), (question, looks.len()), self.trials)?;
        let ending = if look.meets { Ending::TooManyTrials } else { Ending::NotProven };
        looks.push(look);
        Ok((Some(set), ending))
    }

    fn bands(&self, set: &[usize]) -> Tolerances {
        let parts = self.priced.iter().zip(set);
        parts.fold(*self.tolerances, |all, (part, n)| {
            all.with_band(part.parameter, part.offers[*n].band)
        })
    }

    fn choice(&self, set: &[usize]) -> Choice {
        let bands = self.priced.iter().zip(set).map(|(part, n)| part.offers[*n].band).collect();
        Choice { bands, price: price(self.priced, set) }
    }

    fn meets(&mut self, set: &Set) -> Result<bool, RunError> {
        let meets = self.trials.meet(&self.bands(set))?;
        let own = price(self.priced, set);
        if meets && self.seen.as_ref().is_none_or(|(price, _)| own < *price) {
            self.seen = Some((own, set.clone()));
        }
        Ok(meets)
    }

    /// A set that fails, narrowed part by part as far as it still fails.
    fn narrowed(&mut self, set: &Set) -> Result<Set, RunError> {
        let mut core = set.clone();
        for part in 0..core.len() {
            // The narrowest place that still fails lies in low..=high.
            let (mut low, mut high) = (0, core[part]);
            while low < high {
                // The narrowest first: most parts do not matter at all to one failure.
                let tried = if low == 0 { 0 } else { usize::midpoint(low, high) };
                let mut narrower = core.clone();
                narrower[part] = tried;
                if self.meets(&narrower)? {
                    low = tried + 1;
                } else {
                    high = tried;
                }
            }
            core[part] = high;
        }
        Ok(core)
    }

    /// Number of sets one step narrower that fail.
    fn narrower_that_fail(&mut self, set: &Set) -> Result<usize, RunError> {
        let mut fail = 0;
        for part in 0..set.len() {
            let mut narrower = set.clone();
            if narrower[part] > 0 {
                narrower[part] -= 1;
                fail += usize::from(!self.meets(&narrower)?);
            }
        }
        Ok(fail)
    }
}
