//! How often each two of several entries pass on the same samples.

use crate::statistics::PairedCounts;

/// Which samples of a batch pass, one bit each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flags(Vec<u64>);

impl Flags {
    /// All of so many samples.
    pub fn all(samples: usize) -> Self {
        let mut words = vec![u64::MAX; samples.div_ceil(64)];
        if let (Some(last), 1..) = (words.last_mut(), samples % 64) {
            *last = (1 << (samples % 64)) - 1;
        }
        Self(words)
    }

    /// Takes a sample out.
    pub fn clear(&mut self, sample: usize) {
        self.0[sample / 64] &= !(1 << (sample % 64));
    }

    fn count(&self) -> u64 {
        self.0.iter().map(|word| u64::from(word.count_ones())).sum()
    }

    fn count_with(&self, other: &Self) -> u64 {
        self.0.iter().zip(&other.0).map(|(a, b)| u64::from((a & b).count_ones())).sum()
    }
}

/// Counts of all pairs; they take room for the entries, not for the samples.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pairs {
    entries: usize,
    samples: u64,
    /// Samples that pass with both, row by row; with itself, those that pass.
    both: Vec<u64>,
}

impl Pairs {
    /// Nothing yet.
    pub fn new(entries: usize) -> Self {
        Self { entries, samples: 0, both: vec![0; entries * entries] }
    }

    /// Takes so many more samples, of which these pass, entry by entry.
    pub fn take(&mut self, passed: &[Flags], samples: usize) {
        self.samples += samples as u64;
        for (v, one) in passed.iter().enumerate() {
            self.both[v * self.entries + v] += one.count();
            for (w, other) in passed.iter().enumerate().take(v) {
                let count = one.count_with(other);
                self.both[v * self.entries + w] += count;
                self.both[w * self.entries + v] += count;
            }
        }
    }

    /// Number of samples.
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Samples that pass with an entry.
    pub fn good(&self, entry: usize) -> u64 {
        self.both[entry * self.entries + entry]
    }

    /// How often two entries pass together.
    pub fn counts(&self, first: usize, second: usize) -> PairedCounts {
        let both = self.both[first * self.entries + second];
        let (first, second) = (self.good(first) - both, self.good(second) - both);
        PairedCounts { both, first, second, neither: self.samples - both - first - second }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Multiples of 2, 3 and none of `samples` numbers from `first` on.
    fn multiples(first: usize, samples: usize) -> [Flags; 3] {
        [2, 3, usize::MAX].map(|divisor| {
            let mut flags = Flags::all(samples);
            let others = (0..samples).filter(|n| !(first + n + 1).is_multiple_of(divisor));
            others.for_each(|n| flags.clear(n));
            flags
        })
    }

    #[test]
    fn pairs_are_counted_as_by_hand() {
        let mut pairs = Pairs::new(3);
        // Two batches, neither of them a multiple of a word.
        pairs.take(&multiples(0, 130), 130);
        pairs.take(&multiples(130, 70), 70);
        assert_eq!(
            (pairs.samples(), pairs.good(0), pairs.good(1), pairs.good(2)),
            (200, 100, 66, 0)
        );
        // Multiples of 6 up to 200: 33.
        let wanted = PairedCounts { both: 33, first: 67, second: 33, neither: 67 };
        assert_eq!(pairs.counts(0, 1), wanted);
        let turned = PairedCounts { both: 33, first: 33, second: 67, neither: 67 };
        assert_eq!(pairs.counts(1, 0), turned);
        let none = PairedCounts { both: 0, first: 0, second: 66, neither: 134 };
        assert_eq!(pairs.counts(2, 1), none);
    }

    #[test]
    fn all_flags_are_as_many_as_samples() {
        for samples in [0, 1, 63, 64, 65, 128] {
            assert_eq!(Flags::all(samples).count(), samples as u64);
        }
    }
}
