//! Matched parts: how near the parts of one group are, that nothing else changes, and what a converter
//! built from real pools would be.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use fairphase::converter::Parameter;
use fairphase::population::Population;
use fairphase::scenario::{Matching, Scenario, Shape, Tolerance};
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

/// Three phases; the data in it are invented.
const SHELF: &str = include_str!("../data/shelf.toml");
const BAND: f64 = 0.1;
const SAMPLES: u64 = 20_000;

/// Chokes within ±10 %, matched like this.
fn population(matching: Option<Matching>, lot_share: f64, shape: Shape) -> Population {
    let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
    let tolerance = Tolerance { matching, lot_share, ..Tolerance::new(shape, BAND) };
    let tolerances = scenario.tolerances.with(Parameter::ResonantInductance, Some(tolerance));
    Population::with_tolerances(scenario.nominal_converter(), &tolerances, 9)
}

fn matched(pieces: usize, uncertainty: f64) -> Matching {
    Matching { pieces, cost: 0.0, uncertainty }
}

/// The chokes of a sample in units of the half band: −1 to 1.
fn chokes(population: &Population, sample: u64) -> [f64; 3] {
    let nominal = population.nominal().tanks[0].resonant_inductance.0;
    let drawn = population.draw(sample);
    [0, 1, 2].map(|k| (drawn.tanks[k].resonant_inductance.0 / nominal - 1.0) / BAND)
}

fn range(values: [f64; 3]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - values.iter().copied().fold(f64::INFINITY, f64::min)
}

/// Mean and standard error.
fn mean(values: &[f64]) -> [f64; 2] {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    [mean, (variance / n).sqrt()]
}

fn ranges(population: &Population) -> Vec<f64> {
    (0..SAMPLES).map(|k| range(chokes(population, k))).collect()
}

/// Uniform order statistics: E(U₍ₛ₎ − U₍ᵣ₎) = (s − r)/(P + 1) (H. A. David, H. N. Nagaraja, Order Statistics,
/// 3rd edition (2003), chapter 2). Three neighbours of P span 2/(P + 1), of a band of 2.
#[test]
fn neighbours_of_an_exact_measurement_are_as_near_as_order_statistics() {
    for pieces in [6, 30, 120] {
        let [found, error] =
            mean(&ranges(&population(Some(matched(pieces, 0.0)), 0.0, Shape::Uniform)));
        let expected = 2.0 * 2.0 / (pieces as f64 + 1.0);
        assert!((found - expected).abs() < 4.0 * error, "{pieces}: {found} against {expected}");
    }
    let [unmatched, error] = mean(&ranges(&population(None, 0.0, Shape::Uniform)));
    assert!(
        (unmatched - 1.0).abs() < 4.0 * error,
        "three of three span half the band: {unmatched}"
    );
    let [few, _] = mean(&ranges(&population(Some(matched(5, 0.0)), 0.0, Shape::Uniform)));
    assert!((few - 1.0).abs() < 4.0 * error, "five parts make one group of three: {few}");
}

/// Where one leg alone is driven, a converter of three phases has two flying capacitors: two neighbours of P span
/// 1/(P + 1) of the band. Those of the other leg, which nobody buys, stay as they are.
#[test]
fn flying_capacitors_of_one_leg_are_matched_among_themselves() {
    let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
    let population = |matching| {
        let tolerance = Tolerance { matching, ..Tolerance::new(Shape::Uniform, BAND) };
        let tolerances = scenario.tolerances.with(Parameter::FlyingCapacitance, Some(tolerance));
        Population::with_tolerances(scenario.nominal_converter(), &tolerances, 9)
    };
    let (plain, pieces) = (population(None), 12);
    let matched = population(Some(matched(pieces, 0.0)));
    let nominal = scenario.flying_capacitance.0;
    let spans = |legs: usize| -> Vec<f64> {
        let of_legs = matched.clone().with_driven_legs(legs);
        let span = |sample: u64| {
            let drawn = of_legs.draw(sample);
            assert!(legs == 2 || drawn.flying_return == plain.draw(sample).flying_return);
            let used = drawn.flying.iter().chain(drawn.flying_return.iter().filter(|_| legs == 2));
            let values: Vec<f64> = used.map(|c| (c.0 / nominal - 1.0) / BAND).collect();
            values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - values.iter().copied().fold(f64::INFINITY, f64::min)
        };
        (0..SAMPLES).map(span).collect()
    };
    for legs in [1, 2] {
        let [found, error] = mean(&spans(legs));
        let expected = 2.0 * (2 * legs - 1) as f64 / (pieces as f64 + 1.0);
        assert!((found - expected).abs() < 4.0 * error, "{legs}: {found} against {expected}");
    }
}

/// A measurement far worse than the band sorts nothing.
#[test]
fn a_useless_measurement_matches_nothing() {
    let [found, error] = mean(&ranges(&population(Some(matched(60, 50.0)), 0.0, Shape::Uniform)));
    assert!((found - 1.0).abs() < 4.0 * error, "{found}");
}

/// Sorting changes which parts meet, not the parts: each place has the distribution of the grade.
/// Kolmogorov's distance at a level of 0.1 %: 1.95/√n.
#[test]
fn the_parts_themselves_stay_as_the_grade_has_them() {
    let population = population(Some(matched(30, 0.002)), 0.0, Shape::Uniform);
    for phase in 0..3 {
        let mut values: Vec<f64> = (0..SAMPLES).map(|k| chokes(&population, k)[phase]).collect();
        values.sort_by(f64::total_cmp);
        let n = SAMPLES as f64;
        let distance = |(k, x): (usize, &f64)| {
            let at = 0.5 * (x + 1.0);
            (at - k as f64 / n).abs().max((at - (k as f64 + 1.0) / n).abs())
        };
        let farthest = values.iter().enumerate().map(distance).fold(0.0, f64::max);
        assert!(farthest < 1.95 / n.sqrt(), "phase {phase}: {farthest}");
    }
}

/// All groups of whole pools, made by hand with another generator: the same share of them is near enough.
#[test]
fn groups_pass_as_often_as_those_of_whole_pools() {
    let (pieces, uncertainty) = (30, 0.004);
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let mut uniform = || ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0;
    let (mut near, mut groups) = (0.0, 0.0);
    for _ in 0..4000 {
        let mut pool: Vec<[f64; 2]> = (0..pieces)
            .map(|_| {
                let value = 2.0 * uniform() - 1.0;
                // G. E. P. Box and M. E. Muller, Ann. Math. Statist. 29 (1958) 610–611.
                let angle = std::f64::consts::TAU * uniform();
                let error = (-2.0 * uniform().ln()).sqrt() * angle.cos();
                [value, value + uncertainty / BAND * error]
            })
            .collect();
        pool.sort_by(|a, b| a[1].total_cmp(&b[1]));
        for group in pool.chunks(3) {
            near += f64::from(u8::from(range([group[0][0], group[1][0], group[2][0]]) < 0.15));
            groups += 1.0;
        }
    }
    let by_hand = near / groups;
    let found = ranges(&population(Some(matched(pieces, uncertainty)), 0.0, Shape::Uniform));
    let found = found.iter().filter(|range| **range < 0.15).count() as f64 / SAMPLES as f64;
    // Groups of one pool depend on each other a little: both counts scatter less than independent ones.
    let error = (by_hand * (1.0 - by_hand) * (1.0 / SAMPLES as f64 + 1.0 / groups)).sqrt();
    assert!((0.2..0.8).contains(&by_hand), "a share that says something: {by_hand}");
    assert!((found - by_hand).abs() < 4.0 * error, "{found} against {by_hand}");
}

/// The first choke is the sample's own, so that grades differ by their parts alone; what other parts a
/// sample holds does not depend on the matching.
#[test]
fn a_sample_keeps_its_own_first_part_and_all_other_parts() {
    let shape = Shape::normal(3.0);
    for lot_share in [0.0, 0.4] {
        let plain = population(None, lot_share, shape.clone());
        let own = population(Some(matched(60, 0.002)), lot_share, shape.clone());
        let mut nearer = 0;
        for sample in 0..200 {
            let (a, b) = (plain.draw(sample), own.draw(sample));
            assert_eq!(a.tanks[0], b.tanks[0]);
            assert_eq!(a.tanks[1].resonant_capacitance, b.tanks[1].resonant_capacitance);
            assert_eq!(a.flying, b.flying);
            nearer += usize::from(range(chokes(&own, sample)) < range(chokes(&plain, sample)));
        }
        assert!(nearer > 180, "lot share {lot_share}: {nearer} of 200 are nearer");
    }
}
