//! Which tanks make up which converter, by the surrogate alone.
//!
//! Grouping by more than two is hard in general. Here it starts from what is best when tanks differ
//! in one number alone: along the sorted tanks, the next N make a converter if they are near enough,
//! else the first of them is set aside. Then, again and again, every converter gives up one tank.
//! The tanks given up, together with those left over, are assigned anew in the best possible way: an
//! assignment problem, solved exactly (H. W. Kuhn, Naval Research Logistics Quarterly 2 (1955)
//! 83–97; J. Munkres, 1957). No such assignment can make the whole worse. Large stocks are assigned
//! in several batches, with other converters in each of them every time.

use arrayvec::ArrayVec;
use pathfinding::matrix::Matrix;
use pathfinding::prelude::kuhn_munkres_min;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;

use super::plan::{GroupCount, TankGroups};
use super::surrogate::Surrogate;
use crate::converter::MAX_PHASES;

/// What a converter costs that the surrogate expects to fail: more than all that pass together.
const FAILS: i64 = 1_000_000_000;
/// What one costs that is at the limit.
const AT_LIMIT: f64 = 1000.0;
/// Rounds of assignments at most.
const ROUNDS: usize = 400;
/// Rounds without a gain, after which the grouping ends.
const IDLE_ROUNDS: usize = 40;
/// Converters, and spare tanks, that one assignment takes at most: its time grows with their third
/// power.
const BATCH: usize = 100;

/// How the grouping begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StartingOrder {
    /// Along the sorted tanks.
    Sorted,
    /// With tanks in random order, which leads to other ends.
    Random,
}

/// Groups tanks to as many converters as `count` says; the stock must be enough. The same surrogate
/// and the same draws of `rng` give the same groups, unless `stopped` ends the search early.
pub fn group_tanks(
    surrogate: &Surrogate,
    count: GroupCount,
    start: StartingOrder,
    rng: &mut ChaCha8Rng,
    stopped: &dyn Fn() -> bool,
) -> TankGroups {
    let Grouping { mut groups, mut spare } = match start {
        StartingOrder::Sorted => sorted(surrogate, count),
        StartingOrder::Random => random(surrogate.tanks, count, rng),
    };
    let mut idle = 0;
    for _ in 0..ROUNDS {
        if idle > IDLE_ROUNDS || stopped() {
            break;
        }
        let before = total_cost(surrogate, &groups);
        groups.shuffle(rng);
        for batch in groups.chunks_mut(BATCH) {
            reassign(surrogate, batch, &mut spare, rng);
        }
        idle = if total_cost(surrogate, &groups) < before { 0 } else { idle + 1 };
    }
    groups
}

/// Tanks grouped to converters, and those left over.
struct Grouping {
    groups: TankGroups,
    spare: Vec<usize>,
}

/// What a converter costs: little if it is expected to pass, and the less the farther below the
/// limit.
fn cost(surrogate: &Surrogate, tanks: &[usize]) -> i64 {
    let expected = surrogate.expected(tanks);
    #[expect(clippy::cast_possible_truncation, reason = "at most ten thousand")]
    let shade = (AT_LIMIT * expected.min(10.0)) as i64;
    if expected <= 1.0 { shade } else { FAILS + shade }
}

fn total_cost(surrogate: &Surrogate, groups: &TankGroups) -> i64 {
    groups.iter().map(|tanks| cost(surrogate, tanks)).sum()
}

/// Along the tanks in the order of their effects: the next N if they are near enough, else the first
/// is set aside. The tanks set aside fill the converters that are left.
fn sorted(surrogate: &Surrogate, count: GroupCount) -> Grouping {
    let GroupCount { converters, phases } = count;
    let mut order: Vec<usize> = (0..surrogate.tanks).collect();
    order.sort_by(|a, b| surrogate.total_effect(*a).total_cmp(&surrogate.total_effect(*b)));
    let (mut groups, mut aside) = (TankGroups::new(), Vec::new());
    let mut rest = order.as_slice();
    while let Some(next) = rest.get(..phases).filter(|_| groups.len() < converters) {
        if surrogate.expected(next) <= 1.0 {
            groups.push(next.to_vec());
            rest = &rest[phases..];
        } else {
            aside.push(rest[0]);
            rest = &rest[1..];
        }
    }
    aside.extend(rest);
    let missing = (converters - groups.len()) * phases;
    let spare = aside.split_off(missing.min(aside.len()));
    groups.extend(aside.chunks(phases).map(<[usize]>::to_vec));
    Grouping { groups, spare }
}

/// Tanks in random order.
fn random(tanks: usize, count: GroupCount, rng: &mut ChaCha8Rng) -> Grouping {
    let mut order: Vec<usize> = (0..tanks).collect();
    order.shuffle(rng);
    let spare = order.split_off((count.converters * count.phases).min(tanks));
    Grouping { groups: order.chunks(count.phases).map(<[usize]>::to_vec).collect(), spare }
}

/// Every converter of the batch gives up one tank, chosen at random. These tanks and spare ones are
/// assigned anew.
fn reassign(
    surrogate: &Surrogate,
    batch: &mut [Vec<usize>],
    spare: &mut Vec<usize>,
    rng: &mut ChaCha8Rng,
) {
    let mut pool = Vec::new();
    for tanks in batch.iter_mut() {
        tanks.shuffle(rng);
        pool.extend(tanks.pop());
    }
    spare.shuffle(rng);
    pool.extend(spare.drain(spare.len().saturating_sub(BATCH)..));
    let weight = |(converter, tank): (usize, usize)| {
        let mut tanks: ArrayVec<usize, MAX_PHASES> = batch[converter].iter().copied().collect();
        tanks.push(pool[tank]);
        cost(surrogate, &tanks)
    };
    let weights = Matrix::from_fn(batch.len(), pool.len(), weight);
    let (_, chosen) = kuhn_munkres_min(&weights);
    for (tanks, tank) in batch.iter_mut().zip(&chosen) {
        tanks.push(pool[*tank]);
    }
    let mut left = vec![true; pool.len()];
    for tank in chosen {
        left[tank] = false;
    }
    spare.extend(pool.iter().zip(left).filter(|(_, left)| *left).map(|(tank, _)| tank));
}
