//! Where the random numbers of a sample come from.

use std::fmt;

use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

/// Marks the keys of fresh samples, in the half of the key that neither seed nor stream fill.
const MARK: &[u8; 16] = b"verification run";
/// Marks the keys of delivered batches there.
const BATCH_MARK: &[u8; 16] = b"delivered batch\0";

/// The samples of a seed, or fresh ones that verify what was chosen on them.
///
/// Whoever chooses among many designs on the samples of one seed is flattered by these samples.
/// Fresh samples belong to another stream of the same seed, which no other seed reaches: a study
/// that is repeated with the next seed does not choose on what verified the last one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct RandomSource {
    /// The seed.
    pub seed: u64,
    /// 0 for the samples of the seed itself, any other number for fresh samples.
    pub stream: u64,
}

impl RandomSource {
    /// The samples of another stream of the same seed.
    #[must_use]
    pub fn with_stream(self, stream: u64) -> Self {
        Self { stream, ..self }
    }

    /// Whether no choice was made on these samples.
    pub fn is_fresh(self) -> bool {
        self.stream > 0
    }

    /// The random numbers of one sample: same source and number, same draws.
    ///
    /// A seed alone is spread over the key of 256 bits. The key of fresh samples holds seed and
    /// stream as they are, and [`MARK`]. The probability that any of the 2⁶⁴ seeds has such a key is
    /// about 2⁻⁶⁴.
    pub(super) fn generator(self, sample: u64) -> ChaCha8Rng {
        let mut rng = if self.is_fresh() {
            ChaCha8Rng::from_seed(self.key(MARK))
        } else {
            ChaCha8Rng::seed_from_u64(self.seed)
        };
        rng.set_stream(sample);
        rng
    }

    /// Random numbers strictly between 0 and 1, of a place of their own: what is simulated and is no
    /// converter.
    pub fn numbers(self, place: u64) -> impl FnMut() -> f64 {
        let mut rng = self.generator(place);
        move || ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }

    /// The random numbers of a converter in delivered batches, counted through all of them.
    pub(super) fn batch_generator(self, converter: u64) -> ChaCha8Rng {
        self.batch_stream(2 * converter)
    }

    /// The random numbers of the lots that a delivered batch is built from.
    pub(super) fn lot_generator(self, batch: u64) -> ChaCha8Rng {
        self.batch_stream(2 * batch + 1)
    }

    fn batch_stream(self, stream: u64) -> ChaCha8Rng {
        let mut rng = ChaCha8Rng::from_seed(self.key(BATCH_MARK));
        rng.set_stream(stream);
        rng
    }

    fn key(self, mark: &[u8; 16]) -> [u8; 32] {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&self.seed.to_le_bytes());
        key[8..16].copy_from_slice(&self.stream.to_le_bytes());
        key[16..].copy_from_slice(mark);
        key
    }
}

/// `seed 7`, or `seed 7, stream 3`.
impl fmt::Display for RandomSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "seed {}", self.seed)?;
        if self.is_fresh() { write!(f, ", stream {}", self.stream) } else { Ok(()) }
    }
}

impl From<u64> for RandomSource {
    fn from(seed: u64) -> Self {
        Self { seed, stream: 0 }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// Seeds in a row, streams in a row and samples in a row: no two draw the same.
    #[test]
    fn no_two_sources_draw_the_same() {
        let sources = (0..40).flat_map(|seed| {
            (0..10).map(move |number| RandomSource::from(seed).with_stream(number))
        });
        let draws: BTreeSet<u64> = sources
            .flat_map(|source| (0..5).map(move |sample| source.generator(sample).next_u64()))
            .collect();
        assert_eq!(draws.len(), 40 * 10 * 5);
    }

    /// The samples of a seed are those of `ChaCha8Rng::seed_from_u64`, whatever else is added.
    #[test]
    fn a_seed_alone_draws_what_it_always_drew() {
        let mut plain = ChaCha8Rng::seed_from_u64(7);
        plain.set_stream(3);
        let mut found = RandomSource::from(7).generator(3);
        assert!((0..100).all(|_| plain.next_u64() == found.next_u64()));
    }
}
