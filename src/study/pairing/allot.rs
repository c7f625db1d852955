//! The search: which tanks make up which converter, by the surrogate.
//!
//! Grouping by more than two is hard in general. Here it starts from what is best when tanks differ
//! in one number alone: along the sorted tanks, the next N make a converter if they are near enough,
//! else the first of them is set aside. Then, again and again, every converter gives up one tank,
//! and the tanks given up are dealt out anew, together with those left over, in the best possible way:
//! an assignment problem, solved exactly (H. W. Kuhn, Naval Research Logistics Quarterly 2 (1955)
//! 83–97; J. Munkres, 1957). No such deal can make the whole worse.

use arrayvec::ArrayVec;
use pathfinding::matrix::Matrix;
use pathfinding::prelude::kuhn_munkres_min;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;

use super::Allotment;
use super::score::{Score, expected};
use crate::converter::MAX_PHASES;

/// What a converter costs that the surrogate expects to fail: more than all that pass together.
const FAILS: i64 = 1_000_000_000;
/// What one costs that is at the limit.
const AT_LIMIT: f64 = 1000.0;
/// Deals that may go by without a gain.
const PATIENCE: usize = 40;
/// Deals are limited so that their number times the third power of the converters stays here.
const WORK: usize = 2_000_000_000;

/// How the search begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// Along the sorted tanks.
    Sorted,
    /// With tanks as they come, which leads to other ends.
    Chance,
}

/// Allots tanks to `converters` with so many `phases`; the stock must be enough. The same scores and
/// the same draws of `rng` give the same allotment.
pub fn allot(
    scores: &[Score],
    (converters, phases): (usize, usize),
    (start, rng): (Start, &mut ChaCha8Rng),
) -> Allotment {
    let (mut allotment, mut spare) = match start {
        Start::Sorted => sorted(scores, (converters, phases)),
        Start::Chance => chance(scores.len(), (converters, phases), rng),
    };
    let deals = (WORK / converters.pow(3).max(1)).clamp(20, 400);
    let mut idle = 0;
    for _ in 0..deals {
        let before = total(scores, &allotment);
        deal(scores, &mut allotment, &mut spare, rng);
        idle = if total(scores, &allotment) < before { 0 } else { idle + 1 };
        if idle > PATIENCE {
            break;
        }
    }
    allotment
}

/// What a converter costs: little if it is expected to pass, and the less the surer.
fn cost(scores: &[Score], tanks: &[usize]) -> i64 {
    let expected = expected(scores, tanks);
    #[expect(clippy::cast_possible_truncation, reason = "at most ten thousand")]
    let shade = (AT_LIMIT * expected.min(10.0)) as i64;
    if expected <= 1.0 { shade } else { FAILS + shade }
}

fn total(scores: &[Score], allotment: &Allotment) -> i64 {
    allotment.iter().map(|tanks| cost(scores, tanks)).sum()
}

/// Along the tanks in the order of their mean departures: the next N if they are near enough, else
/// the first is set aside. What was set aside fills the converters that are left.
fn sorted(scores: &[Score], (converters, phases): (usize, usize)) -> (Allotment, Vec<usize>) {
    let mean = |n: &usize| scores[*n].departures.iter().sum::<f64>();
    let mut order: Vec<usize> = (0..scores.len()).collect();
    order.sort_by(|a, b| mean(a).total_cmp(&mean(b)));
    let (mut allotment, mut aside, mut rest): (Allotment, _, _) =
        (Vec::new(), Vec::new(), order.as_slice());
    while let Some(next) = rest.get(..phases).filter(|_| allotment.len() < converters) {
        if expected(scores, next) <= 1.0 {
            allotment.push(next.to_vec());
            rest = &rest[phases..];
        } else {
            aside.push(rest[0]);
            rest = &rest[1..];
        }
    }
    aside.extend(rest);
    let missing = (converters - allotment.len()) * phases;
    let spare = aside.split_off(missing.min(aside.len()));
    allotment.extend(aside.chunks(phases).map(<[usize]>::to_vec));
    (allotment, spare)
}

/// Tanks as they come.
fn chance(
    tanks: usize,
    (converters, phases): (usize, usize),
    rng: &mut ChaCha8Rng,
) -> (Allotment, Vec<usize>) {
    let mut order: Vec<usize> = (0..tanks).collect();
    order.shuffle(rng);
    let spare = order.split_off((converters * phases).min(tanks));
    (order.chunks(phases).map(<[usize]>::to_vec).collect(), spare)
}

/// Every converter gives up one tank, chosen by chance; they and the spare ones are dealt out anew.
fn deal(scores: &[Score], allotment: &mut Allotment, spare: &mut Vec<usize>, rng: &mut ChaCha8Rng) {
    let mut pool = Vec::new();
    for tanks in allotment.iter_mut() {
        tanks.shuffle(rng);
        pool.extend(tanks.pop());
    }
    pool.append(spare);
    let weight = |(converter, tank): (usize, usize)| {
        let mut tanks: ArrayVec<usize, MAX_PHASES> = allotment[converter].iter().copied().collect();
        tanks.push(pool[tank]);
        cost(scores, &tanks)
    };
    let weights = Matrix::from_fn(allotment.len(), pool.len(), weight);
    let (_, chosen) = kuhn_munkres_min(&weights);
    for (tanks, tank) in allotment.iter_mut().zip(&chosen) {
        tanks.push(pool[*tank]);
    }
    let dealt = |n: &usize| chosen.contains(n);
    *spare = (0..pool.len()).filter(|n| !dealt(n)).map(|n| pool[n]).collect();
}
