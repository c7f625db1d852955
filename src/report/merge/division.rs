//! How the samples of a run are divided into parts.

use std::fmt;
use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::statistics::LEAF;

/// Which part it is, of how many: counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct PartPlace {
    /// Its number.
    pub number: u64,
    /// The number of all parts.
    pub of: u64,
}

impl PartPlace {
    /// All parts of so many.
    pub fn all(of: u64) -> impl Iterator<Item = Self> {
        (1..=of).map(move |number| Self { number, of })
    }

    /// Whether the number is one of them, and each of them has samples.
    pub fn is_within(self, whole: &Range<u64>) -> bool {
        (1..=self.of).contains(&self.number) && self.of <= most_parts(whole)
    }

    /// The numbers of its samples: parts begin at multiples of [`LEAF`] from the first sample of all, and differ
    /// by one leaf at most. It must be [within](Self::is_within) them.
    pub fn samples(self, whole: &Range<u64>) -> Range<u64> {
        let leaves = u128::from(most_parts(whole));
        let border = |number: u64| {
            let leaf = leaves * u128::from(number) / u128::from(self.of.max(1));
            let leaf = u64::try_from(leaf).unwrap_or(u64::MAX);
            whole.start.saturating_add(leaf.saturating_mul(LEAF)).min(whole.end)
        };
        border(self.number.saturating_sub(1))..border(self.number)
    }
}

/// The most parts that so many samples can be divided into.
pub fn most_parts(whole: &Range<u64>) -> u64 {
    whole.end.saturating_sub(whole.start).div_ceil(LEAF)
}

impl fmt::Display for PartPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_hold_all_samples_once_and_begin_at_leaves() {
        for (whole, of) in
            [(0..1, 1), (0..2000, 5), (0..2000, 16), (256..20_000, 7), (0..1 << 30, 9999)]
        {
            let mut next = whole.start;
            for place in PartPlace::all(of) {
                assert!(place.is_within(&whole));
                let samples = place.samples(&whole);
                assert_eq!(samples.start, next, "{place}");
                assert!(samples.start.is_multiple_of(LEAF) && samples.end > samples.start);
                next = samples.end;
            }
            assert_eq!(next, whole.end);
            assert!(!PartPlace { number: 0, of }.is_within(&whole));
            assert!(!PartPlace { number: of + 1, of }.is_within(&whole));
            let more = PartPlace { number: 1, of: most_parts(&whole) + 1 };
            assert!(!more.is_within(&whole), "a part without samples");
        }
    }
}
