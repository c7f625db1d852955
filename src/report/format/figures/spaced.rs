//! Labels in a row that keep apart.

use super::Ends;

/// A label in a row: where its middle had better be, and how much room it takes.
#[derive(Debug, Clone, Copy)]
pub(super) struct SpacedLabel {
    pub at: f64,
    pub room: f64,
}

/// Labels that touch, as a block: the sum of what each of them asks for, less the room before it.
struct Block {
    sum: f64,
    labels: usize,
}

impl Block {
    fn start(&self) -> f64 {
        self.sum / self.labels as f64
    }
}

/// The middles of labels in the order given: as near to where they had better be as their room permits (least
/// squares), inside `ends` as far as these hold them all.
///
/// Blocks that touch are joined (pool adjacent violators): Ayer et al. 1955, Ann. Math. Statist. 26, 641–647.
pub(super) fn spaced(labels: &[SpacedLabel], ends: Ends) -> Vec<f64> {
    let before: Vec<f64> = labels
        .iter()
        .scan(0.0, |sum, label| {
            *sum += label.room;
            Some(*sum - 0.5 * label.room)
        })
        .collect();
    let all: f64 = labels.iter().map(|label| label.room).sum();
    let last = (ends.to - all).max(ends.from);
    let mut blocks: Vec<Block> = Vec::new();
    for (label, before) in labels.iter().zip(&before) {
        let mut own = Block { sum: label.at - before, labels: 1 };
        while let Some(touched) = blocks.pop_if(|touched| touched.start() >= own.start()) {
            own = Block { sum: touched.sum + own.sum, labels: touched.labels + own.labels };
        }
        blocks.push(own);
    }
    let starts = blocks.iter().flat_map(|own| std::iter::repeat_n(own.start(), own.labels));
    starts.zip(before).map(|(start, before)| start.clamp(ends.from, last) + before).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ENDS: Ends = Ends { from: 0.0, to: 100.0 };

    fn middles(at: &[f64], room: f64) -> Vec<f64> {
        let labels: Vec<SpacedLabel> = at.iter().map(|at| SpacedLabel { at: *at, room }).collect();
        spaced(&labels, ENDS)
    }

    /// By hand: the mean of what touches stays.
    #[test]
    fn labels_move_no_farther_than_they_must() {
        assert_eq!(middles(&[20.0, 70.0], 10.0), [20.0, 70.0]);
        assert_eq!(middles(&[20.0, 50.0, 50.0, 53.0], 10.0), [20.0, 41.0, 51.0, 61.0]);
        assert_eq!(middles(&[0.0, 1.0, 99.0], 10.0), [5.0, 15.0, 95.0], "inside");
        assert_eq!(middles(&[0.0, 0.0], 80.0), [40.0, 120.0], "no room for all");
        assert!(middles(&[], 10.0).is_empty());
    }

    /// By hand: a wide label beside a narrow one, whose middles keep half of either room apart.
    #[test]
    fn rooms_may_differ() {
        let labels = [SpacedLabel { at: 50.0, room: 40.0 }, SpacedLabel { at: 50.0, room: 10.0 }];
        assert_eq!(spaced(&labels, ENDS), [37.5, 62.5]);
    }
}
