//! Small pictures in block characters, for a terminal.

/// Eighths of a character, from none to all of it, upwards.
const UPWARDS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// The same to the right.
const ACROSS: [char; 9] = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉', '█'];

/// Bins joined to at most so many columns: neighbours by equal numbers, the last with what is left.
pub(in crate::report) fn joined(counts: &[u64], columns: usize) -> Vec<u64> {
    let each = counts.len().div_ceil(columns.max(1)).max(1);
    counts.chunks(each).map(|bins| bins.iter().sum()).collect()
}

/// A histogram in one line, a character a bin. What is not empty is at least an eighth high.
pub(in crate::report) fn histogram(counts: &[u64], most: u64) -> String {
    let eighth = |count: &u64| match (*count, most) {
        (0, _) | (_, 0) => 0,
        (count, most) => (8 * count).div_ceil(most).min(8),
    };
    counts.iter().map(|count| character(UPWARDS, eighth(count))).collect()
}

/// A bar of so many characters for a share of 1; longer ones are cut there.
pub(in crate::report) fn bar(share: f64, characters: u32) -> String {
    let eighths = libm::round(8.0 * f64::from(characters) * share.clamp(0.0, 1.0));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few hundred")]
    let eighths = if eighths.is_finite() { eighths as u64 } else { 0 };
    let whole = (0..eighths / 8).map(|_| ACROSS[8]);
    let rest = (eighths % 8 > 0).then(|| character(ACROSS, eighths % 8));
    whole.chain(rest).collect()
}

fn character(of: [char; 9], eighths: u64) -> char {
    usize::try_from(eighths).ok().and_then(|n| of.get(n)).copied().unwrap_or(' ')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn histograms_and_bars_by_hand() {
        assert_eq!(histogram(&[0, 1, 4, 8, 80], 8), " ▁▄██");
        assert_eq!(histogram(&[0, 1], 1000), " ▁", "one of a thousand is seen");
        assert_eq!(joined(&[1, 2, 3, 4, 5], 2), [6, 9]);
        assert_eq!(joined(&[1, 2], 40), [1, 2]);
        assert_eq!([bar(0.5, 4), bar(1.0, 2), bar(7.0, 2)], ["██", "██", "██"]);
        assert_eq!([bar(0.0, 4), bar(f64::NAN, 4), bar(1.0 / 16.0, 2)], ["", "", "▏"]);
    }
}
