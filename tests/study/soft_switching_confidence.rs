//! How often is a range of dead times, or a largest magnetising inductance, for the target share of all
//! converters wrong? Whole searches on invented converters whose true shares are known and lie just
//! below the target beyond a place.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::convert::Infallible;

use fairphase::statistics::Confidence;
use fairphase::study::explanation::{
    CountRule, SearchSamples, SoftRange, best_place, largest_step, soft_range,
};
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

const SEARCHES: u64 = 4000;
/// Standard errors that an observed frequency may lie above its bound.
const STANDARD_ERRORS: f64 = 4.0;
const PLACES: usize = 30;
/// Of all converters: a little too few.
const JUST_TOO_FEW: f64 = 0.895;

fn rule() -> CountRule {
    CountRule { target: 0.9, confidence: Confidence::new(0.8).unwrap() }
}

fn samples() -> SearchSamples {
    SearchSamples { pilot: 30, counted: 80, rule: rule() }
}

/// The observed frequency is no higher than a bound, but for chance.
#[track_caller]
fn at_most(wrong: u64, bound: f64) {
    let n = SEARCHES as f64;
    let allowed = bound * n + STANDARD_ERRORS * (n * bound * (1.0 - bound)).sqrt();
    assert!((wrong as f64) <= allowed, "{wrong} of {SEARCHES} are wrong: more than {bound}");
}

/// Enough converters are soft from place 10 to 19 alone; beside it each end has just too few.
fn with_ends(random: &mut ChaCha8Rng) -> Vec<bool> {
    let early = if random.random_bool(JUST_TOO_FEW) { 0 } else { 10 };
    let late = if random.random_bool(JUST_TOO_FEW) { PLACES - 1 } else { 19 };
    (0..PLACES).map(|place| place >= early && place <= late).collect()
}

/// Each place is soft by itself.
fn without_order(random: &mut ChaCha8Rng) -> Vec<bool> {
    (0..PLACES).map(|_| random.random_bool(JUST_TOO_FEW)).collect()
}

fn draw(
    random: &mut ChaCha8Rng,
    count: u64,
    converter: fn(&mut ChaCha8Rng) -> Vec<bool>,
) -> Vec<Vec<bool>> {
    (0..count).map(|_| converter(random)).collect()
}

fn wrong_ranges(
    converter: fn(&mut ChaCha8Rng) -> Vec<bool>,
    is_wrong: impl Fn(Option<SoftRange>) -> bool,
) -> u64 {
    let wrong = |seed: &u64| {
        let mut random = ChaCha8Rng::seed_from_u64(*seed);
        let pilot = draw(&mut random, samples().pilot, converter);
        let counted = draw(&mut random, samples().counted, converter);
        let found = best_place(&pilot).and_then(|from| soft_range(&counted, from, &rule()));
        is_wrong(found)
    };
    (0..SEARCHES).filter(wrong).count() as u64
}

/// Both ends together: one less the confidence. One end alone comes near half of it, so that the bound
/// is not idle.
#[test]
fn a_range_of_dead_times_errs_no_more_than_it_may() {
    let begins_early = |found: Option<SoftRange>| found.is_some_and(|range| range.first < 10);
    let ends_late = |found: Option<SoftRange>| found.is_some_and(|range| range.last > 19);
    at_most(wrong_ranges(with_ends, |found| begins_early(found) || ends_late(found)), 0.2);
    let early = wrong_ranges(with_ends, begins_early);
    at_most(early, 0.1);
    assert!(early as f64 > 0.02 * SEARCHES as f64, "{early}: the case is no hard one");
}

/// Where no place is true, any range is wrong. Looking at each place by itself would err nearly always.
#[test]
fn a_range_does_not_err_more_for_the_many_dead_times_tried() {
    at_most(wrong_ranges(without_order, |found| found.is_some()), 0.1);
    let place_by_place = |seed: &u64| {
        let mut random = ChaCha8Rng::seed_from_u64(*seed);
        let counted = draw(&mut random, samples().counted, without_order);
        let soft = |place: usize| counted.iter().filter(|own| own[place]).count() as u64;
        (0..PLACES).any(|place| rule().shows(soft(place), samples().counted))
    };
    let wrong = (0..SEARCHES).filter(place_by_place).count() as f64;
    assert!(wrong > 0.5 * SEARCHES as f64, "the wrong method errs in {wrong} cases only");
}

/// Just too few converters are soft above step 5, whatever the factor: each answer above it is wrong.
/// Taking the largest factor that passes by itself would err more often.
#[test]
fn the_largest_inductance_errs_no_more_than_it_may() {
    let (mut wrong, mut wrong_without_order) = (0, 0);
    for seed in 0..SEARCHES {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut soft: BTreeMap<(u64, i32), bool> = BTreeMap::new();
        let mut fails_at_most =
            |most: u64, numbers: &[u64], step: i32| -> Result<bool, Infallible> {
                let mut is_soft = |number: &u64| {
                    *soft.entry((*number, step)).or_insert_with(|| {
                        random.random_bool(if step > 5 { JUST_TOO_FEW } else { 0.999 })
                    })
                };
                let failing = numbers.iter().filter(|number| !is_soft(number)).count() as u64;
                Ok(failing <= most)
            };
        let Ok(found) = largest_step(&samples(), &mut fails_at_most);
        wrong += u64::from(found.is_some_and(|step| step > 5));
        let counted: Vec<u64> = (1000..1000 + samples().counted).collect();
        let most = (1..20).take_while(|n| rule().shows(samples().counted - n, samples().counted));
        let most = most.count() as u64;
        let any = (6..=32).any(|step| fails_at_most(most, &counted, step) == Ok(true));
        wrong_without_order += u64::from(any);
    }
    at_most(wrong, 0.1);
    let often = 0.3 * SEARCHES as f64;
    assert!(
        wrong_without_order as f64 > often,
        "{wrong_without_order}: the wrong method is no worse"
    );
}
