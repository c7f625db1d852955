//! Measured parts in stock, allotted to converters so that most of them pass.
//!
//! Charge balance evens out what the phases draw; what is left depends on how far the tanks of one
//! converter differ from each other, not on how far they are from nominal. So tanks that are alike
//! belong together. A first-order surrogate says what each does to every limited figure
//! ([`Surrogate`]), a search allots by it ([`group_tanks()`]), and the solver judges every converter that
//! results. Where the list leaves converters that fail, small stocks, and parts of larger ones, are
//! regrouped in the best way that there is ([`pack`]). The same judge sees two simpler ways: tanks
//! allotted at random, and tanks sorted by resonance.

mod evaluator;
mod exchange;
mod grouping;
mod packing;
mod regroup;
mod surrogate;

use rand::seq::SliceRandom;
use rand::{SeedableRng, rngs::ChaCha8Rng};

pub use self::evaluator::{
    ChainEvaluator, ConverterEvaluator, Evaluation, EvaluatorError, MissedLimit,
};
pub use self::grouping::{StartingOrder, group_tanks};
pub use self::packing::{Packing, pack};
pub use self::surrogate::{LimitedFigure, PhaseAggregate, Surrogate};
use crate::converter::{Arrangement, Converter, Parameter, Tank};
use crate::population::stock::MeasuredPart;
use crate::units::Farad;

/// Times that tanks are allotted at random.
pub const REPEATS: usize = 20;
/// Random stream of the pairing: one that no sample has.
const STREAM: u64 = u64::MAX;

/// Parts in stock.
#[derive(Debug, Clone)]
pub struct Stock {
    /// Name of the file that lists the tanks.
    pub tanks_file: String,
    /// Measured tanks.
    pub tanks: Vec<MeasuredPart<Tank>>,
    /// Name of the file that lists the flying capacitors; none when all count as nominal.
    pub capacitors_file: Option<String>,
    /// Measured flying capacitors.
    pub capacitors: Vec<MeasuredPart<Farad>>,
}

/// A stock and what became of it.
#[derive(Debug)]
pub struct StockAllocation {
    /// The parts.
    pub stock: Stock,
    /// The allotment; none when it was interrupted before there was a list.
    pub allocation: Option<Allocation>,
}

impl StockAllocation {
    /// Whether the user asked to stop before all searches were done.
    pub fn is_partial(&self) -> bool {
        self.allocation.as_ref().is_none_or(|allocation| allocation.partial)
    }
}

/// Tanks by the converter: each holds the places of its tanks in the stock, phase by phase.
pub type Allotment = Vec<Vec<usize>>;

/// A converter to be built.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedConverter {
    /// Places of its tanks in the stock, phase by phase.
    pub tanks: Vec<usize>,
    /// Places of the flying capacitors of the driven leg, then of the return leg; empty when all
    /// count as nominal.
    pub capacitors: Vec<usize>,
    /// What the solver says of it.
    pub evaluation: Evaluation,
}

/// Passing converters of repeated allotments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassingRange {
    /// On average.
    pub mean: f64,
    /// In the worst case seen.
    pub least: usize,
    /// In the best case seen.
    pub most: usize,
}

/// The allotment and what it is worth.
#[derive(Debug, Clone)]
pub struct Allocation {
    /// Converters that the stock is enough for.
    pub converters: usize,
    /// Passing converters when parts are allotted at random.
    pub at_random: PassingRange,
    /// Passing converters when tanks are sorted by series resonance and taken in that order.
    pub sorted: usize,
    /// Passing converters of the list.
    pub allocated: usize,
    /// Whether no other list of the same parts passes more: all converters pass, or every group of
    /// tanks was judged in every order. It holds for the judge that was asked.
    pub proven: bool,
    /// The converters to be built: those that pass first, by rising sharing error.
    pub build_list: Vec<PlannedConverter>,
    /// Places of the tanks left over.
    pub spare_tanks: Vec<usize>,
    /// Places of the flying capacitors left over.
    pub spare_capacitors: Vec<usize>,
    /// Whether the user asked to stop before all searches were done: the list is the best by then.
    pub partial: bool,
}

impl Allocation {
    /// So many passing converters as a share of all; of none, zero.
    pub fn share(&self, passing: f64) -> f64 {
        passing / self.converters.max(1) as f64
    }
}

/// Allots the stock to converters like `nominal`, with `legs` driven legs. `surrogate` is that of the
/// tanks; `progress` is told how many allotments of how many are done. `None` when the user asked to
/// stop before there was a list.
pub fn allocate(
    stock: &Stock,
    (nominal, legs): (&Converter, usize),
    surrogate: &Surrogate,
    (judge, seed): (&dyn ConverterEvaluator, u64),
    progress: &dyn Fn(usize, usize),
) -> Option<Allocation> {
    let phases = nominal.phases();
    let needed = Parameter::FlyingCapacitance.parts((phases, legs), Arrangement::Chain);
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
    let (mut list, stopped) = bench.best((converters, phases), &capacitors, surrogate, &mut rng)?;
    let proven = if stopped { None } else { bench.regroup(&mut list, surrogate) };
    progress(ALLOTMENTS, ALLOTMENTS);
    list.sort_by(|a, b| a.evaluation.order().total_cmp(&b.evaluation.order()));
    Some(Allocation {
        converters,
        at_random,
        sorted,
        allocated: passing(&list),
        proven: proven == Some(true),
        spare_tanks: exchange::spare_tanks(&list, stock.tanks.len()),
        spare_capacitors: (0..stock.capacitors.len())
            .filter(|n| list.iter().all(|build| !build.capacitors.contains(n)))
            .collect(),
        partial: proven.is_none(),
        build_list: list,
    })
}

fn passing(list: &[PlannedConverter]) -> usize {
    list.iter().filter(|build| build.evaluation.passes).count()
}

/// The tanks nearest to the nominal series resonance, in its order.
fn by_resonance(tanks: &[MeasuredPart<Tank>], nominal: &Converter, converters: usize) -> Allotment {
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
fn alike(capacitors: &[MeasuredPart<Farad>], nominal: &Converter, wanted: usize) -> Vec<usize> {
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
    judge: &'a dyn ConverterEvaluator,
    progress: &'a dyn Fn(usize, usize),
}

/// Allotments that are made and judged: at random, by searches, and by the regrouping of the best.
const ALLOTMENTS: usize = REPEATS + exchange::SEARCHES + 1;

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
    fn judge_all(&self, tanks: &Allotment, capacitors: &[usize]) -> Option<Vec<PlannedConverter>> {
        let own = |n: usize| {
            capacitors.chunks(self.needed).nth(n).map(<[usize]>::to_vec).unwrap_or_default()
        };
        let built: Vec<(Vec<usize>, Vec<usize>)> =
            tanks.iter().enumerate().map(|(n, tanks)| (tanks.clone(), own(n))).collect();
        let converters: Vec<Converter> =
            built.iter().map(|(tanks, capacitors)| self.converter(tanks, capacitors)).collect();
        let judged = self.judge.evaluate(&converters)?;
        let list = built.into_iter().zip(judged);
        Some(
            list.map(|((tanks, capacitors), judged)| PlannedConverter {
                tanks,
                capacitors,
                evaluation: judged,
            })
            .collect(),
        )
    }

    /// Passing converters when tanks and capacitors are allotted at random, again and again.
    fn chance(
        &self,
        (converters, phases): (usize, usize),
        rng: &mut ChaCha8Rng,
    ) -> Option<PassingRange> {
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
        Some(PassingRange {
            mean: sum as f64 / counts.len() as f64,
            least: counts.iter().copied().min().unwrap_or(0),
            most: counts.iter().copied().max().unwrap_or(0),
        })
    }
}
