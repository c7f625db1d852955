//! What is kept of the samples while they pass.

use rayon::prelude::*;

use super::figures::Figure;
use crate::converter::Arrangement;
use crate::engine::{Batch, Case, Status};
use crate::scenario::Limits;
use crate::statistics::Distribution;

/// Up to so many samples, quantiles of headline figures are exact.
const EXACT_UP_TO: usize = 1 << 15;

/// Something that a converter must meet at an operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demand {
    /// The figure that is limited; none for regulation inside the frequency band.
    pub figure: Option<Figure>,
    /// Its upper limit.
    pub limit: f64,
}

impl Demand {
    /// All demands of an arrangement, regulation first.
    pub fn all(limits: &Limits, arrangement: Arrangement) -> Vec<Self> {
        let switches = limits.switches(arrangement);
        let limited = [
            (Figure::SharingError(limits.sharing), limits.sharing_error),
            (Figure::WorstSwitchRms, switches.rms_current.map(|x| x.0)),
            (Figure::WorstSwitchPeak, switches.peak_current.map(|x| x.0)),
            (Figure::WorstBlocking, switches.blocking_voltage.map(|x| x.0)),
        ];
        let limited = limited
            .into_iter()
            .filter_map(|(figure, limit)| Some(Self { figure: Some(figure), limit: limit? }));
        std::iter::once(Self { figure: None, limit: 0.0 }).chain(limited).collect()
    }
}

/// Counts and distributions of one case.
#[derive(Debug)]
pub struct CaseTally {
    /// Solved, out of range, not solved.
    pub counts: [u64; 3],
    /// Samples that met all demands.
    pub good: u64,
    /// The demands, each with the number of samples that missed it.
    pub misses: Vec<(Demand, u64)>,
    /// One distribution a figure, over the solved samples.
    pub distributions: Vec<Distribution>,
    /// The demands' columns.
    columns: Vec<Option<usize>>,
}

/// Counts and distributions of all cases.
#[derive(Debug)]
pub struct Tally {
    /// One a case.
    pub cases: Vec<CaseTally>,
    /// Samples that met all demands in all cases of an arrangement, in [`Arrangement::ALL`]'s
    /// order.
    pub joint: [u64; 2],
}

impl Tally {
    /// Empty.
    pub fn new(cases: &[Case], figures: &[Figure], limits: &Limits) -> Self {
        let of_case = |case: &Case| {
            let demands = Demand::all(limits, case.arrangement);
            let column = |d: &Demand| figures.iter().position(|f| Some(*f) == d.figure);
            CaseTally {
                counts: [0; 3],
                good: 0,
                columns: demands.iter().map(column).collect(),
                misses: demands.into_iter().map(|d| (d, 0)).collect(),
                distributions: figures
                    .iter()
                    .map(|f| {
                        Distribution::exact_up_to(if f.is_headline() { EXACT_UP_TO } else { 0 })
                    })
                    .collect(),
            }
        };
        Self { cases: cases.iter().map(of_case).collect(), joint: [0; 2] }
    }

    /// Takes a batch, in the order of its samples.
    pub fn take(&mut self, batch: &Batch, cases: &[Case], figures: &[Figure]) {
        let mut all_good = vec![[true; 2]; batch.len()];
        for (c, (tally, case)) in self.cases.iter_mut().zip(cases).enumerate() {
            let slot = usize::from(case.arrangement == Arrangement::Paralleled);
            for (n, good) in all_good.iter_mut().enumerate() {
                good[slot] &= tally.judge(batch.row(n, c));
            }
            // One thread a figure, each in the order of the samples: sums do not depend on the
            // number of threads.
            tally.distributions.par_iter_mut().enumerate().for_each(|(column, distribution)| {
                if !figures[column].applies(case.arrangement, case.point.drive) {
                    return;
                }
                for n in 0..batch.len() {
                    if let (Status::Solved, row) = batch.row(n, c) {
                        distribution.push(batch.first + n as u64, row[column]);
                    }
                }
            });
        }
        for good in all_good {
            for (joint, good) in self.joint.iter_mut().zip(good) {
                *joint += u64::from(good);
            }
        }
    }
}

impl CaseTally {
    /// Whether a sample meets a demand. What is not solved fails for that reason alone: nothing
    /// else is known of it.
    fn meets_one(demand: &Demand, column: Option<usize>, (status, row): (Status, &[f64])) -> bool {
        let solved = status == Status::Solved;
        column.map_or(solved, |column| !solved || row[column] <= demand.limit)
    }

    /// Whether a sample meets all demands.
    pub fn meets(&self, row: (Status, &[f64])) -> bool {
        let mut demands = self.misses.iter().zip(&self.columns);
        demands.all(|((demand, _), column)| Self::meets_one(demand, *column, row))
    }

    /// Counts a sample; gives whether it meets all demands.
    fn judge(&mut self, row: (Status, &[f64])) -> bool {
        self.counts[match row.0 {
            Status::Solved => 0,
            Status::OutOfRange => 1,
            Status::NotSolved => 2,
        }] += 1;
        for ((demand, missed), column) in self.misses.iter_mut().zip(&self.columns) {
            *missed += u64::from(!Self::meets_one(demand, *column, row));
        }
        let good = self.meets(row);
        self.good += u64::from(good);
        good
    }
}
