//! Where the random numbers of a sample come from.

use std::fmt;

use rand::{SeedableRng, rngs::ChaCha8Rng};

/// Marks the keys of verification runs, in the half of the key that neither seed nor number fill.
const MARK: &[u8; 16] = b"verification run";

/// The samples of a seed, or fresh ones that verify what was chosen on them.
///
/// Whoever chooses among many designs on the samples of one seed is flattered by these samples.
/// The samples of a verification run belong to the same seed, and no seed of its own draws them:
/// a study that is repeated with the next seed does not choose on what verified the last one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct RandomSource {
    /// The seed.
    pub seed: u64,
    /// 0 for the samples of the seed itself, else the number of a verification run.
    pub verification: u64,
}

impl RandomSource {
    /// The fresh samples of a verification run of the same seed, numbered from 1.
    #[must_use]
    pub fn verification(self, number: u64) -> Self {
        Self { verification: number, ..self }
    }

    /// Whether no choice was made on these samples.
    pub fn is_fresh(self) -> bool {
        self.verification > 0
    }

    /// The random stream of one sample: same source and number, same draws.
    ///
    /// A seed is spread over the key of 256 bits. The key of a verification run holds seed and number
    /// as they are, and [`MARK`]. Both kinds of keys meet for one of the 2⁶⁴ seeds with a probability
    /// of 2⁻⁶⁴.
    pub(super) fn stream(self, sample: u64) -> ChaCha8Rng {
        let mut rng = if self.is_fresh() {
            ChaCha8Rng::from_seed(self.verification_key())
        } else {
            ChaCha8Rng::seed_from_u64(self.seed)
        };
        rng.set_stream(sample);
        rng
    }

    fn verification_key(self) -> [u8; 32] {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&self.seed.to_le_bytes());
        key[8..16].copy_from_slice(&self.verification.to_le_bytes());
        key[16..].copy_from_slice(MARK);
        key
    }
}

/// `seed 7`, or `verification run 3 of seed 7`.
impl fmt::Display for RandomSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_fresh() {
            write!(f, "verification run {} of seed {}", self.verification, self.seed)
        } else {
            write!(f, "seed {}", self.seed)
        }
    }
}

impl From<u64> for RandomSource {
    fn from(seed: u64) -> Self {
        Self { seed, verification: 0 }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use rand::Rng;

    use super::*;

    /// Seeds in a row, verification runs in a row and samples in a row: no two draw the same.
    #[test]
    fn no_two_sources_draw_the_same() {
        let sources = (0..40).flat_map(|seed| {
            (0..10).map(move |number| RandomSource::from(seed).verification(number))
        });
        let draws: BTreeSet<u64> = sources
            .flat_map(|source| (0..5).map(move |sample| source.stream(sample).next_u64()))
            .collect();
        assert_eq!(draws.len(), 40 * 10 * 5);
    }

    /// The samples of a seed are those of `ChaCha8Rng::seed_from_u64`, whatever else is added.
    #[test]
    fn a_seed_alone_draws_what_it_always_drew() {
        let mut plain = ChaCha8Rng::seed_from_u64(7);
        plain.set_stream(3);
        let mut found = RandomSource::from(7).stream(3);
        assert!((0..100).all(|_| plain.next_u64() == found.next_u64()));
    }
}
