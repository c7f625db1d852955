//! What is kept of the samples while they pass.

use rayon::prelude::*;

use crate::converter::{Age, Arrangement};
use crate::engine::Batch;
use crate::scenario::Limits;
use crate::solver::Case;
use crate::statistics::{Distribution, StateError, TallyState};
use crate::study::common::demand::Count;
use crate::study::common::figures::Figure;

/// Up to so many samples, quantiles of headline figures are exact, unless [`EXACT_IN_ALL`] allows less.
const EXACT_UP_TO: usize = 1 << 15;
/// Values that all distributions of a study keep as they are, together: 64 MB.
const EXACT_IN_ALL: usize = 1 << 23;

/// Figures that lie side by side in a line of the processor's cache, which is read once for all of them.
const LINE: usize = 8;
/// Samples whose figures of such a line are taken at once: they fit into a processor's first cache.
const RUN: usize = 256;

/// Counts and distributions of one case.
#[derive(Debug, Clone)]
pub struct CaseTally {
    /// What became of its samples.
    pub count: Count,
    /// One distribution a figure. Samples that are not solved have no value there, and stand above all
    /// values.
    pub distributions: Vec<Distribution>,
}

impl CaseTally {
    /// Takes the samples of a batch in case number `place`; tells which of them meet all demands.
    fn take(&mut self, batch: &Batch, place: usize, case: &Case, figures: &[Figure]) -> Vec<bool> {
        // Each figure takes its samples in their order: sums do not depend on the number of threads.
        self.distributions.par_chunks_mut(LINE).enumerate().for_each(|(line, distributions)| {
            let first = line * LINE;
            let end = first + distributions.len();
            let applies =
                |column: usize| figures[column].applies(case.arrangement, case.point.drive);
            let mut columns = [[0.0; RUN]; LINE];
            for start in (0..batch.len()).step_by(RUN) {
                let length = RUN.min(batch.len() - start);
                for n in 0..length {
                    let values = &batch.row(start + n, place).figures[first..end];
                    columns.iter_mut().zip(values).for_each(|(column, value)| column[n] = *value);
                }
                let own = (first..end).zip(distributions.iter_mut()).zip(&columns);
                for ((column, distribution), values) in own {
                    if applies(column) {
                        distribution.push_run(batch.first + start as u64, &values[..length]);
                    }
                }
            }
        });
        (0..batch.len()).map(|n| self.count.add(batch.row(n, place))).collect()
    }
}

/// Counts and distributions of all cases.
#[derive(Debug, Clone)]
pub struct Tally {
    /// One a case.
    pub cases: Vec<CaseTally>,
    /// Samples that met all demands in all cases of an arrangement, in [`Arrangement::ALL`]'s
    /// order.
    pub joint: [u64; 2],
    /// The same at one age alone, in the order of [`Age::ALL`].
    pub by_age: [[u64; 2]; 2],
}

impl Tally {
    /// Empty.
    pub fn new(cases: &[Case], figures: &[Figure], limits: &Limits) -> Self {
        let headlines = cases.len() * figures.iter().filter(|figure| figure.is_headline()).count();
        let most = EXACT_UP_TO.min(EXACT_IN_ALL / headlines.max(1));
        let exact = |f: &Figure| if f.is_headline() { most } else { 0 };
        let distribution = |figure: Figure| {
            let limit =
                limits.sharing_error.filter(|_| figure == Figure::SharingError(limits.sharing));
            Distribution::exact_up_to(exact(&figure)).marked_at(limit)
        };
        let of_case = |case: &Case| CaseTally {
            count: Count::new(limits, case, figures),
            distributions: figures.iter().map(|f| distribution(*f)).collect(),
        };
        Self { cases: cases.iter().map(of_case).collect(), joint: [0; 2], by_age: [[0; 2]; 2] }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        for case in &mut self.cases {
            case.count.exchange(state)?;
            case.distributions.iter_mut().try_for_each(|own| state.distribution(own))?;
        }
        let all = self.joint.iter_mut().chain(self.by_age.iter_mut().flatten());
        all.into_iter().try_for_each(|own| state.count(own))
    }

    /// Takes a batch, in the order of its samples.
    pub fn take(&mut self, batch: &Batch, cases: &[Case], figures: &[Figure]) {
        let tallied = self.cases.par_iter_mut().zip(cases).enumerate();
        let good_in_cases: Vec<Vec<bool>> =
            tallied.map(|(c, (tally, case))| tally.take(batch, c, case, figures)).collect();
        let mut all_good = vec![[[true; 2]; 2]; batch.len()];
        for (case, good_in_case) in cases.iter().zip(good_in_cases) {
            let slot = usize::from(case.arrangement == Arrangement::Paralleled);
            let age = usize::from(case.point.condition.age == Age::EndOfLife);
            for (good, in_case) in all_good.iter_mut().zip(good_in_case) {
                good[age][slot] &= in_case;
            }
        }
        for good in all_good {
            for slot in 0..self.joint.len() {
                self.joint[slot] += u64::from(good.iter().all(|at_age| at_age[slot]));
                for (counts, at_age) in self.by_age.iter_mut().zip(&good) {
                    counts[slot] += u64::from(at_age[slot]);
                }
            }
        }
    }
}
