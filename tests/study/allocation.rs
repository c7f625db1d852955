//! Measured parts allotted to converters: against brute force on small stocks, against simpler ways
//! on larger ones.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use fairphase::converter::{Converter, Measure, Parameter, Tank};
use fairphase::population::Population;
use fairphase::population::stock::{self, MeasuredPart};
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::allocation::{
    Allocation, AllocationRequest, ChainEvaluator, ConverterEvaluator, Evaluation, GroupCount,
    LimitedFigure, PackingLimits, PassCheck, PhaseAggregate, StartingOrder, Stock, Surrogate,
    TankGroups, allocate, group_tanks, pack,
};
use fairphase::study::common::progress::{Progress, Silent};
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::units::Farad;
use itertools::Itertools;
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

fn scenario(phases: usize, limit: &str) -> Scenario {
    let text = include_str!("../../scenarios/telecom-shelf.toml")
        .replace("phases = 3", &format!("phases = {phases}"))
        .replace("380 V", &format!("{} V", 380 * phases / 3))
        .replace("\"2.5 %\"", limit);
    // Two phases carry more each than three.
    let carried =
        |text: String| text.replace("\"9 A\"", "\"14 A\"").replace("\"18.5 A\"", "\"28 A\"");
    let text = if phases < 3 { carried(text) } else { text };
    Scenario::parse("shelf.toml", &text).unwrap_or_else(|errors| panic!("{errors}"))
}

/// Tanks drawn from the scenario's population, each from a sample of its own.
fn drawn(scenario: &Scenario, seed: u64, count: u64) -> Stock {
    let population = Population::new(scenario, seed);
    let tank = |k| MeasuredPart { serial: format!("T{k}"), part: population.draw(k).tanks[0] };
    Stock {
        tanks_file: "tanks.csv".into(),
        tanks: (0..count).map(tank).collect(),
        ..Stock::default()
    }
}

fn settings(threads: usize) -> Settings {
    Settings { samples: 0, seed: 3, method: Method::Exact, threads }
}

/// Allocates to chains with two driven legs.
fn request<'a>(
    stock: &'a Stock,
    nominal: &'a Converter,
    surrogate: &'a Surrogate,
    evaluator: &'a dyn ConverterEvaluator,
) -> AllocationRequest<'a> {
    AllocationRequest { stock, nominal, legs: 2, surrogate, evaluator, seed: 3 }
}

fn allocated(scenario: &Scenario, stock: &Stock, threads: usize) -> Allocation {
    let stop = AtomicBool::new(false);
    let session = Session::new(scenario, settings(threads), &stop).unwrap();
    let evaluator = ChainEvaluator::new(&session);
    let surrogate = Surrogate::new(&evaluator, &stock.tanks);
    let nominal = scenario.nominal_converter();
    allocate(&request(stock, &nominal, &surrogate, &evaluator), &mut Silent).unwrap()
}

/// All ways to group what is left into sets of `size`, every part used.
fn groupings(left: &[usize], size: usize) -> Vec<Vec<Vec<usize>>> {
    let Some((first, rest)) = left.split_first() else { return vec![Vec::new()] };
    let mut all = Vec::new();
    for others in rest.iter().copied().combinations(size - 1) {
        let group = [vec![*first], others].concat();
        let left: Vec<usize> = left.iter().copied().filter(|n| !group.contains(n)).collect();
        for mut grouping in groupings(&left, size) {
            grouping.push(group.clone());
            all.push(grouping);
        }
    }
    all
}

#[test]
fn groupings_are_as_many_as_they_should_be() {
    let all: Vec<usize> = (0..6).collect();
    assert_eq!((groupings(&all, 2).len(), groupings(&all, 3).len()), (15, 10));
    assert_eq!(groupings(&(0..8).collect::<Vec<_>>(), 2).len(), 105);
}

/// The most that any grouping passes, judged by the solver: every group in every order.
fn most(scenario: &Scenario, tanks: &[MeasuredPart<Tank>]) -> usize {
    let (phases, stop) = (scenario.phases, AtomicBool::new(false));
    let session = Session::new(scenario, settings(2), &stop).unwrap();
    let evaluator = ChainEvaluator::new(&session);
    let converter = |group: &Vec<usize>| {
        let mut converter: Converter = scenario.nominal_converter();
        converter.tanks = group.iter().map(|n| tanks[*n].part).collect();
        converter
    };
    let all: Vec<usize> = (0..tanks.len()).collect();
    let passing: Vec<Vec<usize>> = all
        .iter()
        .copied()
        .combinations(phases)
        .filter(|group| {
            let all: Vec<Converter> =
                group.iter().copied().permutations(phases).map(|order| converter(&order)).collect();
            evaluator.evaluate(&all).unwrap().iter().any(|evaluation| evaluation.passes)
        })
        .collect();
    let count = |grouping: Vec<Vec<usize>>| {
        let sorted = grouping.into_iter().map(|mut group| {
            group.sort_unstable();
            group
        });
        sorted.filter(|group| passing.contains(group)).count()
    };
    groupings(&all, phases).into_iter().map(count).max().unwrap()
}

/// Small stocks, limits at which about half of the converters pass.
#[test]
fn small_stocks_pass_as_many_as_brute_force() {
    for (phases, count, limit) in [(2, 8, "\"0.45 %\""), (3, 9, "\"0.8 %\"")] {
        let mut open = 0;
        let scenario = scenario(phases, limit);
        for seed in 0..12 {
            let stock = drawn(&scenario, 100 + seed, count);
            let allocation = allocated(&scenario, &stock, 2);
            let best = most(&scenario, &stock.tanks);
            assert_eq!(allocation.allocated, best, "{phases} phases, seed {seed}");
            assert!(allocation.proven);
            open += usize::from((1..allocation.converters).contains(&best));
        }
        assert!(open >= 4, "limits that decide something: {open}");
    }
}

/// A limit so close that the place in the chain decides: of nine invented tanks, two converters pass
/// at most (brute force), though of each some orders fail.
#[test]
fn places_in_the_chain_are_found_that_the_surrogate_does_not_see() {
    let text = include_str!("../../scenarios/seabed-node.toml");
    assert!(text.contains("sharing_error = \"1.3 %\""));
    let scenario = Scenario::parse("node", &text.replace("\"1.3 %\"", "\"0.6 %\"")).unwrap();
    let rows = "T0,5.213718e-06,2.267472e-07,3.078915e-05,2.391922,3.872550e-02,7.171545e-01
T1,5.300703e-06,2.114236e-07,2.108014e-05,2.395552,3.844953e-02,6.792002e-01
T2,5.201000e-06,2.159836e-07,2.960181e-05,2.417095,3.362227e-02,7.418695e-01
T3,4.926808e-06,2.268774e-07,2.990329e-05,2.386595,3.787796e-02,7.049469e-01
T4,5.484037e-06,2.136202e-07,2.641562e-05,2.414686,3.694282e-02,6.839728e-01
T5,4.939083e-06,2.296751e-07,2.573062e-05,2.419059,2.998250e-02,7.262252e-01
T6,5.395548e-06,2.292395e-07,2.098548e-05,2.395092,2.872337e-02,7.211709e-01
T7,5.109296e-06,2.301091e-07,2.469822e-05,2.410536,4.014904e-02,6.780715e-01
T8,5.235454e-06,2.300626e-07,2.627994e-05,2.394613,3.174081e-02,7.240635e-01
";
    let text = format!("{}\n{rows}", stock::TANK_COLUMNS.join(","));
    let tanks = stock::parse_tanks("t", &text, &scenario.nominal_converter()).unwrap().content;
    let stock = Stock { tanks, ..drawn(&scenario, 1, 0) };
    let allocation = allocated(&scenario, &stock, 2);
    assert_eq!((allocation.allocated, most(&scenario, &stock.tanks)), (2, 2));
    assert!(allocation.proven);
}

/// Passes converters whose tanks fit together in a way of its own, which no surrogate sees: the last
/// two turns ratios must lie in a window about the first, and flying capacitors be alike.
struct StandIn;

impl ConverterEvaluator for StandIn {
    fn evaluate(&self, converters: &[Converter]) -> Option<Vec<Evaluation>> {
        let passes = |c: &Converter| {
            let [a, b, d] = [0, 1, 2].map(|phase| c.tanks[phase].turns_ratio);
            let alike = c
                .flying
                .iter()
                .chain(&c.flying_return)
                .all(|f| (f.0 / c.flying[0].0 - 1.0).abs() < 0.02);
            alike && b > a + 0.005 && b < a + 0.04 && d < a - 0.005 && d > a - 0.04
        };
        let one = |c| Evaluation { passes: passes(c), sharing_error: None, missed: None };
        Some(converters.iter().map(one).collect())
    }

    fn stopped(&self) -> bool {
        false
    }
}

/// The most that the stand-in passes of these turns ratios, by trying all groupings.
fn most_of(ratios: &[f64], converters: &[Converter]) -> usize {
    let nominal = &converters[0];
    let all: Vec<usize> = (0..ratios.len()).collect();
    let passes = |group: &Vec<usize>| {
        group.iter().copied().permutations(3).any(|order| {
            let mut converter = nominal.clone();
            for (tank, n) in converter.tanks.iter_mut().zip(order) {
                tank.turns_ratio = ratios[n];
            }
            StandIn.evaluate(&[converter]).unwrap()[0].passes
        })
    };
    let count = |grouping: &Vec<Vec<usize>>| grouping.iter().filter(|group| passes(group)).count();
    groupings(&all, 3).iter().map(count).max().unwrap()
}

/// With a surrogate that knows nothing, small stocks are proven the best by brute force all the same.
#[test]
fn a_stand_in_that_the_surrogate_knows_nothing_of_is_packed_best() {
    let scenario = scenario(3, "\"1 %\"");
    let nominal = scenario.nominal_converter();
    let mut open = 0;
    for seed in 0..12 {
        let mut stock = drawn(&scenario, seed, 12);
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        for tank in &mut stock.tanks {
            tank.part.turns_ratio = 2.4 + 0.12 * f64::from(rng.next_u32()) / 4_294_967_296.0;
        }
        let surrogate = Surrogate { tanks: 12, figures: Vec::new(), margin: 1.0 };
        let found =
            allocate(&request(&stock, &nominal, &surrogate, &StandIn), &mut Silent).unwrap();
        let ratios: Vec<f64> = stock.tanks.iter().map(|tank| tank.part.turns_ratio).collect();
        let best = most_of(&ratios, std::slice::from_ref(&nominal));
        assert_eq!((found.allocated, found.proven), (best, true), "seed {seed}");
        open += usize::from((1..4).contains(&best));
    }
    assert!(open >= 4, "{open}");
}

fn packing_limits(counted_items: usize, most_groups: usize, most_tried: usize) -> PackingLimits {
    PackingLimits { counted_items, most_groups, most_tried }
}

/// The most disjoint groups, by trying all choices; the items after the second of each count too.
fn most_disjoint(groups: &[Vec<usize>]) -> usize {
    let Some((first, rest)) = groups.split_first() else { return 0 };
    let apart = |other: &&Vec<usize>| other.iter().all(|item| !first.contains(item));
    let left: Vec<Vec<usize>> = rest.iter().filter(apart).cloned().collect();
    most_disjoint(rest).max(1 + most_disjoint(&left))
}

/// Invented groups of two and three items, a third kind of item shared with others or not.
#[test]
fn packings_are_the_best_by_brute_force() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for trial in 0..300 {
        let size = 2 + trial % 2;
        let mut item = |from: usize, count: u32| from + (rng.next_u32() % count) as usize;
        let groups: Vec<Vec<usize>> = (0..18)
            .map(|_| {
                let mut group = Vec::new();
                while group.len() < size {
                    let next = item(0, 14);
                    if !group.contains(&next) {
                        group.push(next);
                    }
                }
                group.extend((trial % 3 == 0).then(|| item(14, 4)));
                group
            })
            .collect();
        let packing = pack(&groups, packing_limits(size, usize::MAX, usize::MAX), &|| false);
        let used: Vec<usize> = packing.chosen.iter().flat_map(|n| groups[*n].clone()).collect();
        let distinct: BTreeSet<usize> = used.iter().copied().collect();
        assert_eq!(distinct.len(), used.len(), "{groups:?}");
        assert!(packing.proven);
        assert_eq!(packing.chosen.len(), most_disjoint(&groups), "{groups:?}");
        let early = pack(&groups, packing_limits(size, usize::MAX, 20), &|| false);
        assert!(!early.proven && early.chosen.len() <= packing.chosen.len());
        let one = pack(&groups, packing_limits(size, 1, usize::MAX), &|| false);
        assert_eq!(one.chosen.len(), 1);
        let stopped = pack(&groups, packing_limits(size, usize::MAX, usize::MAX), &|| true);
        assert_eq!((stopped.chosen.len(), stopped.proven), (0, false));
    }
}

/// Ten clusters of five, of which any two fit: two pairs of each, which is proven at once.
#[test]
fn clusters_are_packed_each_by_itself() {
    let pairs = |first: usize| (first..first + 5).combinations(2);
    let groups: Vec<Vec<usize>> = (0..10).flat_map(|n| pairs(5 * n)).collect();
    let packing = pack(&groups, packing_limits(2, usize::MAX, 100_000), &|| false);
    assert_eq!((packing.chosen.len(), packing.proven), (20, true));
}

/// Flying capacitors of two kinds, which the deal by value mixes in one converter of three: with the
/// stand-in, which wants them alike, no part is used twice, and what is listed is what was judged.
#[test]
fn converters_and_their_flying_capacitors_stay_together() {
    let scenario = scenario(3, "\"1 %\"");
    let nominal = scenario.nominal_converter();
    let mut stock = drawn(&scenario, 5, 10);
    let capacitor = |n: u32| MeasuredPart {
        serial: format!("C{n}"),
        part: Farad(if n.is_multiple_of(2) { 48e-6 } else { 52e-6 }),
    };
    stock.capacitors_file = Some("capacitors.csv".into());
    stock.capacitors = (0..13).map(capacitor).collect();
    for (n, tank) in stock.tanks.iter_mut().enumerate() {
        tank.part.turns_ratio = 2.4 + 0.01 * n as f64;
    }
    let surrogate = Surrogate { tanks: 10, figures: Vec::new(), margin: 1.0 };
    let found = allocate(&request(&stock, &nominal, &surrogate, &StandIn), &mut Silent).unwrap();
    assert_eq!((found.converters, found.allocated, found.proven), (3, 2, false));
    let built = || found.build_list.iter().chain(found.rejected.iter().map(|own| &own.planned));
    let mut tanks: Vec<usize> = built().flat_map(|b| b.tanks.clone()).collect();
    let mut capacitors: Vec<usize> = built().flat_map(|b| b.capacitors.clone()).collect();
    tanks.extend(&found.spare_tanks);
    capacitors.extend(&found.spare_capacitors);
    tanks.sort_unstable();
    capacitors.sort_unstable();
    assert_eq!(tanks, (0..10).collect::<Vec<_>>());
    assert_eq!(capacitors, (0..13).collect::<Vec<_>>());
    assert!(found.build_list.iter().all(|build| build.evaluation.passes));
    for build in built() {
        let mut converter = nominal.clone();
        for (tank, n) in converter.tanks.iter_mut().zip(&build.tanks) {
            *tank = stock.tanks[*n].part;
        }
        let slots = converter.flying.iter_mut().chain(&mut converter.flying_return);
        for (slot, n) in slots.zip(&build.capacitors) {
            *slot = stock.capacitors[*n].part;
        }
        assert_eq!(StandIn.evaluate(&[converter]).unwrap()[0].passes, build.evaluation.passes);
    }
}

/// A surrogate whose tanks differ in one number alone, limited in its spread.
fn on_a_line(values: &[f64], limit: f64) -> Surrogate {
    let figure = LimitedFigure {
        aggregate: PhaseAggregate::Sharing(Measure::Spread),
        room: limit,
        own_effect: values.to_vec(),
        common_effect: vec![0.0; values.len()],
    };
    Surrogate { tanks: values.len(), figures: vec![figure], margin: 1.0 }
}

fn different_tanks(groups: &TankGroups) -> usize {
    groups.iter().flatten().collect::<BTreeSet<_>>().len()
}

/// On a line, where near enough is all that counts, the optimum is known: along the sorted values the
/// next N if they are near enough, else the first is set aside. The deals must not lose what the
/// start has, nor use a part twice.
#[test]
fn on_a_line_the_optimum_is_reached() {
    let mut rng = ChaCha8Rng::seed_from_u64(8);
    for (converters, phases, spare) in [(30, 2, 0), (20, 3, 1), (9, 5, 2)] {
        let uniform =
            |rng: &mut ChaCha8Rng| (rng.next_u64() >> 11) as f64 / 9_007_199_254_740_992.0;
        let mut values: Vec<f64> =
            (0..converters * phases + spare).map(|_| 0.2 * uniform(&mut rng)).collect();
        let surrogate = on_a_line(&values, 0.01);
        let count = GroupCount { converters, phases };
        let groups = group_tanks(&surrogate, count, StartingOrder::Sorted, &mut rng, &|| false);
        let spread = |values: &[f64]| {
            let mean: f64 = 1.0 + values.iter().sum::<f64>() / values.len() as f64;
            let (low, high) =
                values.iter().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(*x), h.max(*x)));
            (high - low) / mean
        };
        let measured = |tanks: &Vec<usize>| tanks.iter().map(|n| values[*n]).collect::<Vec<_>>();
        let passing = groups.iter().filter(|tanks| spread(&measured(tanks)) <= 0.01).count();
        assert_eq!(different_tanks(&groups), converters * phases);
        values.sort_by(f64::total_cmp);
        let (mut rest, mut best) = (values.as_slice(), 0);
        while let Some(next) = rest.get(..phases) {
            let near = spread(next) <= 0.01;
            best += usize::from(near);
            rest = &rest[if near { phases } else { 1 }..];
        }
        assert_eq!(passing, best.min(converters), "{converters} of {phases}");
    }
}

/// A larger stock: more pass than sorted by resonance, and far more than at random; every tank
/// stands in one place; the solver agrees with the list; threads change nothing.
#[test]
fn a_larger_stock_gains_by_the_allotment() {
    let scenario = scenario(3, "\"1 %\"");
    let stock = drawn(&scenario, 9, 61);
    let allocation = allocated(&scenario, &stock, 2);
    assert_eq!(allocation.converters, 20);
    assert!(
        allocation.allocated > allocation.sorted,
        "{} {}",
        allocation.allocated,
        allocation.sorted
    );
    assert!(allocation.allocated as f64 > allocation.at_random.mean + 3.0, "{allocation:?}");
    let built =
        || allocation.build_list.iter().chain(allocation.rejected.iter().map(|own| &own.planned));
    let mut places: Vec<usize> =
        built().flat_map(|build| &build.tanks).chain(&allocation.spare_tanks).copied().collect();
    places.sort_unstable();
    assert_eq!(places, (0..61).collect::<Vec<_>>());
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings(1), &stop).unwrap();
    let evaluator = ChainEvaluator::new(&session);
    for build in built() {
        let mut converter = scenario.nominal_converter();
        converter.tanks = build.tanks.iter().map(|n| stock.tanks[*n].part).collect();
        assert_eq!(
            evaluator.evaluate(&[converter]).unwrap(),
            std::slice::from_ref(&build.evaluation)
        );
    }
    let again = allocated(&scenario, &stock, 1);
    assert_eq!(again.rejected, allocation.rejected);
    assert_eq!((again.build_list, again.at_random), (allocation.build_list, allocation.at_random));
}

/// The stock beside the example scenario follows the rule that the scenario states.
#[test]
fn the_example_stock_follows_its_rule() {
    let text = include_str!("../../scenarios/seabed-node.toml");
    let scenario = Scenario::parse("seabed-node.toml", text).unwrap();
    let nominal = scenario.nominal_converter();
    let tanks = include_str!("../../scenarios/seabed-node-tanks.csv");
    let tanks = fairphase::population::stock::parse_tanks("t", tanks, &nominal).unwrap().content;
    let place = |k: usize, q: f64| 2.0 * (k as f64 * q.sqrt()).fract() - 1.0;
    let rule = [(2.0, 0.06), (3.0, 0.05), (5.0, 0.2), (7.0, 0.008), (11.0, 0.2), (13.0, 0.06)];
    for (n, tank) in tanks.iter().enumerate() {
        for (p, (q, band)) in Parameter::of_tank().zip(rule) {
            let wanted = scenario.nominal.value(p).unwrap() * (1.0 + band * place(n + 1, q));
            let found = tank.part.value(p).unwrap();
            assert!((found / wanted - 1.0).abs() < 6e-5, "{} {p:?}", tank.serial);
        }
    }
    let all = include_str!("../../scenarios/seabed-node-capacitors.csv");
    let flying = scenario.flying_capacitance;
    let all = fairphase::population::stock::parse_capacitors("c", all, flying, 4).unwrap().content;
    for (n, capacitor) in all.iter().enumerate() {
        let wanted = 47e-6 * (1.0 + 0.1 * place(n + 1, 2.0));
        assert!((capacitor.part.0 / wanted - 1.0).abs() < 6e-5, "{}", capacitor.serial);
    }
    assert_eq!((tanks.len(), all.len()), (62, 82));
}

/// The limits of the shelf with one of them closer, so that it and not the sharing error decides.
fn closer(from: &str, to: &str) -> Scenario {
    let text = include_str!("../../scenarios/telecom-shelf.toml");
    assert!(text.contains(from), "{from}");
    Scenario::parse("shelf.toml", &text.replace(from, to)).unwrap()
}

/// Where switch currents decide, small stocks pass as many as brute force finds too.
#[test]
fn other_limits_bind_and_nothing_is_lost() {
    for (from, to) in [("\"9 A\"", "\"8.1 A\""), ("\"18.5 A\"", "\"16.2 A\"")] {
        let scenario = closer(from, to);
        let mut open = 0;
        for seed in 300..308 {
            let stock = drawn(&scenario, seed, 9);
            let (found, best) =
                (allocated(&scenario, &stock, 2).allocated, most(&scenario, &stock.tanks));
            assert_eq!(found, best, "{to}, seed {seed}");
            open += usize::from((1..3).contains(&best));
        }
        assert!(open >= 4, "limits that decide something: {open}");
    }
}

/// The frequency goes by the sum of what all tanks do: converters of tanks that are alike leave a
/// narrow band, where mixed ones stay inside. There is no more than all.
#[test]
fn tanks_are_mixed_where_the_frequency_band_is_narrow() {
    for (from, to) in [("\"300 kHz\"", "\"202 kHz\""), ("\"90 kHz\"", "\"136 kHz\"")] {
        let scenario = closer(from, to);
        let allocation = allocated(&scenario, &drawn(&scenario, 9, 92), 2);
        assert_eq!((allocation.converters, allocation.allocated), (30, 30), "{to}");
        assert!(allocation.sorted < 25, "{to}: {}", allocation.sorted);
    }
}

/// Asks to stop once so many units of the allocations, or of the regrouping, are done.
struct Stopper<'a> {
    stop: &'a AtomicBool,
    stage: &'static str,
    at: u64,
    now: &'static str,
    done: u64,
    all: u64,
}

impl<'a> Stopper<'a> {
    fn new(stop: &'a AtomicBool, stage: &'static str, at: u64) -> Self {
        Self { stop, stage, at, now: "", done: 0, all: 0 }
    }
}

impl Progress for Stopper<'_> {
    fn stage(&mut self, name: &'static str, units: u64) {
        (self.now, self.done, self.all) = (name, 0, units);
    }

    fn advance(&mut self, units: u64) {
        self.done += units;
        assert!(self.done <= self.all, "{} of {}", self.done, self.all);
        if self.now == self.stage && self.done >= self.at {
            self.stop.store(true, Ordering::SeqCst);
        }
    }

    fn expect(&mut self, _: u64) {}
}

/// Asked to stop, the searches end with the best list by then, marked; before there is one, with
/// none.
#[test]
fn a_wish_to_stop_is_heard_between_searches() {
    let scenario = closer("\"9 A\"", "\"8.05 A\"");
    let stock = drawn(&scenario, 9, 92);
    let nominal = scenario.nominal_converter();
    let stopped_after = |allotments: u64| {
        let stop = AtomicBool::new(false);
        let session = Session::new(&scenario, settings(1), &stop).unwrap();
        let evaluator = ChainEvaluator::new(&session);
        let surrogate = Surrogate::new(&evaluator, &stock.tanks);
        let mut stopper = Stopper::new(&stop, "allocations of the stock", allotments);
        allocate(&request(&stock, &nominal, &surrogate, &evaluator), &mut stopper)
    };
    assert!(stopped_after(20).is_none());
    let first = stopped_after(21).unwrap();
    assert!(
        first.partial
            && first.build_list.len() + first.rejected.len() == 30
            && first.allocated > first.sorted
    );
    let all = stopped_after(u64::MAX).unwrap();
    assert!(!all.partial && all.allocated >= first.allocated);
}

/// The stand-in where every check takes so much work; it counts the converters checked, and asks
/// nothing more once the user wants to stop.
struct CostlyStandIn<'a> {
    work: u64,
    checked: AtomicU64,
    stop: &'a AtomicBool,
}

impl ConverterEvaluator for CostlyStandIn<'_> {
    fn evaluate(&self, converters: &[Converter]) -> Option<Vec<Evaluation>> {
        if self.stopped() { None } else { StandIn.evaluate(converters) }
    }

    fn check(&self, converters: &[Converter]) -> Option<Vec<PassCheck>> {
        self.checked.fetch_add(converters.len() as u64, Ordering::SeqCst);
        let check =
            |e: Evaluation| PassCheck { passing: Some(e).filter(|e| e.passes), work: self.work };
        Some(self.evaluate(converters)?.into_iter().map(check).collect())
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }
}

/// Invented turns ratios, of which no surrogate knows anything; 25 tanks make 13 800 groups in order.
fn scattered() -> (Scenario, Stock, Surrogate) {
    let scenario = scenario(3, "\"1 %\"");
    let mut stock = drawn(&scenario, 1, 25);
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    for tank in &mut stock.tanks {
        tank.part.turns_ratio = 2.4 + 0.6 * f64::from(rng.next_u32()) / 4_294_967_296.0;
    }
    (scenario, stock, Surrogate { tanks: 25, figures: Vec::new(), margin: 1.0 })
}

/// Where checks take long, the budget of work ends them, and nothing is called proven.
#[test]
fn a_costly_regrouping_ends_with_its_budget() {
    let (scenario, stock, surrogate) = scattered();
    let nominal = scenario.nominal_converter();
    let stop = AtomicBool::new(false);
    let found_with = |work: u64| {
        let costly = CostlyStandIn { work, checked: AtomicU64::new(0), stop: &stop };
        let request = request(&stock, &nominal, &surrogate, &costly);
        (allocate(&request, &mut Silent).unwrap(), costly.checked.into_inner())
    };
    let (quick, all) = found_with(1);
    assert!(quick.proven && quick.allocated < quick.converters, "{quick:?}");
    let (slow, few) = found_with(1000);
    assert!(!slow.proven && !slow.partial && slow.allocated <= quick.allocated);
    // 2.5 million units of work, and what the last round of checks is over.
    assert!(few <= 2500 + 512 && all > 10_000, "{few} of {all}");
}

/// Asked to stop while groups are checked, no more of them are.
#[test]
fn a_wish_to_stop_is_heard_while_groups_are_checked() {
    let (scenario, stock, surrogate) = scattered();
    let nominal = scenario.nominal_converter();
    let stop = AtomicBool::new(false);
    let costly = CostlyStandIn { work: 1, checked: AtomicU64::new(0), stop: &stop };
    let mut stopper = Stopper::new(&stop, "regrouping of the stock", 1000);
    let found = allocate(&request(&stock, &nominal, &surrogate, &costly), &mut stopper).unwrap();
    assert!(found.partial && !found.proven);
    assert!(costly.checked.into_inner() <= 1000 + 2 * 512);
}

/// A stock of a thousand converters is assigned in many batches, every tank to one converter.
#[test]
fn a_large_stock_is_assigned_in_many_batches() {
    let mut rng = ChaCha8Rng::seed_from_u64(2);
    let values: Vec<f64> = (0..3050).map(|_| f64::from(rng.next_u32()) / 4.3e10).collect();
    let count = GroupCount { converters: 1000, phases: 3 };
    let surrogate = on_a_line(&values, 2e-4);
    let groups = group_tanks(&surrogate, count, StartingOrder::Random, &mut rng, &|| false);
    assert_eq!((groups.len(), different_tanks(&groups)), (1000, 3000));
}
