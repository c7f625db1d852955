//! Labels on the lines of phases: those that lie too near to each other have one together.

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
    let mut group = group.to_vec();
    group.sort_by_key(|line| line.phase);
    let phases: Vec<String> = group.iter().map(|line| line.phase.to_string()).collect();
    let values: Vec<String> = group.iter().map(|line| numbers::three(line.value)).collect();
    let names = match phases.as_slice() {
        [phase] => format!("phase {phase}"),
        few if few.len() <= NAMED => format!("phases {}", few.join(", ")),
        many => format!("{} phases", many.len()),
    };
    if values.iter().all(|value| *value == values[0]) {
        return format!("{names}: {} {unit}", values[0]);
    }
    if phases.len() <= NAMED {
        return format!("{names}: {} {unit}", values.join(", "));
    }
    group.sort_by(|a, b| a.value.total_cmp(&b.value));
    let [least, most] = [&group[0], &group[group.len() - 1]];
    let [from, to] = [least, most].map(|line| numbers::three(line.value));
    format!("{names}: {from} (phase {}) to {to} {unit} (phase {})", least.phase, most.phase)
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
        assert_eq!(texts(&lines), ["phase 3: 38.0 A", "phases 1, 5: 1.84, 2.50 A"]);
        let equal: Vec<_> = (1..=6).map(|n| line(2 * n, 20.0, 5.0)).collect();
        assert_eq!(texts(&equal), ["6 phases: 5.00 A"]);
        assert_eq!(common_label(&lines, "A"), "phases 1, 3, 5: 1.84, 38.0, 2.50 A");
        let many = [line(1, 20.0, 5.0), line(2, 20.0, 7.0), line(3, 20.0, 4.0), line(4, 20.0, 5.0)];
        assert_eq!(texts(&many), ["4 phases: 4.00 (phase 3) to 7.00 A (phase 2)"]);
        assert!(texts(&[]).is_empty());
    }
}
