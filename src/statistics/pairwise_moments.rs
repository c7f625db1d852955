//! Mean and standard deviation of many samples, the same bits for every division of the samples into parts.

use serde::{Deserialize, Serialize};

use super::Moments;

/// Samples of a leaf: parts begin at its multiples.
pub const LEAF: u64 = 128;
/// Most blocks of a sound tree: two for each of its levels.
const MOST_BLOCKS: usize = 2 * u64::BITS as usize;

/// Moments whose sums follow a tree that the numbers of the samples alone decide.
///
/// Sums of floating-point numbers depend on the order of their terms. Here each [`LEAF`] samples are summed in
/// their order, as differences from the first of them. Blocks of 2ᵏ leaves, which begin at multiples of 2ᵏ, are
/// summed in pairs (pairwise summation: N. J. Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed.,
/// SIAM 2002, section 4.1; from memory). A block is summed once its last leaf is there, whichever part that came
/// from. So parts that are merged in their order give the bits of one pass.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(into = "StoredMoments", from = "StoredMoments")]
pub(super) struct PairwiseMoments {
    /// Blocks that wait for their neighbours, by rising leaves; at most two a level.
    blocks: Vec<LeafBlock>,
    /// The leaf behind them, while values are added to it.
    open: Option<OpenLeaf>,
}

/// The same in a file: no leaf is open.
#[derive(Serialize, Deserialize)]
struct StoredMoments {
    blocks: Vec<LeafBlock>,
}

impl From<PairwiseMoments> for StoredMoments {
    fn from(mut moments: PairwiseMoments) -> Self {
        moments.close();
        Self { blocks: moments.blocks }
    }
}

impl From<StoredMoments> for PairwiseMoments {
    fn from(StoredMoments { blocks }: StoredMoments) -> Self {
        Self { blocks, open: None }
    }
}

/// The moments of leaves that stand together in the tree.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct LeafBlock {
    /// Number of the first leaf that has a value.
    leaf: u64,
    moments: Moments,
}

/// A leaf whose values are summed as differences from the first one. That takes no division a value, and little
/// cancels where the differences are of the size of the deviation.
#[derive(Debug, Clone, Copy)]
struct OpenLeaf {
    leaf: u64,
    first: f64,
    count: u64,
    sum: f64,
    squares: f64,
}

impl OpenLeaf {
    const fn new(leaf: u64, first: f64) -> Self {
        Self { leaf, first, count: 0, sum: 0.0, squares: 0.0 }
    }

    fn add(&mut self, values: &[f64]) {
        let Self { first, mut sum, mut squares, .. } = *self;
        for value in values {
            let apart = value - first;
            sum += apart;
            squares += apart * apart;
        }
        (self.sum, self.squares) = (sum, squares);
        self.count += values.len() as u64;
    }

    /// Holds one value at least.
    fn closed(&self) -> LeafBlock {
        let moments = Moments::about(self.first, self.count, [self.sum, self.squares]);
        LeafBlock { leaf: self.leaf, moments }
    }
}

impl PairwiseMoments {
    /// No values yet.
    pub(super) const fn new() -> Self {
        Self { blocks: Vec::new(), open: None }
    }

    /// Adds the values of samples that follow each other, from the given number on; they come in the order of
    /// their numbers.
    pub(super) fn push(&mut self, first: u64, values: &[f64]) {
        let (mut sample, mut left) = (first, values);
        while let Some(value) = left.first() {
            let until_next = usize::try_from(LEAF - sample % LEAF).unwrap_or(usize::MAX);
            let (now, later) = left.split_at(left.len().min(until_next));
            self.leaf(sample / LEAF, *value).add(now);
            sample += now.len() as u64;
            left = later;
        }
    }

    /// The open leaf of this number. Its first value is given where it is not open yet.
    fn leaf(&mut self, leaf: u64, first: f64) -> &mut OpenLeaf {
        if self.open.is_some_and(|own| own.leaf != leaf) {
            self.close();
        }
        self.open.get_or_insert(OpenLeaf::new(leaf, first))
    }

    fn close(&mut self) {
        if let Some(open) = self.open.take() {
            self.append(open.closed());
        }
    }

    fn closed(&self) -> Self {
        let mut closed = self.clone();
        closed.close();
        closed
    }

    /// Adds those of later samples, which begin at a multiple of [`LEAF`].
    pub(super) fn merge(&mut self, later: &Self) {
        self.close();
        for block in later.closed().blocks {
            self.append(block);
        }
    }

    /// Sums the blocks that are complete before a new one, which it puts behind them.
    fn append(&mut self, next: LeafBlock) {
        while let [.., before, last] = self.blocks[..]
            && self.is_complete(before.leaf, last.leaf, next.leaf)
        {
            let mut moments = before.moments;
            moments.merge(&last.moments);
            self.blocks.pop();
            if let Some(both) = self.blocks.last_mut() {
                both.moments = moments;
            }
        }
        self.blocks.push(next);
    }

    /// Whether the smallest block around two leaves lies between the first leaf of all and the next one.
    fn is_complete(&self, one: u64, other: u64, next: u64) -> bool {
        let level = u64::BITS - (one ^ other).leading_zeros();
        let Some(leaves) = 1_u64.checked_shl(level) else { return false };
        let start = one - one % leaves;
        let first = self.blocks.first().map_or(0, |block| block.leaf);
        start >= first && start.checked_add(leaves).is_some_and(|end| end <= next)
    }

    /// Those of all values.
    pub(super) fn total(&self) -> Moments {
        self.closed().blocks.iter().fold(Moments::new(), |mut total, block| {
            total.merge(&block.moments);
            total
        })
    }

    /// The number of values.
    pub(super) fn count(&self) -> u64 {
        let closed: u64 = self.blocks.iter().map(|block| block.moments.count()).sum();
        closed + self.open.map_or(0, |open| open.count)
    }

    /// Whether this can come from samples of these numbers.
    pub(super) fn is_of(&self, samples: &std::ops::Range<u64>) -> bool {
        let is_inside = |block: &LeafBlock| {
            block.leaf.checked_mul(LEAF).is_some_and(|first| {
                first.saturating_add(LEAF) > samples.start && first < samples.end
            }) && block.moments.count() <= samples.end - samples.start
        };
        self.blocks.len() <= MOST_BLOCKS
            && self.blocks.is_sorted_by(|a, b| a.leaf < b.leaf)
            && self.blocks.iter().all(is_inside)
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

    use super::*;

    fn of(values: &[Option<f64>], first: usize, end: usize) -> PairwiseMoments {
        let mut moments = PairwiseMoments::new();
        for (n, value) in values.iter().enumerate().take(end).skip(first) {
            if let Some(value) = value {
                moments.push(n as u64, &[*value]);
            }
        }
        moments
    }

    fn bits(moments: &Moments) -> [Option<u64>; 2] {
        [moments.mean().map(f64::to_bits), moments.sd().map(f64::to_bits)]
    }

    /// Any division, with leaves that have no value at the ends of parts and in between.
    #[test]
    fn parts_in_their_order_give_the_bits_of_one_pass() {
        let mut rng = ChaCha8Rng::seed_from_u64(9);
        for trial in 0..60 {
            let leaves = rng.random_range(1..70_usize);
            let empty: Vec<bool> = (0..leaves).map(|_| rng.random::<f64>() < 0.3).collect();
            let values: Vec<Option<f64>> = (0..leaves * 128 - trial)
                .map(|n| (!empty[n / 128]).then(|| 1e6 * rng.random::<f64>() + 0.1))
                .collect();
            let whole = of(&values, 0, values.len());
            let mut borders: Vec<usize> =
                (0..rng.random_range(0..6)).map(|_| 128 * rng.random_range(0..=leaves)).collect();
            borders.extend([0, values.len()]);
            let mut borders: Vec<usize> =
                borders.into_iter().map(|border| border.min(values.len())).collect();
            borders.sort_unstable();
            let mut joined = PairwiseMoments::new();
            for pair in borders.windows(2) {
                let part = of(&values, pair[0], pair[1]);
                assert!(part.closed().is_of(&(pair[0] as u64..pair[1] as u64)));
                joined.merge(&part);
            }
            assert_eq!(joined.closed().blocks, whole.closed().blocks);
            assert_eq!(bits(&joined.total()), bits(&whole.total()));
            // The sums of plain passes differ: the order of the terms matters.
            let plain: Moments = values.iter().flatten().collect();
            assert_eq!(whole.total().count(), plain.count());
            let [mean, expected] =
                [whole.total().mean(), plain.mean()].map(Option::unwrap_or_default);
            assert!((mean - expected).abs() <= 1e-12 * expected.abs());
        }
    }

    /// A run of values may end anywhere. Means of 10⁸ are rounded to 1.5·10⁻⁸, of a deviation of 0.29; squares
    /// of such values would be rounded to 2.
    #[test]
    fn runs_of_any_length_give_the_same_bits() {
        let mut rng = ChaCha8Rng::seed_from_u64(10);
        let values: Vec<f64> = (0..1000).map(|_| 1e8 + rng.random::<f64>()).collect();
        let mut one_by_one = PairwiseMoments::new();
        (0..).zip(&values).for_each(|(n, value)| one_by_one.push(n, &[*value]));
        for length in [7, 64, 100, 128, 1000] {
            let mut in_runs = PairwiseMoments::new();
            for (n, run) in values.chunks(length).enumerate() {
                in_runs.push((n * length) as u64, run);
            }
            assert_eq!(bits(&in_runs.total()), bits(&one_by_one.total()));
        }
        let less: Vec<f64> = values.iter().map(|value| value - 1e8).collect();
        let plain: Moments = less.iter().collect();
        let [sd, expected] = [one_by_one.total().sd(), plain.sd()].map(Option::unwrap_or_default);
        assert!((sd / expected - 1.0).abs() < 2e-8, "{sd} {expected}");
    }

    #[test]
    fn memory_grows_with_the_logarithm_of_the_samples() {
        let mut moments = PairwiseMoments::new();
        for leaf in 0..100_000 {
            moments.push(leaf * LEAF, &[1.0]);
            assert!(moments.blocks.len() <= 18, "{leaf}: {}", moments.blocks.len());
        }
        assert_eq!((moments.count(), moments.total().mean()), (100_000, Some(1.0)));
    }

    #[test]
    fn what_cannot_come_from_these_samples_is_seen() {
        let values = vec![Some(1.0); 700];
        let part = of(&values, 256, 700).closed();
        assert!(part.is_of(&(256..700)));
        assert!(!part.is_of(&(0..256)) && !part.is_of(&(384..700)));
        let blocks = part.blocks.iter().rev().copied().collect();
        let swapped = PairwiseMoments { blocks, open: None };
        assert!(!swapped.is_of(&(256..700)));
    }
}
