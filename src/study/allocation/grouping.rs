//! The search: which tanks make up which converter, by the surrogate.
//!
//! Grouping by more than two is hard in general. Here it starts from what is best when tanks differ
//! in one number alone: along the sorted tanks, the next N make a converter if they are near enough,
//! else the first of them is set aside. Then, again and again, every converter gives up one tank,
//! and the tanks given up are dealt out anew, together with those left over, in the best possible way:
//! an assignment problem, solved exactly (H. W. Kuhn, Naval Research Logistics Quarterly 2 (1955)
//! 83–97; J. Munkres, 1957). No such deal can make the whole worse. Large stocks are dealt at several
//! tables, with other converters at each of them every time.

use arrayvec::ArrayVec;
use pathfinding::matrix::Matrix;
use pathfinding::prelude::kuhn_munkres_min;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;

use super::Allotment;
use super::surrogate::Surrogate;
use crate::converter::MAX_PHASES;

/// What a converter costs that the surrogate expects to fail: more than all that pass together.
const FAILS: i64 = 1_000_000_000;
/// What one costs that is at the limit.
const AT_LIMIT: f64 = 1000.0;
/// Deals at most, and those that may go by without a gain.
const DEALS: usize = 400;
const PATIENCE: usize = 40;
/// Converters, and spare tanks, that one assignment takes at most: its time grows with their third
/// power.
const TABLE: usize = 100;

/// How the search begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StartingOrder {
    /// Along the sorted tanks.
    Sorted,
    /// With tanks as they come, which leads to other ends.
    Random,
}

/// Allots tanks to `converters` with so many `phases`; the stock must be enough. The same surrogate and
/// the same draws of `rng` give the same allotment, unless `stopped` says that nobody wants it.
pub fn group_tanks(
    surrogate: &Surrogate,
    (converters, phases): (usize, usize),
    (start, rng): (StartingOrder, &mut ChaCha8Rng),
    stopped: &dyn Fn() -> bool,
) -> Allotment {
    let (mut allotment, mut spare) = match start {
        StartingOrder::Sorted => sorted(surrogate, (converters, phases)),
        StartingOrder::Random => chance(surrogate.tanks, (converters, phases), rng),
    };
    let mut idle = 0;
    for _ in 0..DEALS {
        if idle > PATIENCE || stopped() {
            break;
        }
        let before = total(surrogate, &allotment);
        allotment.shuffle(rng);
        for table in allotment.chunks_mut(TABLE) {
            deal(surrogate, table, &mut spare, rng);
        }
        idle = if total(surrogate, &allotment) < before { 0 } else { idle + 1 };
    }
    allotment
}

/// What a converter costs: little if it is expected to pass, and the less the surer.
fn cost(surrogate: &Surrogate, tanks: &[usize]) -> i64 {
    let expected = surrogate.expected(tanks);
    #[expect(clippy::cast_possible_truncation, reason = "at most ten thousand")]
    let shade = (AT_LIMIT * expected.min(10.0)) as i64;
    if expected <= 1.0 { shade } else { FAILS + shade }
}

fn total(surrogate: &Surrogate, allotment: &Allotment) -> i64 {
    allotment.iter().map(|tanks| cost(surrogate, tanks)).sum()
}

/// Along the tanks in the order of their mean departures: the next N if they are near enough, else
/// the first is set aside. What was set aside fills the converters that are left.
fn sorted(surrogate: &Surrogate, (converters, phases): (usize, usize)) -> (Allotment, Vec<usize>) {
    let mut order: Vec<usize> = (0..surrogate.tanks).collect();
    order.sort_by(|a, b| surrogate.place(*a).total_cmp(&surrogate.place(*b)));
    let (mut allotment, mut aside, mut rest): (Allotment, _, _) =
        (Vec::new(), Vec::new(), order.as_slice());
    while let Some(next) = rest.get(..phases).filter(|_| allotment.len() < converters) {
        if surrogate.expected(next) <= 1.0 {
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

/// Every converter at the table gives up one tank, chosen by chance; they and spare ones are dealt out
/// anew.
fn deal(
    surrogate: &Surrogate,
    table: &mut [Vec<usize>],
    spare: &mut Vec<usize>,
    rng: &mut ChaCha8Rng,
) {
    let mut pool = Vec::new();
    for tanks in table.iter_mut() {
        tanks.shuffle(rng);
        pool.extend(tanks.pop());
    }
    spare.shuffle(rng);
    pool.extend(spare.drain(spare.len().saturating_sub(TABLE)..));
    let weight = |(converter, tank): (usize, usize)| {
        let mut tanks: ArrayVec<usize, MAX_PHASES> = table[converter].iter().copied().collect();
        tanks.push(pool[tank]);
        cost(surrogate, &tanks)
    };
    let weights = Matrix::from_fn(table.len(), pool.len(), weight);
    let (_, chosen) = kuhn_munkres_min(&weights);
    for (tanks, tank) in table.iter_mut().zip(&chosen) {
        tanks.push(pool[*tank]);
    }
    let mut left = vec![true; pool.len()];
    for tank in chosen {
        left[tank] = false;
    }
    spare.extend(pool.iter().zip(left).filter(|(_, left)| *left).map(|(tank, _)| tank));
}
