//! Which samples passed, at one bit a sample.

use crate::statistics::PairedCounts;

/// Whether each sample passes, in the order of their numbers; one bit each, because a whole
/// comparison keeps them for every set of grades.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passes {
    words: Vec<u64>,
    samples: u64,
}

impl Passes {
    /// Packs the flags of all samples.
    pub fn new(passed: &[bool]) -> Self {
        let word =
            |bits: &[bool]| bits.iter().rev().fold(0, |word, bit| word << 1 | u64::from(*bit));
        Self { words: passed.chunks(64).map(word).collect(), samples: passed.len() as u64 }
    }

    /// Number of samples.
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Number of samples that pass.
    pub fn count(&self) -> u64 {
        self.words.iter().map(|word| u64::from(word.count_ones())).sum()
    }

    /// How often this and another set pass on the same samples; both have the same number.
    pub fn paired(&self, second: &Self) -> PairedCounts {
        let pairs = self.words.iter().zip(&second.words);
        let both: u64 = pairs.map(|(a, b)| u64::from((a & b).count_ones())).sum();
        let (first, second) = (self.count() - both, second.count() - both);
        PairedCounts { both, first, second, neither: self.samples - both - first - second }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_are_counted_as_by_hand() {
        let first: Vec<bool> = (0..200).map(|k| k % 2 == 0).collect();
        let second: Vec<bool> = (0..200).map(|k| k % 3 == 0).collect();
        let (a, b) = (Passes::new(&first), Passes::new(&second));
        assert_eq!((a.count(), b.count(), a.samples()), (100, 67, 200));
        // Multiples of 6 below 200: 34.
        let wanted = PairedCounts { both: 34, first: 66, second: 33, neither: 67 };
        assert_eq!(a.paired(&b), wanted);
    }
}
