//! What a script needs to tell the bars of an outline one by one, in few bytes.

/// Bins that divide an axis into equal parts.
#[derive(Debug, Clone, Copy)]
pub(super) struct CountedBins {
    /// Ends of the axis, and where they are drawn.
    pub(super) ends: [f64; 2],
    pub(super) drawn: [f64; 2],
    /// Number of bins.
    pub(super) bins: usize,
    /// All samples.
    pub(super) samples: u64,
}

impl CountedBins {
    /// Ends of the axis in percent and their places, bins, samples.
    pub(super) fn told(&self) -> String {
        let Self { ends, drawn: [left, right], bins, samples } = self;
        let [from, to] = ends.map(|end| format!("{:.6e}", 100.0 * end).parse().unwrap_or(end));
        format!("{from} {to} {left} {right} {bins} {samples}")
    }
}

/// Counts in few bytes: the place of the first that is not zero, then those up to the last one, zeros left
/// out between their commas.
pub(in crate::report) fn packed_counts(counts: &[u64]) -> String {
    let Some(first) = counts.iter().position(|n| *n > 0) else { return String::new() };
    let last = counts.iter().rposition(|n| *n > 0).unwrap_or(first);
    let text = |n: &u64| if *n > 0 { n.to_string() } else { String::new() };
    let texts: Vec<String> = counts[first..=last].iter().map(text).collect();
    format!("{first}:{}", texts.join(","))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_take_few_bytes() {
        assert_eq!(packed_counts(&[0, 0, 3, 0, 12, 0]), "2:3,,12");
        assert_eq!(packed_counts(&[0, 0]), "");
        assert_eq!(packed_counts(&[7]), "0:7");
    }
}
