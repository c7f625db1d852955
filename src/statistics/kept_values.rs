//! Values that are kept as they are.

use serde::{Deserialize, Serialize};

/// Values of a block: 4 kB.
const BLOCK: usize = 512;

/// A growing list of values in blocks that stay where they are: no room is twice as large as what is in it, and
/// none is left behind.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(into = "Vec<f64>", from = "Vec<f64>")]
pub(super) struct KeptValues {
    /// All but the last are full.
    blocks: Vec<Vec<f64>>,
}

impl From<KeptValues> for Vec<f64> {
    fn from(kept: KeptValues) -> Self {
        kept.iter().collect()
    }
}

impl From<Vec<f64>> for KeptValues {
    fn from(values: Vec<f64>) -> Self {
        let mut kept = Self::new();
        kept.extend(&values);
        kept
    }
}

impl KeptValues {
    /// No values yet.
    pub(super) const fn new() -> Self {
        Self { blocks: Vec::new() }
    }

    /// The number of values.
    pub(super) fn len(&self) -> usize {
        self.blocks.last().map_or(0, |last| (self.blocks.len() - 1) * BLOCK + last.len())
    }

    /// Adds values behind the others.
    pub(super) fn extend(&mut self, values: &[f64]) {
        let mut left = values;
        while !left.is_empty() {
            let open = self.open();
            let (now, later) = left.split_at(left.len().min(BLOCK - open.len()));
            open.extend_from_slice(now);
            left = later;
        }
    }

    /// The last block, with room for a value at least. The first one grows: many distributions hold few values.
    fn open(&mut self) -> &mut Vec<f64> {
        if self.blocks.last().is_none_or(|last| last.len() == BLOCK) {
            let room = if self.blocks.is_empty() { 0 } else { BLOCK };
            self.blocks.push(Vec::with_capacity(room));
        }
        let last = self.blocks.len() - 1;
        &mut self.blocks[last]
    }

    /// The values in the order in which they came.
    pub(super) fn iter(&self) -> impl Iterator<Item = f64> {
        self.blocks.iter().flatten().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_stand_in_their_order_whatever_pieces_they_came_in() {
        let values: Vec<f64> = (0..2000).map(f64::from).collect();
        for piece in [1, 100, 511, 512, 513, 2000] {
            let mut kept = KeptValues::new();
            for (n, values) in values.chunks(piece).enumerate() {
                assert_eq!(kept.len(), n * piece);
                kept.extend(values);
            }
            assert_eq!(Vec::from(kept), values, "{piece}");
        }
    }

    #[test]
    fn what_was_read_goes_on_where_it_ended() {
        let mut kept = KeptValues::from(vec![1.0; 700]);
        kept.clone().extend(&[3.0]);
        kept.extend(&[2.0; 400]);
        assert_eq!((kept.len(), kept.iter().sum::<f64>()), (1100, 1500.0));
    }
}
