//! What a script needs to tell the bars of an outline one by one, in few bytes.

use super::Axis;

/// Counts in bins that divide an axis into equal parts.
#[derive(Debug, Clone, Copy)]
pub(super) struct CountedBins<'a> {
    /// The axis.
    pub(super) axis: &'a Axis,
    /// Number of bins.
    pub(super) bins: usize,
    /// All samples.
    pub(super) samples: u64,
}

impl CountedBins<'_> {
    /// Ends of the axis in percent and their places, bins, samples.
    pub(super) fn told(&self) -> String {
        let Axis { from, to, drawn, .. } = self.axis;
        let ends =
            [100.0 * from, 100.0 * to].map(|end| format!("{end:.6e}").parse().unwrap_or(end));
        let [from, to] = ends;
        format!("{from} {to} {} {} {} {}", drawn.from, drawn.to, self.bins, self.samples)
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
