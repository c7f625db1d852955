//! The yield against a limit of the sharing error.

use crate::statistics::{Edges, Yield};

/// A point of the yield-against-limit curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YieldPoint {
    /// The limit of the sharing error.
    pub limit: f64,
    /// The yield that it would give.
    pub good: Yield,
}

/// The limits of a curve's points: the edges of a histogram and the scenario's limit, rising.
pub(in crate::study) fn curve_limits(edges: &Edges, limit: Option<f64>) -> Vec<f64> {
    let mut limits = edges.values().to_vec();
    if let Some(limit) = limit {
        let index = limits.partition_point(|edge| *edge < limit);
        if limits.get(index) != Some(&limit) {
            limits.insert(index, limit);
        }
    }
    limits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_is_a_point_of_the_curve_once() {
        let edges = Edges::readable(0.0, 0.3, 3);
        let [plain, between, at_edge, beyond] =
            [None, Some(0.25), Some(0.2), Some(0.5)].map(|limit| curve_limits(&edges, limit));
        assert_eq!(plain, edges.values());
        assert_eq!(between, [0.0, 0.1, 0.2, 0.25, 0.3]);
        assert_eq!(at_edge, edges.values());
        assert_eq!(beyond, [0.0, 0.1, 0.2, 0.3, 0.5]);
    }
}
