//! Measured flying capacitors allotted to converters, more of them than are needed: against brute force.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::Converter;
use fairphase::population::Population;
use fairphase::population::stock::MeasuredPart;
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::allocation::{
    Allocation, AllocationRequest, ChainEvaluator, ConverterEvaluator, Stock, Surrogate, allocate,
};
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::units::Farad;
use itertools::Itertools as _;

/// Two phases, limits at which about half of the converters pass: on sharing, and on the ripple of the flying
/// capacitors.
fn scenario() -> Scenario {
    let text = include_str!("../../scenarios/telecom-shelf.toml")
        .replace("phases = 3", "phases = 2")
        .replace("380 V", "253 V")
        .replace("\"2.5 %\"", "\"0.6 %\"")
        // Two phases carry more each than three.
        .replace("\"9 A\"", "\"14 A\"")
        .replace("\"18.5 A\"", "\"28 A\"");
    let text = format!(
        "{text}\n[[limits.part]]\npart = \"flying_capacitor\"\nripple_voltage = \"{RIPPLE} V\"\n"
    );
    Scenario::parse("shelf.toml", &text).unwrap_or_else(|errors| panic!("{errors}"))
}

/// What a capacitor a little smaller than nominal has.
const RIPPLE: f64 = 1.1;

/// Tanks drawn from the population, and invented capacitors from half to one and a half of the nominal one.
fn drawn(scenario: &Scenario, seed: u64, tanks: u64, capacitors: u32) -> Stock {
    let population = Population::new(scenario, seed);
    let tank = |k| MeasuredPart { serial: format!("T{k}"), part: population.draw(k).tanks[0] };
    let nominal = scenario.nominal_converter().flying[0].0;
    let place = |k: u32| (f64::from(k + 1) * (seed as f64).sqrt()).fract();
    let capacitor =
        |k| MeasuredPart { serial: format!("C{k}"), part: Farad((0.5 + place(k)) * nominal) };
    Stock {
        tanks: (0..tanks).map(tank).collect(),
        capacitors_file: Some("capacitors.csv".into()),
        capacitors: (0..capacitors).map(capacitor).collect(),
        ..Stock::default()
    }
}

/// What both ways are asked.
struct Bench<'a> {
    scenario: &'a Scenario,
    stock: &'a Stock,
    /// Legs whose capacitors are allotted; those of the other one stay nominal.
    legs: usize,
    evaluator: &'a ChainEvaluator<'a>,
}

impl Bench<'_> {
    fn allocated(&self) -> Allocation {
        let Self { scenario, stock, legs, evaluator } = *self;
        let surrogate = Surrogate::new(evaluator, &stock.tanks);
        let nominal = &scenario.nominal_converter();
        let surrogate = &surrogate;
        let request = AllocationRequest { stock, nominal, legs, surrogate, evaluator, seed: 3 };
        allocate(&request, &mut Silent).unwrap()
    }

    fn converter(&self, tanks: &[usize], capacitors: &[usize]) -> Converter {
        let mut converter = self.scenario.nominal_converter();
        converter.tanks = tanks.iter().map(|n| self.stock.tanks[*n].part).collect();
        let slots = converter.flying.iter_mut().chain(&mut converter.flying_return);
        for (slot, n) in slots.zip(capacitors) {
            *slot = self.stock.capacitors[*n].part;
        }
        converter
    }

    /// The most converters that pass, of all groups of parts that share none; capacitors in their order.
    fn most(&self) -> usize {
        let tanks = (0..self.stock.tanks.len()).combinations(2);
        let sets = (0..self.stock.capacitors.len()).combinations(self.legs);
        let passes = |group: &[Vec<usize>; 2]| {
            let [tanks, capacitors] = group;
            let orders = tanks.iter().copied().permutations(2);
            let all: Vec<Converter> =
                orders.map(|order| self.converter(&order, capacitors)).collect();
            self.evaluator.evaluate(&all).unwrap().iter().any(|evaluation| evaluation.passes)
        };
        let groups = tanks.cartesian_product(sets.collect::<Vec<_>>()).map(<[Vec<usize>; 2]>::from);
        most_apart(&groups.filter(passes).collect::<Vec<_>>())
    }
}

/// The most groups that share neither tank nor capacitor, by trying all choices: the first tank goes to one of its
/// groups, or to none.
fn most_apart(groups: &[[Vec<usize>; 2]]) -> usize {
    let Some(tank) = groups.first().map(|group| group[0][0]) else { return 0 };
    let (own, others): (Vec<_>, Vec<_>) =
        groups.iter().cloned().partition(|group| group[0][0] == tank);
    let with = |group: &[Vec<usize>; 2]| {
        let is_apart = |other: &&[Vec<usize>; 2]| {
            (0..2).all(|kind| other[kind].iter().all(|n| !group[kind].contains(n)))
        };
        1 + most_apart(&others.iter().filter(is_apart).cloned().collect::<Vec<_>>())
    };
    own.iter().map(with).fold(most_apart(&others), usize::max)
}

/// Capacitors left over are used where they help: no converter fails that other parts in stock would mend.
#[test]
fn capacitors_left_over_are_used_where_they_help() {
    let (scenario, stop) = (scenario(), AtomicBool::new(false));
    let settings = Settings { samples: 0, seed: 3, method: Method::Exact, threads: 2 };
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let evaluator = &ChainEvaluator::new(&session);
    let mut open = 0;
    for (seed, tanks, capacitors, legs) in
        [(5, 7, 5, 1), (113, 6, 4, 1), (121, 7, 6, 1), (7, 6, 3, 1), (11, 6, 8, 2), (13, 4, 7, 2)]
    {
        let stock = &drawn(&scenario, seed, tanks, capacitors);
        let bench = Bench { scenario: &scenario, stock, legs, evaluator };
        let (found, most) = (bench.allocated(), bench.most());
        assert!(found.allocated >= most, "seed {seed}: {} of {most}", found.allocated);
        assert!(legs > 1 || found.allocated == most, "seed {seed}");
        assert!(found.proven || legs > 1, "seed {seed}");
        open += usize::from(most > 0 && most < found.converters);
    }
    assert!(open >= 2, "{open}");
}

/// The capacitors nearest to nominal all miss the limit, and larger ones are there: these are built in, also
/// where the stock is far too large to try everything.
#[test]
fn larger_capacitors_are_built_in_where_those_nearest_to_nominal_miss() {
    let (scenario, stop) = (scenario(), AtomicBool::new(false));
    let settings = Settings { samples: 0, seed: 3, method: Method::Exact, threads: 2 };
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let evaluator = &ChainEvaluator::new(&session);
    for (tanks, count) in [(9, 4), (60, 30)] {
        let nominal = scenario.nominal_converter().flying[0].0;
        let mut stock = drawn(&scenario, 3, tanks, 2 * count);
        for (n, capacitor) in stock.capacitors.iter_mut().enumerate() {
            let is_small = n < count as usize;
            capacitor.part = Farad(if is_small { 0.7 * nominal } else { 1.5 * nominal });
        }
        let bench = Bench { scenario: &scenario, stock: &stock, legs: 1, evaluator };
        let with_all = bench.allocated();
        let mut large = stock.clone();
        large.capacitors.drain(..count as usize);
        let with_large = Bench { stock: &large, ..bench }.allocated();
        assert!(with_large.allocated * 3 > with_large.converters, "{}", with_large.allocated);
        assert!(with_all.allocated >= with_large.allocated, "{tanks} tanks");
    }
}
