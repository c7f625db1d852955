//! Parts that are measured, sorted and matched before they go into a converter.
//!
//! The sample's own parts and others of the same lot make a pool. It is sorted by what was measured, and cut
//! into groups, one a converter. The sample takes the group that holds its own first part. That part lies
//! anywhere in the pool with the same probability, so the group is one chosen at random: the yield of such
//! samples is that of all converters built from such pools. Each sample has a pool of its own, so samples
//! stay independent.

use rand::rngs::ChaCha8Rng;

use super::scores::{PropertyScores, Scores, probability};
use super::{Population, Scatter};
use crate::converter::{Arrangement, ConverterSize, Parameter, PartNumbers};
use crate::scenario::Matching;
use crate::statistics::normal;

/// Where the draws of the pools begin, in words of 32 bits: those of losses begin at 2⁴².
const POOLS: u128 = 1 << 43;
/// Words that the pool of one parameter may take.
const POOL_WORDS: u128 = 1 << 20;

/// A part of a pool.
struct PooledPart {
    /// Its own probability.
    probability: f64,
    /// What sorts it: the deviation measured, or the probability where the measurement is exact.
    sorted_by: f64,
}

impl Population {
    /// Replaces the parts of every matched grade by those of a matched group. `rng` is the stream of the
    /// sample, taken where there are any.
    pub(super) fn match_parts(&self, scores: &mut Scores, rng: impl Fn() -> ChaCha8Rng) {
        for parameter in Parameter::OF_CIRCUIT {
            let scatter = self.scatter[parameter.index()].as_ref();
            let Some((scatter, matching)) = scatter.and_then(|own| Some((own, own.matching?)))
            else {
                continue;
            };
            let mut rng = rng();
            rng.set_word_pos(POOLS + POOL_WORDS * parameter.index() as u128);
            let size = ConverterSize { phases: self.nominal.phases(), legs: self.legs };
            let used = parameter.parts(size, Arrangement::Chain);
            if let Some(own) = scores.of_property_mut(parameter.into()) {
                own.parts = matched_parts(scatter, matching, own, used, &mut rng);
            }
        }
    }
}

/// The group of the pool that holds the first of a converter's own parts, which stays the first; the others
/// in the order in which they were drawn, which is a random one. Behind them, as they were, the parts that a
/// converter does without: the flying capacitors of a leg that is not driven.
fn matched_parts(
    scatter: &Scatter,
    matching: Matching,
    own: &PropertyScores,
    used: usize,
    rng: &mut ChaCha8Rng,
) -> PartNumbers {
    let needed = used.min(own.parts.len());
    let groups = (matching.pieces / needed.max(1)).max(1);
    let others: Vec<f64> = (needed..groups * needed).map(|_| probability(rng)).collect();
    let pool: Vec<PooledPart> = own
        .parts
        .iter()
        .take(needed)
        .copied()
        .chain(others)
        .map(|probability| pooled(scatter, matching, own.common, probability, rng))
        .collect();
    let mut order: Vec<usize> = (0..pool.len()).collect();
    order.sort_by(|a, b| pool[*a].sorted_by.total_cmp(&pool[*b].sorted_by).then(a.cmp(b)));
    let rank = order.iter().position(|part| *part == 0).unwrap_or(0);
    let first = rank / needed.max(1) * needed;
    let group = &mut order[first..first + needed];
    group.sort_unstable();
    let matched = group.iter().map(|part| pool[*part].probability);
    matched.chain(own.parts[needed..].iter().copied()).collect()
}

/// A part with what is measured of it. An exact measurement takes no draw.
fn pooled(
    scatter: &Scatter,
    matching: Matching,
    common: f64,
    own: f64,
    rng: &mut ChaCha8Rng,
) -> PooledPart {
    if matching.uncertainty == 0.0 {
        return PooledPart { probability: own, sorted_by: own };
    }
    let error = matching.uncertainty * normal::quantile(probability(rng));
    PooledPart { probability: own, sorted_by: scatter.deviation(common, own) + error }
}
