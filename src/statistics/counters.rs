//! Counters over bins of equal relative width: a multiset of numbers in bounded memory.

/// Bins of one octave: 2¹², one for each value of the twelve leading bits of the mantissa.
const OCTAVE: u32 = 1 << MANTISSA_BITS;
const MANTISSA_BITS: u32 = 12;
/// Counters are held by the block, a sixteenth of an octave: most figures stay within a few percent.
const BLOCK: u32 = OCTAVE / 16;
/// Bits of an `f64` that its bin leaves open.
const OPEN_BITS: u32 = 52 - MANTISSA_BITS;
/// Octaves kept below the one of the largest magnitude. A figure that scatters about zero reaches
/// an octave farther down each time the number of its values doubles. The report's pictures end at
/// a 10 000th of the largest value.
const WINDOW: u32 = 16;
const MAGNITUDE: u64 = u64::MAX >> 1;

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
#[derive(Debug, Clone, Default)]
pub(super) struct Counters {
    zero: u64,
    /// Exponent bits of the largest magnitude.
    top: u32,
    /// Magnitudes of the positive and of the negative values.
    sides: [SignedCounters; 2],
}

/// Counters of consecutive bins in whole blocks; `first` is the key of the first bin.
#[derive(Debug, Clone, Default)]
struct SignedCounters {
    first: u32,
    /// The counts, but for whole multiples of 2³².
    counts: Vec<u32>,
    /// Keys of the bins that passed 2³², once for every time.
    full: Vec<u32>,
}

impl Counters {
    /// Counts one finite value.
    #[inline]
    pub(super) fn push(&mut self, value: f64) {
        let (side, key) = bin_of(value);
        let offset = key.wrapping_sub(self.sides[side].first) as usize;
        match self.sides[side].counts.get_mut(offset) {
            Some(count) if *count < u32::MAX => *count += 1,
            _ => self.add(side, key, 1),
        }
    }

    /// Counts all values of another.
    pub(super) fn merge(&mut self, other: &Self) {
        self.zero += other.zero;
        for (index, side) in other.sides.iter().enumerate() {
            for (key, count) in side.occupied() {
                self.add(index, key, count);
            }
        }
    }

    #[cold]
    fn add(&mut self, side: usize, key: u32, count: u64) {
        let octave = key / OCTAVE;
        if octave == 0 || octave + WINDOW < self.top {
            self.zero += count;
            return;
        }
        if octave > self.top {
            self.top = octave;
            let lowest = octave.saturating_sub(WINDOW);
            self.zero += self.sides.iter_mut().map(|side| side.cut_below(lowest)).sum::<u64>();
        }
        self.sides[side].add(key, count);
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

    /// The number of counters held, used or not.
    #[cfg(test)]
    pub(super) fn size(&self) -> usize {
        self.sides.iter().map(|side| side.counts.capacity()).sum()
    }
}

impl SignedCounters {
    fn occupied(&self) -> impl Iterator<Item = (u32, u64)> {
        let full = |key| self.full.iter().filter(|k| **k == key).count() as u64;
        (self.first..)
            .zip(&self.counts)
            .map(move |(key, count)| (key, u64::from(*count) + (full(key) << 32)))
            .filter(|(_, count)| *count > 0)
    }

    fn add(&mut self, key: u32, count: u64) {
        self.reach(key / BLOCK);
        let counter = &mut self.counts[(key - self.first) as usize];
        let sum = u64::from(*counter) + count;
        #[expect(clippy::cast_possible_truncation, reason = "the rest of it goes to `full`")]
        let low = sum as u32;
        *counter = low;
        self.full.extend((0..sum >> 32).map(|_| key));
    }

    /// Extends the counters to hold a block.
    fn reach(&mut self, block: u32) {
        let start = block * BLOCK;
        if self.counts.is_empty() {
            self.first = start;
        }
        let before = self.first.saturating_sub(start) as usize;
        let after = ((start + BLOCK).saturating_sub(self.first) as usize).max(self.counts.len());
        if before + after == self.counts.len() {
            return;
        }
        let mut counts = vec![0; before + after];
        counts[before..before + self.counts.len()].copy_from_slice(&self.counts);
        self.first = self.first.min(start);
        self.counts = counts;
    }

    /// Removes the counters below an octave; returns the number of values they held.
    fn cut_below(&mut self, octave: u32) -> u64 {
        let lowest = octave * OCTAVE;
        let held = self.occupied().filter(|(key, _)| *key < lowest).map(|(_, count)| count).sum();
        let cut = lowest.saturating_sub(self.first);
        self.first += cut;
        self.counts.drain(..(cut as usize).min(self.counts.len()));
        self.counts.shrink_to_fit();
        self.full.retain(|key| *key >= lowest);
        held
    }
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
        let counters = counted(&values); // 92 to 102 are 0.15 octaves
        assert!(counters.size() <= 4 * BLOCK as usize, "{}", counters.size());
        assert_eq!(counters.bins().iter().map(|b| b.count).sum::<u64>(), 10_000);
    }

    #[test]
    fn a_bin_holds_any_number_of_values() {
        let counts = |c: &Counters| c.bins().iter().map(|b| b.count).collect::<Vec<_>>();
        let mut counters = counted(&[-1.0]);
        counters.add(0, bin_of(3.0).1, (1 << 32) - 2);
        for expected in (1 << 32) - 1..=(1 << 32) + 1 {
            counters.push(3.0);
            assert_eq!(counts(&counters), [1, expected]);
        }
        for _ in 0..5 {
            counters.merge(&counters.clone());
        }
        assert_eq!(counts(&counters), [32, (1 << 37) + 32]);
        counters.push(2.0_f64.powi(60));
        assert_eq!(counts(&counters), [(1 << 37) + 64, 1], "all zero beside such a value");
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
