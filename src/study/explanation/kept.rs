//! What is kept of a run's first samples.

use crate::engine::{Batch, Status};
use crate::solver::Case;
use crate::statistics::{StateError, TallyState};
use crate::study::common::figures::Figure;
use crate::study::run::SampleSink;

/// Samples whose passes are kept, at most, and passes of all cases together.
const MOST_JUDGED: u64 = 1 << 17;
const MOST_PASSES: usize = 1 << 22;
/// Numbers of figures that are kept, at most: some megabytes.
const MOST_NUMBERS: usize = 1 << 20;

/// What is kept of a run's first samples: whether they pass, and of the very first ones some figures.
/// Its size does not grow with the samples.
#[derive(Debug, Default)]
pub struct KeptSamples {
    /// The figures to be kept.
    wanted: Vec<Figure>,
    cases: usize,
    /// Columns of the run's rows that hold the wanted figures.
    columns: Vec<usize>,
    /// Whether each sample meets all demands of each case, sample by sample.
    passes: Vec<bool>,
    statuses: Vec<Status>,
    numbers: Vec<f64>,
}

impl KeptSamples {
    /// Nothing yet; these figures are to be kept.
    pub fn of(wanted: Vec<Figure>) -> Self {
        Self { wanted, ..Self::default() }
    }

    /// Samples of which is known whether they pass.
    pub fn judged(&self) -> u64 {
        (self.passes.len() / self.cases.max(1)) as u64
    }

    /// Samples of which all figures are known.
    pub fn measured(&self) -> u64 {
        (self.statuses.len() / self.cases.max(1)) as u64
    }

    /// Whether a sample meets all demands of a case.
    ///
    /// # Panics
    ///
    /// When the sample is not below [`Self::judged`].
    pub fn passes(&self, sample: u64, case: usize) -> bool {
        self.passes[self.place(sample, case)]
    }

    /// A figure of a sample in a case; none where it is not solved or does not have the figure.
    pub fn figure(&self, sample: u64, case: usize, figure: Figure) -> Option<f64> {
        let row = self.place(sample, case);
        let column = self.wanted.iter().position(|known| *known == figure)?;
        let number = self.numbers.get(row * self.wanted.len() + column)?;
        (!number.is_nan()).then_some(*number)
    }

    /// Whether a sample was solved in a case; also no where that was not kept.
    pub fn is_solved(&self, sample: u64, case: usize) -> bool {
        self.statuses.get(self.place(sample, case)) == Some(&Status::Solved)
    }

    /// The row of a sample and case.
    fn place(&self, sample: u64, case: usize) -> usize {
        usize::try_from(sample)
            .unwrap_or(usize::MAX)
            .saturating_mul(self.cases)
            .saturating_add(case)
    }

    /// The first samples whose passes are kept.
    fn most_judged(&self) -> u64 {
        MOST_JUDGED.min((MOST_PASSES / self.cases.max(1)) as u64)
    }

    /// The first samples whose figures are kept too.
    fn most_measured(&self) -> u64 {
        let of_sample = self.cases * self.wanted.len().max(1);
        (MOST_NUMBERS / of_sample.max(1)) as u64
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        let (judged, measured) = (self.most_judged(), self.most_measured());
        state.of_first(&mut self.passes, judged, self.cases)?;
        state.of_first(&mut self.statuses, measured, self.cases)?;
        state.of_first(&mut self.numbers, measured, self.cases * self.wanted.len())
    }
}

impl SampleSink for KeptSamples {
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()> {
        let column = |wanted: &Figure| figures.iter().position(|figure| figure == wanted);
        self.wanted.retain(|wanted| figures.contains(wanted));
        self.columns = self.wanted.iter().filter_map(column).collect();
        self.cases = cases.len();
        Ok(())
    }

    fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        let (judged, measured) = (self.most_judged(), self.most_measured());
        for (n, sample) in (0..samples).zip(batch.first..) {
            if sample < judged {
                self.passes.extend((0..self.cases).map(|case| meets(n, case)));
            }
            if sample < measured {
                for row in (0..self.cases).map(|case| batch.row(n, case)) {
                    self.statuses.push(row.status);
                    self.numbers.extend(self.columns.iter().map(|column| row.figures[*column]));
                }
            }
        }
        Ok(())
    }
}
