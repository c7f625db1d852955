//! Counters over bins of equal relative width: a multiset of numbers in bounded memory.

use serde::{Deserialize, Serialize};

/// Bins of one octave: 2¹², one for each value of the twelve leading bits of the mantissa.
const OCTAVE: u32 = 1 << MANTISSA_BITS;
const MANTISSA_BITS: u32 = 12;
/// Bins of a block, a sixteenth of an octave: most figures stay within a few percent.
const BLOCK: u32 = OCTAVE / 16;
const BINS: usize = BLOCK as usize;
/// Values that a block lists before it counts them.
const LISTED: usize = BINS / 2;
/// Bits of an `f64` that its bin leaves open.
const OPEN_BITS: u32 = 52 - MANTISSA_BITS;
/// Octaves kept below the one of the largest magnitude. A figure that scatters about zero reaches
/// an octave farther down each time the number of its values doubles. The report's pictures end at
/// a 10 000th of the largest value.
const WINDOW: u32 = 16;
const MAGNITUDE: u64 = u64::MAX >> 1;
/// The exponent bits of what is no finite number.
const NO_NUMBERS: u32 = 0x7ff;
/// No count of a bin that is read is larger, so that a block of them can be summed.
const MOST_SAMPLES: u64 = 1 << 48;

/// Values between two edges, with their number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bin {
    pub(super) lower: f64,
    pub(super) middle: f64,
    pub(super) upper: f64,
    pub(super) count: u64,
}

/// Counts finite values by sign, exponent and the leading bits of the mantissa.
///
/// A bin is 2⁻¹² of its octave wide, its middle within 2⁻¹³ of each value in it. Magnitudes more
/// than [`WINDOW`] octaves below the largest one, and those below [`f64::MIN_POSITIVE`], count as
/// zero. A larger value may come late: then bins that leave the window are added to zero. So the
/// counts depend on the values alone, not on their order.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(into = "StoredCounters", try_from = "StoredCounters")]
pub(super) struct Counters {
    zero: u64,
    /// Exponent bits of the largest magnitude.
    top: u32,
    /// Magnitudes of the positive and of the negative values.
    sides: [SignedCounters; 2],
}

/// Consecutive blocks of bins; `first` is the number of the first one.
#[derive(Debug, Clone, Default)]
struct SignedCounters {
    first: u32,
    blocks: Vec<Block>,
}

/// The values of a block of bins. Counters are as narrow as the largest count allows: studies of many
/// operating points hold a hundred thousand distributions, most of whose counts are small.
#[derive(Debug, Clone)]
enum Block {
    /// The bin of every value: few.
    Listed(Vec<u8>),
    /// A counter for each bin.
    Counted8(Box<[u8; BINS]>),
    /// Likewise.
    Counted16(Box<[u16; BINS]>),
    /// Likewise.
    Counted32(Box<[u32; BINS]>),
    /// Likewise.
    Counted64(Box<[u64; BINS]>),
}

/// Counters as they are written: the bins that hold values, with the gaps between their keys.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct StoredCounters {
    zero: u64,
    sides: [Vec<StoredBin>; 2],
}

/// A bin of them.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct StoredBin {
    /// How far its key lies above that of the bin before; above zero for the first one.
    gap: u32,
    count: u64,
}

/// Stored counters that are none.
#[derive(Debug, thiserror::Error)]
#[error("counts lie outside the range of numbers, or hold no value")]
pub(super) struct NoCounters;

impl From<Counters> for StoredCounters {
    fn from(counters: Counters) -> Self {
        let sides = counters.sides.each_ref().map(|side| {
            let mut before = 0;
            let bins = side.occupied().map(|(key, count)| {
                let gap = key - before;
                before = key;
                StoredBin { gap, count }
            });
            bins.collect()
        });
        Self { zero: counters.zero, sides }
    }
}

impl TryFrom<StoredCounters> for Counters {
    type Error = NoCounters;

    fn try_from(stored: StoredCounters) -> Result<Self, NoCounters> {
        let mut counters = Self { zero: stored.zero, ..Self::default() };
        for (side, bins) in stored.sides.iter().enumerate() {
            let mut key = 0_u32;
            let mut block = PendingBlock::default();
            for bin in bins {
                key = key
                    .checked_add(bin.gap)
                    .filter(|key| key / OCTAVE < NO_NUMBERS)
                    .ok_or(NoCounters)?;
                if key / BLOCK != block.number {
                    counters.take(side, &block);
                    block = PendingBlock { number: key / BLOCK, ..PendingBlock::default() };
                }
                let count = &mut block.counts[usize::from(bin_in_block(key))];
                // Twice the same key, or a bin that holds nothing, is none of ours.
                if bin.count == 0 || *count > 0 || bin.count > MOST_SAMPLES {
                    return Err(NoCounters);
                }
                *count = bin.count;
            }
            counters.take(side, &block);
        }
        Ok(counters)
    }
}

/// A block that is read bin by bin.
struct PendingBlock {
    number: u32,
    counts: [u64; BINS],
}

impl Default for PendingBlock {
    fn default() -> Self {
        Self { number: 0, counts: [0; BINS] }
    }
}

impl Counters {
    /// Counts the values of a block that was read.
    fn take(&mut self, side: usize, read: &PendingBlock) {
        let total = read.counts.iter().sum::<u64>();
        if total > 0
            && let Some(block) = self.block(side, read.number, total)
        {
            block.merge(&Block::holding(&read.counts));
        }
    }

    /// The number of values; none where it is too large to count.
    pub(super) fn total(&self) -> Option<u64> {
        let blocks = self.sides.iter().flat_map(|side| &side.blocks);
        blocks.map(Block::total).try_fold(self.zero, u64::checked_add)
    }

    /// Counts one finite value.
    #[inline]
    pub(super) fn push(&mut self, value: f64) {
        let (side, key) = bin_of(value);
        let block = (key / BLOCK).wrapping_sub(self.sides[side].first) as usize;
        match self.sides[side].blocks.get_mut(block) {
            Some(block) => block.push(bin_in_block(key)),
            None => {
                if let Some(block) = self.block(side, key / BLOCK, 1) {
                    block.push(bin_in_block(key));
                }
            }
        }
    }

    /// Counts all values of another.
    pub(super) fn merge(&mut self, other: &Self) {
        self.zero += other.zero;
        for (index, side) in other.sides.iter().enumerate() {
            for (number, more) in (side.first..).zip(&side.blocks) {
                let count = more.total();
                if count > 0
                    && let Some(block) = self.block(index, number, count)
                {
                    block.merge(more);
                }
            }
        }
    }

    /// The block of a number, which is to take so many values; none where they count as zero.
    #[cold]
    fn block(&mut self, side: usize, number: u32, count: u64) -> Option<&mut Block> {
        let octave = number * BLOCK / OCTAVE;
        if octave == 0 || octave + WINDOW < self.top {
            self.zero += count;
            return None;
        }
        if octave > self.top {
            self.top = octave;
            let lowest = octave.saturating_sub(WINDOW);
            self.zero += self.sides.iter_mut().map(|side| side.cut_below(lowest)).sum::<u64>();
        }
        self.sides[side].reach(number)
    }

    /// The bins that hold values, in rising order.
    pub(super) fn bins(&self) -> Vec<Bin> {
        let [positive, negative] = &self.sides;
        let zero_edge = lower_edge(self.top.saturating_sub(WINDOW).max(1) * OCTAVE);
        let zero = Bin { lower: -zero_edge, middle: 0.0, upper: zero_edge, count: self.zero };
        let mut bins: Vec<Bin> = negative
            .occupied()
            .map(|(key, count)| bin(key, count))
            .map(|b| Bin { lower: -b.upper, middle: -b.middle, upper: -b.lower, count: b.count })
            .collect();
        bins.reverse();
        bins.extend((self.zero > 0).then_some(zero));
        bins.extend(positive.occupied().map(|(key, count)| bin(key, count)));
        bins
    }

    /// Bytes held, used or not.
    #[cfg(test)]
    pub(super) fn size(&self) -> usize {
        self.sides.iter().map(SignedCounters::size).sum()
    }
}

impl SignedCounters {
    fn occupied(&self) -> impl Iterator<Item = (u32, u64)> {
        (self.first..).zip(&self.blocks).flat_map(|(number, block)| {
            let bins = (number * BLOCK..).zip(block.counts());
            bins.filter(|(_, count)| *count > 0)
        })
    }

    /// The block of a number, which is made where it is not there yet.
    fn reach(&mut self, number: u32) -> Option<&mut Block> {
        if self.blocks.is_empty() {
            self.first = number;
        }
        let before = self.first.saturating_sub(number);
        self.blocks.splice(0..0, std::iter::repeat_n(Block::EMPTY, before as usize));
        self.first -= before;
        let index = (number - self.first) as usize;
        let blocks = self.blocks.len().max(index + 1);
        self.blocks.resize(blocks, Block::EMPTY);
        self.blocks.get_mut(index)
    }

    /// Removes the counters below an octave; returns the number of values they held.
    fn cut_below(&mut self, octave: u32) -> u64 {
        let lowest = octave * (OCTAVE / BLOCK);
        let cut = (lowest.saturating_sub(self.first) as usize).min(self.blocks.len());
        self.first = self.first.max(lowest);
        let held = self.blocks.drain(..cut).map(|block| block.total()).sum();
        self.blocks.shrink_to_fit();
        held
    }

    #[cfg(test)]
    fn size(&self) -> usize {
        let blocks = self.blocks.iter().map(Block::size).sum::<usize>();
        blocks + self.blocks.capacity() * size_of::<Block>()
    }
}

impl Block {
    const EMPTY: Self = Self::Listed(Vec::new());

    /// Counts a value of a bin.
    #[inline]
    fn push(&mut self, bin: u8) {
        let n = usize::from(bin);
        match self {
            Self::Listed(bins) if bins.len() < LISTED => bins.push(bin),
            Self::Counted8(counts) if counts[n] < u8::MAX => counts[n] += 1,
            Self::Counted16(counts) if counts[n] < u16::MAX => counts[n] += 1,
            Self::Counted32(counts) if counts[n] < u32::MAX => counts[n] += 1,
            _ => self.push_wider(n),
        }
    }

    /// Counts a value for which the counters may be too narrow.
    #[cold]
    fn push_wider(&mut self, bin: usize) {
        let mut counts = self.counts();
        counts[bin] += 1;
        *self = Self::holding(&counts);
    }

    /// Counts all values of another one.
    fn merge(&mut self, other: &Self) {
        let mut counts = self.counts();
        counts.iter_mut().zip(other.counts()).for_each(|(count, more)| *count += more);
        *self = Self::holding(&counts);
    }

    /// The number of its values.
    fn total(&self) -> u64 {
        self.counts().iter().sum()
    }

    /// The count of each bin.
    fn counts(&self) -> [u64; BINS] {
        match self {
            Self::Listed(bins) => {
                let mut counts = [0; BINS];
                for bin in bins {
                    counts[usize::from(*bin)] += 1;
                }
                counts
            }
            Self::Counted8(counts) => counts.map(u64::from),
            Self::Counted16(counts) => counts.map(u64::from),
            Self::Counted32(counts) => counts.map(u64::from),
            Self::Counted64(counts) => **counts,
        }
    }

    /// The narrowest counters that hold these counts.
    fn holding(counts: &[u64; BINS]) -> Self {
        narrowed(counts)
            .map(Self::Counted8)
            .or_else(|| narrowed(counts).map(Self::Counted16))
            .or_else(|| narrowed(counts).map(Self::Counted32))
            .unwrap_or_else(|| Self::Counted64(Box::new(*counts)))
    }

    #[cfg(test)]
    fn size(&self) -> usize {
        match self {
            Self::Listed(bins) => bins.capacity(),
            Self::Counted8(counts) => size_of_val(&**counts),
            Self::Counted16(counts) => size_of_val(&**counts),
            Self::Counted32(counts) => size_of_val(&**counts),
            Self::Counted64(counts) => size_of_val(&**counts),
        }
    }
}

/// The counts in a narrower type, if all of them fit.
fn narrowed<T: TryFrom<u64> + Default + Copy>(counts: &[u64; BINS]) -> Option<Box<[T; BINS]>> {
    let mut narrow = Box::new([T::default(); BINS]);
    for (narrow, count) in narrow.iter_mut().zip(counts) {
        *narrow = T::try_from(*count).ok()?;
    }
    Some(narrow)
}

/// The bin of a key, within its block.
#[expect(clippy::cast_possible_truncation, reason = "a block has 256 bins")]
const fn bin_in_block(key: u32) -> u8 {
    key as u8
}

/// Side (1 for negative values) and key of the bin that holds a value.
fn bin_of(value: f64) -> (usize, u32) {
    let bits = value.to_bits();
    (usize::from(value.is_sign_negative()), ((bits & MAGNITUDE) >> OPEN_BITS) as u32)
}

/// The lower edge of the bin of a key; the largest number where that is none.
fn lower_edge(key: u32) -> f64 {
    f64::from_bits(u64::from(key) << OPEN_BITS).min(f64::MAX)
}

fn bin(key: u32, count: u64) -> Bin {
    let middle = f64::from_bits((u64::from(key) << OPEN_BITS) | (1 << (OPEN_BITS - 1)));
    Bin { lower: lower_edge(key), middle, upper: lower_edge(key + 1), count }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(values: &[f64]) -> Counters {
        let mut counters = Counters::default();
        for v in values {
            counters.push(*v);
        }
        counters
    }

    #[test]
    fn bins_enclose_their_values_within_the_stated_width() {
        for v in [1.0, 1.999_999, -1.5, 3.7e-300, -8.8e299, f64::MAX, f64::MIN, f64::MIN_POSITIVE] {
            let bins = counted(&[v]).bins();
            assert_eq!(bins.len(), 1);
            let b = bins[0];
            assert!(b.lower <= v && v <= b.upper && b.count == 1, "{v}: {b:?}");
            assert!((b.middle - v).abs() <= v.abs() / 8192.0, "{v}: {b:?}");
        }
        let one = counted(&[1.0]).bins()[0]; // the first bin of an octave, by hand
        assert_eq!((one.lower, one.upper), (1.0, 1.0 + 1.0 / 4096.0));
    }

    #[test]
    fn bins_rise_through_zero() {
        let bins = counted(&[2.0, -3.0, 0.0, -0.5, 1e-3, 0.0, 2.0]).bins();
        let counts: Vec<u64> = bins.iter().map(|b| b.count).collect();
        assert_eq!(counts, [1, 1, 2, 1, 2]);
        assert!(bins.windows(2).all(|pair| pair[0].upper <= pair[1].lower), "{bins:?}");
        assert!(bins[1].middle < 0.0 && bins[2].middle == 0.0 && bins[3].middle > 0.0);
    }

    #[test]
    fn magnitudes_far_below_the_largest_are_zero_whatever_the_order() {
        let kept = 2.0_f64.powi(-16);
        let lost = 2.0_f64.powi(-17);
        let mut values = [1.0, kept, lost, -lost, 5e-324, -kept];
        let forward = counted(&values).bins();
        values.reverse();
        let backward = counted(&values).bins();
        assert_eq!(forward, backward);
        let counts: Vec<u64> = forward.iter().map(|b| b.count).collect();
        assert_eq!(counts, [1, 3, 1, 1]); // −kept, the three lost, kept, 1
        assert!((forward[1].upper - kept).abs() < 1e-15);
    }

    #[test]
    fn memory_is_bounded_over_the_whole_range_of_numbers() {
        let mut counters = Counters::default();
        for exponent in -1074..1024 {
            for sign in [-1.0, 1.0] {
                counters.push(sign * 2.0_f64.powi(exponent));
                assert!(counters.size() <= 2 * 17 * 4096);
            }
        }
        assert_eq!(counters.bins().iter().map(|b| b.count).sum::<u64>(), 2 * (1074 + 1024));
    }

    #[test]
    fn figures_that_scatter_little_take_little_memory() {
        let values: Vec<f64> =
            (0..10_000).map(|i| 92.0 + 1e-3 * f64::from(i * 617 % 10_000)).collect();
        let counters = counted(&values); // 92 to 102 are 0.15 octaves: three or four blocks
        assert!(counters.size() <= 4 * (BINS + size_of::<Block>()), "{}", counters.size());
        assert_eq!(counters.bins().iter().map(|b| b.count).sum::<u64>(), 10_000);
    }

    /// A figure that scatters about zero spans many octaves, most of which hold few of its values: here
    /// 15 on either side. Counters of 32 bits for each bin took 490 kB.
    #[test]
    fn figures_that_scatter_about_zero_take_about_a_byte_a_value() {
        let values: Vec<f64> =
            (0..40_000).map(|i| f64::from(i * 617 % 40_000) - 20_000.0).collect();
        let counters = counted(&values);
        let blocks = 2 * 15 * 16 * size_of::<Block>();
        assert!(counters.size() - blocks < 50_000, "{}", counters.size());
        assert_eq!(counters.bins().iter().map(|b| b.count).sum::<u64>(), 40_000);
    }

    #[test]
    fn a_bin_holds_any_number_of_values() {
        let counts = |c: &Counters| c.bins().iter().map(|b| b.count).collect::<Vec<_>>();
        let mut counters = counted(&[-1.0, 3.0]);
        let mut expected = 1_u64;
        while expected < 1 << 40 {
            counters.merge(&counters.clone());
            expected *= 2;
            assert_eq!(counts(&counters), [expected, expected]);
            for _ in 0..2 {
                counters.push(3.0);
                counters.push(-1.0);
            }
            expected += 2;
            assert_eq!(counts(&counters), [expected, expected]);
        }
        counters.push(2.0_f64.powi(60));
        assert_eq!(counts(&counters), [2 * expected, 1], "all zero beside such a value");
    }

    /// Counters grow at 129 values of a block, at 256 of a bin, and at 65 536.
    #[test]
    fn every_value_is_counted_where_counters_grow() {
        let mut counters = Counters::default();
        for n in 1..=70_000_u64 {
            counters.push(3.0);
            if n < 300 || n > 65_500 && n < 65_600 {
                assert_eq!(counters.bins()[0].count, n);
            }
        }
        let mut block = Block::Counted32(Box::new([u32::MAX; BINS]));
        block.push(7);
        assert_eq!(block.counts()[6..8], [u64::from(u32::MAX), 1 << 32]);
    }

    #[test]
    fn merging_is_pushing_all() {
        let left = [1e-20, 3.0, -2.0, 0.0];
        let right = [5e4, -7e-9, 3.0, 1e-20];
        let mut merged = counted(&left);
        merged.merge(&counted(&right));
        assert_eq!(merged.bins(), counted(&[left, right].concat()).bins());
    }
}
