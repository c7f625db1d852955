//! Measured parts in stock, allotted to converters so that most of them pass.
//!
//! Charge balance evens out what the phases draw; what is left depends on how far the tanks of one
//! converter differ from each other, not on how far they are from nominal. So tanks that are alike
//! belong together. A first-order surrogate says what each does to every limited figure ([`Surrogate`]), a search allots by it
//! ([`allot()`]), and the solver judges every converter that results. The same judge sees two simpler
//! ways: tanks allotted at random, and tanks sorted by resonance.

mod allot;
mod judge;
mod surrogate;

use std::collections::BTreeSet;

use rand::seq::SliceRandom;
use rand::{SeedableRng, rngs::ChaCha8Rng};

pub use self::allot::{Start, allot};
pub use self::judge::{Chain, Judge, JudgeError, Judged};
pub use self::surrogate::{Bound, Bounded, Surrogate};
use crate::converter::{Converter, Tank};
use crate::population::stock::Measured;
use crate::units::Farad;

/// Times that tanks are allotted at random.
pub const REPEATS: usize = 20;
/// What the surrogate is held to in turn, in units of the limit.
const MARGINS: [f64; 5] = [1.0, 0.97, 1.03, 0.93, 1.07];
/// How the searches begin.
const STARTS: [Start; 3] = [Start::Sorted, Start::Chance, Start::Chance];
/// Random stream of the pairing: one that no sample has.
const STREAM: u64 = u64::MAX;

/// Parts in stock.
#[derive(Debug, Clone)]
pub struct Stock {
    /// Name of the file that lists the tanks.
    pub tanks_file: String,
    /// Measured tanks.
    pub tanks: Vec<Measured<Tank>>,
    /// Name of the file that lists the flying capacitors; none when all count as nominal.
    pub capacitors_file: Option<String>,
    /// Measured flying capacitors.
    pub capacitors: Vec<Measured<Farad>>,
}

/// A stock and what became of it.
#[derive(Debug)]
pub struct Stocked {
    /// The parts.
    pub stock: Stock,
    /// The allotment; none when it was interrupted before there was a list.
    pub pairing: Option<Pairing>,
}

impl Stocked {
    /// Whether the user asked to stop before all searches were done.
    pub fn is_partial(&self) -> bool {
        self.pairing.as_ref().is_none_or(|pairing| pairing.partial)
    }
}

/// Tanks by the converter: each holds the places of its tanks in the stock, phase by phase.
pub type Allotment = Vec<Vec<usize>>;

/// A converter to be built.
#[derive(Debug, Clone, PartialEq)]
pub struct Build {
    /// Places of its tanks in the stock, phase by phase.
    pub tanks: Vec<usize>,
    /// Places of the flying capacitors of the driven leg, then of the return leg; empty when all
    /// count as nominal.
    pub capacitors: Vec<usize>,
    /// What the solver says of it.
    pub judged: Judged,
}

/// Passing converters of repeated allotments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// On average.
    pub mean: f64,
    /// In the worst case seen.
    pub least: usize,
    /// In the best case seen.
    pub most: usize,
}

/// The allotment and what it is worth.
#[derive(Debug, Clone)]
pub struct Pairing {
    /// Converters that the stock is enough for.
    pub converters: usize,
    /// Passing converters when parts are allotted at random.
    pub at_random: Chance,
    /// Passing converters when tanks are sorted by series resonance and taken in that order.
    pub sorted: usize,
    /// Passing converters of the list.
    pub allotted: usize,
    /// The converters to be built: those that pass first, by rising sharing error.
    pub list: Vec<Build>,
    /// Places of the tanks left over.
    pub spare_tanks: Vec<usize>,
    /// Places of the flying capacitors left over.
    pub spare_capacitors: Vec<usize>,
    /// Whether the user asked to stop before all searches were done: the list is the best by then.
    pub partial: bool,
}

/// Allots the stock to converters like `nominal`, with `legs` driven legs. `surrogate` is that of the
/// tanks; `progress` is told how many allotments of how many are done. `None` when the user asked to
/// stop before there was a list.
pub fn pair(
    stock: &Stock,
    (nominal, legs): (&Converter, usize),
    surrogate: &Surrogate,
    (judge, seed): (&dyn Judge, u64),
    progress: &dyn Fn(usize, usize),
) -> Option<Pairing> {
    let phases = nominal.phases();
    let needed = legs * (phases - 1);
    let by_tanks = stock.tanks.len() / phases;
    let by_capacitors = stock.capacitors.len() / needed.max(1);
    let listed = stock.capacitors_file.is_some();
    let converters = if listed { by_tanks.min(by_capacitors) } else { by_tanks };
    let bench = Bench { stock, nominal, needed, judge, progress };
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(STREAM);
    let at_random = bench.chance((converters, phases), &mut rng)?;
    let capacitors = alike(&stock.capacitors, nominal, converters * needed);
    let sorted = by_resonance(&stock.tanks, nominal, converters);
    let sorted = passing(&bench.judge_all(&sorted, &capacitors)?);
    let (mut list, partial) = bench.best((converters, phases), &capacitors, surrogate, &mut rng)?;
    list.sort_by(|a, b| a.judged.order().total_cmp(&b.judged.order()));
    let spare = |all: usize, used: &dyn Fn(usize) -> bool| (0..all).filter(|n| !used(*n)).collect();
    Some(Pairing {
        converters,
        at_random,
        sorted,
        allotted: passing(&list),
        spare_tanks: spare(stock.tanks.len(), &|n| list.iter().any(|b| b.tanks.contains(&n))),
        spare_capacitors: spare(stock.capacitors.len(), &|n| {
            list.iter().any(|b| b.capacitors.contains(&n))
        }),
        partial,
        list,
    })
}

/// The same tanks with two of them in each other's place, and turned round: every order there is of
/// up to three.
fn reordered(tanks: &[usize]) -> Vec<Vec<usize>> {
    let count = tanks.len();
    let pairs = (0..count).flat_map(|i| (i + 1..count).map(move |k| (i, k)));
    let swapped = pairs.map(|(i, k)| {
        let mut order = tanks.to_vec();
        order.swap(i, k);
        order
    });
    let turned = (1..count).map(|by| {
        let mut order = tanks.to_vec();
        order.rotate_left(by);
        order
    });
    swapped.chain(turned).collect()
}

fn passing(list: &[Build]) -> usize {
    list.iter().filter(|build| build.judged.passes).count()
}

/// The tanks nearest to the nominal series resonance, in its order.
fn by_resonance(tanks: &[Measured<Tank>], nominal: &Converter, converters: usize) -> Allotment {
    let resonance = |n: &usize| tanks[*n].part.series_resonance().0;
    let middle = nominal.tanks[0].series_resonance().0;
    let off = |n: &usize| (resonance(n) - middle).abs();
    let mut order: Vec<usize> = (0..tanks.len()).collect();
    order.sort_by(|a, b| off(a).total_cmp(&off(b)));
    order.truncate(converters * nominal.phases());
    order.sort_by(|a, b| resonance(a).total_cmp(&resonance(b)));
    order.chunks(nominal.phases()).map(<[usize]>::to_vec).collect()
}

/// The capacitors nearest to nominal, in the order of their values: neighbours are alike.
fn alike(capacitors: &[Measured<Farad>], nominal: &Converter, wanted: usize) -> Vec<usize> {
    let middle = nominal.flying.first().map_or(0.0, |c| c.0);
    let value = |n: &usize| capacitors[*n].part.0;
    let mut order: Vec<usize> = (0..capacitors.len()).collect();
    order.sort_by(|a, b| (value(a) - middle).abs().total_cmp(&(value(b) - middle).abs()));
    order.truncate(wanted);
    order.sort_by(|a, b| value(a).total_cmp(&value(b)));
    order
}

/// Builds converters from the stock and has them judged.
#[derive(Clone, Copy)]
struct Bench<'a> {
    stock: &'a Stock,
    nominal: &'a Converter,
    /// Flying capacitors that a converter takes.
    needed: usize,
    judge: &'a dyn Judge,
    progress: &'a dyn Fn(usize, usize),
}

/// Allotments that are made and judged, each with a search or without.
const ALLOTMENTS: usize = REPEATS + MARGINS.len() * STARTS.len();

impl Bench<'_> {
    fn converter(&self, tanks: &[usize], capacitors: &[usize]) -> Converter {
        let mut converter = self.nominal.clone();
        for (phase, n) in converter.tanks.iter_mut().zip(tanks) {
            *phase = self.stock.tanks[*n].part;
        }
        let slots = converter.flying.iter_mut().chain(&mut converter.flying_return);
        for (slot, n) in slots.zip(capacitors) {
            *slot = self.stock.capacitors[*n].part;
        }
        converter
    }

    /// Judges converters with these tanks, flying capacitors taken in their order.
    fn judge_all(&self, tanks: &Allotment, capacitors: &[usize]) -> Option<Vec<Build>> {
        let own = |n: usize| {
            capacitors.chunks(self.needed).nth(n).map(<[usize]>::to_vec).unwrap_or_default()
        };
        let built: Vec<(Vec<usize>, Vec<usize>)> =
            tanks.iter().enumerate().map(|(n, tanks)| (tanks.clone(), own(n))).collect();
        let converters: Vec<Converter> =
            built.iter().map(|(tanks, capacitors)| self.converter(tanks, capacitors)).collect();
        let judged = self.judge.judge(&converters)?;
        let list = built.into_iter().zip(judged);
        Some(
            list.map(|((tanks, capacitors), judged)| Build { tanks, capacitors, judged }).collect(),
        )
    }

    /// Passing converters when tanks and capacitors are allotted at random, again and again.
    fn chance(&self, (converters, phases): (usize, usize), rng: &mut ChaCha8Rng) -> Option<Chance> {
        let mut tanks: Vec<usize> = (0..self.stock.tanks.len()).collect();
        let mut capacitors: Vec<usize> = (0..self.stock.capacitors.len()).collect();
        let mut counts = Vec::new();
        for n in 1..=REPEATS {
            tanks.shuffle(rng);
            capacitors.shuffle(rng);
            let taken: Allotment =
                tanks.chunks_exact(phases).take(converters).map(<[usize]>::to_vec).collect();
            counts.push(passing(&self.judge_all(&taken, &capacitors)?));
            (self.progress)(n, ALLOTMENTS);
        }
        let sum: usize = counts.iter().sum();
        Some(Chance {
            mean: sum as f64 / counts.len() as f64,
            least: counts.iter().copied().min().unwrap_or(0),
            most: counts.iter().copied().max().unwrap_or(0),
        })
    }

    /// The best of several searches, and whether the user stopped them: the surrogate is held to less
    /// and to more than the limits, since it does not see them quite where the solver does.
    fn best(
        &self,
        size: (usize, usize),
        capacitors: &[usize],
        surrogate: &Surrogate,
        rng: &mut ChaCha8Rng,
    ) -> Option<(Vec<Build>, bool)> {
        let mut best: Option<Vec<Build>> = None;
        let tries = STARTS.iter().flat_map(|start| MARGINS.map(|margin| (*start, margin)));
        for (n, (start, margin)) in (1..).zip(tries) {
            let held = Surrogate { margin, ..surrogate.clone() };
            let allotment = allot(&held, size, (start, rng), &|| self.judge.stopped());
            let Some(mut list) = self.judge_all(&allotment, capacitors) else { break };
            let finished = self.exchange(&mut list, surrogate).is_some();
            let most = best.as_ref().map_or(0, |best| passing(best));
            if best.is_none() || passing(&list) > most {
                best = Some(list);
            }
            if !finished {
                break;
            }
            (self.progress)(REPEATS + n, ALLOTMENTS);
            if best.as_ref().is_some_and(|best| passing(best) == size.0) {
                return best.map(|best| (best, false));
            }
        }
        best.map(|best| (best, self.judge.stopped()))
    }

    /// Exchanges tanks between a converter that fails and another, or those left over, as long as
    /// more pass by the judge; only exchanges that the surrogate calls promising are tried.
    fn exchange(&self, list: &mut [Build], surrogate: &Surrogate) -> Option<()> {
        let used: BTreeSet<usize> = list.iter().flat_map(|build| &build.tanks).copied().collect();
        let mut spare: Vec<usize> = (0..surrogate.tanks).filter(|n| !used.contains(n)).collect();
        loop {
            let before = passing(list);
            for failing in 0..list.len() {
                if !list[failing].judged.passes
                    && !self.reorder(&mut list[failing], surrogate)?
                    && !self.replace(&mut list[failing], &mut spare, surrogate)?
                {
                    self.exchange_one(list, failing, surrogate)?;
                }
            }
            if passing(list) == before {
                return Some(());
            }
        }
    }

    /// Tries the tanks of a failing converter in other phases; whether it passes then.
    fn reorder(&self, build: &mut Build, surrogate: &Surrogate) -> Option<bool> {
        if !surrogate.is_promising(&build.tanks) {
            return Some(false);
        }
        self.first_passing(build, reordered(&build.tanks))
    }

    /// Tries tanks left over in a failing converter; whether it passes with one of them.
    fn replace(
        &self,
        build: &mut Build,
        spare: &mut [usize],
        surrogate: &Surrogate,
    ) -> Option<bool> {
        for other in spare {
            for phase in 0..build.tanks.len() {
                let mut tanks = build.tanks.clone();
                let given_up = std::mem::replace(&mut tanks[phase], *other);
                if surrogate.is_promising(&tanks) && self.first_passing(build, vec![tanks])? {
                    *other = given_up;
                    return Some(true);
                }
            }
        }
        Some(false)
    }

    /// Gives a converter the first of these tanks with which it passes, if there are such.
    fn first_passing(&self, build: &mut Build, choices: Vec<Vec<usize>>) -> Option<bool> {
        let converter = |tanks: &Vec<usize>| self.converter(tanks, &build.capacitors);
        let converters: Vec<Converter> = choices.iter().map(converter).collect();
        let judged = self.judge.judge(&converters)?;
        let found = choices.into_iter().zip(judged).find(|(_, judged)| judged.passes);
        let Some((tanks, judged)) = found else { return Some(false) };
        (build.tanks, build.judged) = (tanks, judged);
        Some(true)
    }

    /// Exchanges a tank of a failing converter for one of another.
    fn exchange_one(
        &self,
        list: &mut [Build],
        failing: usize,
        surrogate: &Surrogate,
    ) -> Option<()> {
        for other in (0..list.len()).filter(|other| *other != failing) {
            for (i, k) in (0..list[failing].tanks.len())
                .flat_map(|i| (0..list[other].tanks.len()).map(move |k| (i, k)))
            {
                let (mut a, mut b) = (list[failing].clone(), list[other].clone());
                std::mem::swap(&mut a.tanks[i], &mut b.tanks[k]);
                if !surrogate.is_promising(&a.tanks)
                    || (b.judged.passes && !surrogate.is_promising(&b.tanks))
                {
                    continue;
                }
                let converters = [&a, &b].map(|x| self.converter(&x.tanks, &x.capacitors));
                let judged = self.judge.judge(&converters)?;
                let [first, second] = judged.as_slice() else { continue };
                let held = second.passes || !b.judged.passes;
                if first.passes && held {
                    (a.judged, b.judged) = (first.clone(), second.clone());
                    (list[failing], list[other]) = (a, b);
                    return Some(());
                }
            }
        }
        Some(())
    }
}
