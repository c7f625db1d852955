//! How far the exact and the averaged solver differ.

use crate::converter::Arrangement;
use crate::study::run::comparison::SolverComparison;
use crate::study::run::result::Run;

/// Samples that a ratio of 95 % quantiles takes.
const FEWEST: u64 = 100;

/// The difference of the solvers at one operating point, of the chain.
#[derive(Debug, Clone, Copy)]
pub struct SolverDifference<'a> {
    /// The operating point's name.
    pub operating_point: &'a str,
    /// 95 % quantile of the sharing error, exact over averaged.
    pub error_ratio: f64,
    /// Largest relative difference of the switching frequency.
    pub frequency: f64,
}

impl SolverComparison {
    /// Median sharing error, exact over averaged; none where there is none or the averaged one is
    /// zero.
    pub fn median_ratio(&self) -> Option<f64> {
        self.median.and_then(|(exact, averaged)| ratio(exact, averaged))
    }

    /// 95 % quantile of the sharing error, exact over averaged; none as for the median, and of fewer than 100
    /// samples: chance then moves it by as much as the solvers differ.
    pub fn p95_ratio(&self) -> Option<f64> {
        let p95 = self.p95.filter(|_| self.both_solved >= FEWEST)?;
        ratio(p95.0, p95.1)
    }
}

fn ratio(exact: f64, averaged: f64) -> Option<f64> {
    (averaged > 0.0).then(|| exact / averaged)
}

impl Run {
    /// The difference at the operating point where the sharing errors of the chain differ by the
    /// largest ratio; none where both solved too few samples, and where the averaged one finds no error.
    pub fn largest_solver_difference(&self) -> Option<SolverDifference<'_>> {
        let differences = self.in_arrangement(Arrangement::Chain).filter_map(|(n, case)| {
            let comparison = self.comparison.get(n)?;
            Some(SolverDifference {
                operating_point: case.operating_point(),
                error_ratio: comparison.p95_ratio()?,
                frequency: comparison.frequency?,
            })
        });
        let size = |difference: &SolverDifference<'_>| libm::log(difference.error_ratio).abs();
        differences.max_by(|a, b| size(a).total_cmp(&size(b)))
    }
}
