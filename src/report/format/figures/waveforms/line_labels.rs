//! Labels on the lines of phases: those that lie too near to each other have one together.

use crate::report::format::figures::Ends;
use crate::report::format::numbers;

/// Labels need so much room.
const APART: f64 = 13.0;
/// So many phases are named one by one.
const NAMED: usize = 3;

/// A line that wants a label.
#[derive(Debug, Clone, Copy)]
pub(super) struct LabelledLine {
    /// The phase, counted from 1.
    pub(super) phase: usize,
    /// Where the line is, downwards.
    pub(super) y: f64,
    /// The value that the label tells.
    pub(super) value: f64,
}

/// A label of one line or several.
#[derive(Debug, PartialEq)]
pub(super) struct LineLabel {
    /// Where the uppermost of its lines is.
    pub(super) y: f64,
    pub(super) text: String,
}

/// Labels for lines, from the uppermost down.
pub(super) fn line_labels(mut lines: Vec<LabelledLine>, unit: &str) -> Vec<LineLabel> {
    lines.sort_by(|a, b| a.y.total_cmp(&b.y));
    let groups = lines.chunk_by(|upper, lower| lower.y - upper.y < APART);
    groups.map(|group| LineLabel { y: group[0].y, text: text(group, unit) }).collect()
}

/// One label for all lines.
pub(super) fn common_label(lines: &[LabelledLine], unit: &str) -> String {
    text(lines, unit)
}

fn text(group: &[LabelledLine], unit: &str) -> String {
    let mut phases: Vec<usize> = group.iter().map(|line| line.phase).collect();
    phases.sort_unstable();
    let names = match phases.as_slice() {
        [phase] => format!("phase {phase}"),
        few if few.len() <= NAMED => {
            let few: Vec<String> = few.iter().map(ToString::to_string).collect();
            format!("phases {}", few.join(", "))
        }
        many => format!("{} phases", many.len()),
    };
    let values = group.iter().map(|line| line.value);
    let ends = values.fold(Ends { from: f64::INFINITY, to: f64::NEG_INFINITY }, |ends, value| {
        Ends { from: ends.from.min(value), to: ends.to.max(value) }
    });
    let [from, to] = [ends.from, ends.to].map(numbers::three);
    if from == to {
        format!("{names}: {from} {unit}")
    } else {
        format!("{names}: {from} to {to} {unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_lie_close_share_a_label() {
        let line = |phase, y, value| LabelledLine { phase, y, value };
        let texts = |lines: &[LabelledLine]| {
            line_labels(lines.to_vec(), "A").into_iter().map(|l| l.text).collect::<Vec<_>>()
        };
        let lines = [line(1, 80.0, 1.84), line(3, 20.0, 38.0), line(5, 70.0, 2.5)];
        assert_eq!(texts(&lines), ["phase 3: 38.0 A", "phases 1, 5: 1.84 to 2.50 A"]);
        let equal: Vec<_> = (1..=6).map(|n| line(2 * n, 20.0, 5.0)).collect();
        assert_eq!(texts(&equal), ["6 phases: 5.00 A"]);
        assert_eq!(common_label(&lines, "A"), "phases 1, 3, 5: 1.84 to 38.0 A");
        assert!(texts(&[]).is_empty());
    }
}
