//! The whole allocation: simpler ways for comparison, the search, and the regrouping of its best.

use rand::seq::SliceRandom;
use rand::{SeedableRng, rngs::ChaCha8Rng};
use schemars::JsonSchema;
use serde::Serialize;

use super::allocator::Allocator;
use super::evaluator::{ConverterEvaluator, MissedLimit};
use super::plan::{
    GroupCount, PlannedConverter, RejectedConverter, TankGroups, count_passing, sort_by_result,
    spare_capacitors, spare_tanks,
};
use super::search::SEARCHES;
use super::stock::{Stock, StockReach};
use super::surrogate::Surrogate;
use crate::converter::{Arrangement, Converter, ConverterSize, Parameter, Tank};
use crate::population::stock::MeasuredPart;
use crate::study::common::progress::Progress;
use crate::units::Farad;

/// Number of allocations at random.
pub const REPEATS: usize = 20;
/// Random stream of the allocation: one that no sample has.
const STREAM: u64 = u64::MAX;
/// Steps that the progress counts: allocations at random, and searches.
const PROGRESS_STEPS: u64 = (REPEATS + SEARCHES) as u64;

/// What is allocated, and to what converters.
#[derive(Clone, Copy)]
pub struct AllocationRequest<'a> {
    /// Parts in stock.
    pub stock: &'a Stock,
    /// The converter whose tanks and flying capacitors are replaced.
    pub nominal: &'a Converter,
    /// Driven legs, which decide the number of flying capacitors.
    pub legs: usize,
    /// Prediction of the limited figures from the tanks in stock.
    pub surrogate: &'a Surrogate,
    /// Says which converters pass.
    pub evaluator: &'a dyn ConverterEvaluator,
    /// Seed of the random draws.
    pub seed: u64,
}

/// A stock, and its allocation.
#[derive(Debug)]
pub struct StockAllocation {
    /// The parts.
    pub stock: Stock,
    /// The allocation; none when it was interrupted before there was a list.
    pub allocation: Option<Allocation>,
}

impl StockAllocation {
    /// Whether the user asked to stop before all searches were done.
    pub fn is_partial(&self) -> bool {
        self.allocation.as_ref().is_none_or(|allocation| allocation.partial)
    }
}

/// Passing converters of repeated allocations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassingRange {
    /// On average.
    pub mean: f64,
    /// The least number seen.
    pub least: usize,
    /// The greatest number seen.
    pub most: usize,
}

/// The allocation, and how many converters pass with it and with simpler ones.
#[derive(Debug, Clone)]
pub struct Allocation {
    /// Converters that the stock is enough for.
    pub converters: usize,
    /// Passing converters when parts are allocated at random.
    pub at_random: PassingRange,
    /// Passing converters when tanks are sorted by series resonance and taken in that order.
    pub sorted: usize,
    /// Passing converters of the list.
    pub allocated: usize,
    /// Whether no other list of the same parts passes more: all converters pass, or every group of
    /// tanks was evaluated in every order, with every flying capacitor where each converter has one, within
    /// the budget of work. It holds for the evaluator that was asked.
    pub proven: bool,
    /// The converters to be built: those that pass, by rising sharing error.
    pub build_list: Vec<PlannedConverter>,
    /// The converters that fail, each with what would mend it.
    pub rejected: Vec<RejectedConverter>,
    /// How many converters the parts of each kind are enough for.
    pub reach: StockReach,
    /// Indices of the tanks left over.
    pub spare_tanks: Vec<usize>,
    /// Indices of the flying capacitors left over.
    pub spare_capacitors: Vec<usize>,
    /// Whether the user asked to stop before all searches were done: the list is the best by then.
    pub partial: bool,
}

/// What keeps the number of passing converters down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum Bottleneck {
    /// All converters pass that the tanks are enough for.
    #[serde(rename = "tanks")]
    Tanks,
    /// All converters pass that the flying capacitors are enough for.
    #[serde(rename = "flying capacitors")]
    Capacitors,
    /// All pass, and both kinds are enough for equally many.
    #[serde(rename = "both")]
    Both,
    /// Converters miss limits.
    #[serde(rename = "limits")]
    Limits,
}

/// The limit that most of the converters that fail miss first.
#[derive(Debug, Clone, PartialEq)]
pub struct FrequentMiss {
    /// The limit.
    pub missed: MissedLimit,
    /// Converters that miss it first.
    pub converters: usize,
}

impl Allocation {
    /// What keeps the number of passing converters down.
    pub fn bottleneck(&self) -> Bottleneck {
        match self.reach.capacitors {
            _ if !self.rejected.is_empty() => Bottleneck::Limits,
            Some(capacitors) if capacitors < self.reach.tanks => Bottleneck::Capacitors,
            Some(capacitors) if capacitors == self.reach.tanks => Bottleneck::Both,
            _ => Bottleneck::Tanks,
        }
    }

    /// The limit that most of the converters that fail miss first; none where none fails.
    pub fn frequent_miss(&self) -> Option<FrequentMiss> {
        let misses =
            || self.rejected.iter().filter_map(|own| own.planned.evaluation.missed.as_ref());
        let count = |missed: &MissedLimit| misses().filter(|other| *other == missed).count();
        let all = misses().map(|own| FrequentMiss { missed: own.clone(), converters: count(own) });
        // Of equal ones the first.
        all.reduce(|best, next| if next.converters > best.converters { next } else { best })
    }

    /// So many passing converters as a share of those built.
    pub fn share(&self, passing: f64) -> f64 {
        passing / self.converters.max(1) as f64
    }
}

/// Allocates the stock. `progress` advances by every allocation that is made. `None` when the user
/// asked to stop before there was a list.
pub fn allocate(
    request: &AllocationRequest<'_>,
    progress: &mut dyn Progress,
) -> Option<Allocation> {
    let AllocationRequest { stock, nominal, legs, surrogate, evaluator, seed } = *request;
    let phases = nominal.phases();
    let size = ConverterSize { phases, legs };
    let needed = Parameter::FlyingCapacitance.parts(size, Arrangement::Chain);
    let reach = stock.reach(phases, needed);
    let converters = reach.converters();
    let count = GroupCount { converters, phases };
    let allocator =
        Allocator { stock, nominal, surrogate, evaluator, count, capacitors_per_converter: needed };
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(STREAM);
    progress.stage("allocations of the stock", PROGRESS_STEPS);
    let at_random = at_random(&allocator, &mut rng, progress)?;
    let groups = by_resonance(&stock.tanks, nominal, converters);
    let SortedPlan { capacitors, passing: sorted } = sorted_plan(&allocator, &groups)?;
    let found = allocator.search(&capacitors, &mut rng, progress)?;
    let mut plan = found.plan;
    let proven = if found.stopped { None } else { allocator.regroup(&mut plan, progress) };
    progress.expect(0);
    sort_by_result(&mut plan);
    let [spare_tanks, spare_capacitors] =
        [spare_tanks(&plan, stock.tanks.len()), spare_capacitors(&plan, stock.capacitors.len())];
    let failing = plan.split_off(count_passing(&plan));
    Some(Allocation {
        converters,
        at_random,
        sorted,
        allocated: plan.len(),
        proven: proven == Some(true),
        spare_tanks,
        spare_capacitors,
        partial: proven.is_none(),
        build_list: plan,
        rejected: allocator.mended(failing),
        reach,
    })
}

/// Tanks in the order of their resonance, with flying capacitors.
struct SortedPlan {
    /// The flying capacitors, converter by converter.
    capacitors: Vec<usize>,
    /// Converters that pass.
    passing: usize,
}

/// Groups of tanks with the flying capacitors nearest to nominal, or with the largest, where more pass with
/// these.
fn sorted_plan(allocator: &Allocator<'_>, groups: &TankGroups) -> Option<SortedPlan> {
    let Allocator { stock, nominal, count, capacitors_per_converter, .. } = *allocator;
    let wanted = count.converters * capacitors_per_converter;
    let middle = nominal.flying.first().map_or(0.0, |c| c.0);
    let with = |middle: f64| {
        let capacitors = by_value(&stock.capacitors, middle, wanted);
        let plan = allocator.evaluate_groups(groups.clone(), &capacitors)?;
        Some(SortedPlan { capacitors, passing: count_passing(&plan) })
    };
    let near = with(middle)?;
    let has_choice = stock.capacitors.len() > wanted && near.passing < count.converters;
    let large = if has_choice { Some(with(f64::INFINITY)?) } else { None };
    Some(large.filter(|own| own.passing > near.passing).unwrap_or(near))
}

/// The tanks nearest to the nominal series resonance, in its order.
fn by_resonance(
    tanks: &[MeasuredPart<Tank>],
    nominal: &Converter,
    converters: usize,
) -> TankGroups {
    let resonance = |n: usize| tanks[n].part.series_resonance().0;
    let middle = nominal.tanks[0].series_resonance().0;
    let order = nearest_in_order(tanks.len(), converters * nominal.phases(), middle, resonance);
    order.chunks(nominal.phases()).map(<[usize]>::to_vec).collect()
}

/// The capacitors nearest to a value, in the order of their values: neighbours are alike.
fn by_value(capacitors: &[MeasuredPart<Farad>], middle: f64, wanted: usize) -> Vec<usize> {
    nearest_in_order(capacitors.len(), wanted, middle, |n| capacitors[n].part.0)
}

/// The `wanted` of so many parts whose values are nearest to `middle`, by rising values.
fn nearest_in_order(
    parts: usize,
    wanted: usize,
    middle: f64,
    value: impl Fn(usize) -> f64,
) -> Vec<usize> {
    // Nearest to infinity are the largest.
    let distance =
        |n: usize| if middle.is_finite() { (value(n) - middle).abs() } else { -value(n) };
    let mut order: Vec<usize> = (0..parts).collect();
    order.sort_by(|a, b| distance(*a).total_cmp(&distance(*b)));
    order.truncate(wanted);
    order.sort_by(|a, b| value(*a).total_cmp(&value(*b)));
    order
}

/// Passing converters when tanks and capacitors are allocated at random, again and again;
/// `progress` advances every time.
fn at_random(
    allocator: &Allocator<'_>,
    rng: &mut ChaCha8Rng,
    progress: &mut dyn Progress,
) -> Option<PassingRange> {
    let GroupCount { converters, phases } = allocator.count;
    let mut tanks: Vec<usize> = (0..allocator.stock.tanks.len()).collect();
    let mut capacitors: Vec<usize> = (0..allocator.stock.capacitors.len()).collect();
    let mut counts = Vec::new();
    for _ in 0..REPEATS {
        tanks.shuffle(rng);
        capacitors.shuffle(rng);
        let groups = tanks.chunks_exact(phases).take(converters).map(<[usize]>::to_vec);
        let plan = allocator.evaluate_groups(groups.collect(), &capacitors)?;
        counts.push(count_passing(&plan));
        progress.advance(1);
    }
    Some(PassingRange {
        mean: counts.iter().sum::<usize>() as f64 / counts.len() as f64,
        least: counts.iter().copied().min().unwrap_or(0),
        most: counts.iter().copied().max().unwrap_or(0),
    })
}
