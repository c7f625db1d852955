//! All samples, in order, and who receives them.

use crate::engine::{Batch, EngineError};
use crate::population::Population;
use crate::solver::Case;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::tally::Tally;

/// Receives the samples of a run as they are solved.
pub trait SampleSink: Send {
    /// Sampling starts: a sample has a row for each case, with these figures.
    ///
    /// # Errors
    ///
    /// When it cannot take them, which ends the run.
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()>;

    /// Takes a batch. `meets` tells whether a sample of the batch meets all demands of a case.
    ///
    /// # Errors
    ///
    /// When it cannot take them, which ends the run.
    fn take(&mut self, batch: &Batch, meets: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()>;
}

/// Keeps nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoSink;

impl SampleSink for NoSink {
    fn begin(&mut self, _: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        Ok(())
    }

    fn take(&mut self, _: &Batch, _: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()> {
        Ok(())
    }
}

/// Goes through all samples.
pub(super) fn sample(
    session: &Session,
    population: &Population,
    figures: &[Figure],
    sink: &mut dyn SampleSink,
    progress: &mut dyn Progress,
) -> Result<Tally, EngineError> {
    let cases: Vec<Case> = session.baselines().iter().map(|b| b.case.clone()).collect();
    let plan = SamplePlan {
        method: session.settings().method,
        populations: std::slice::from_ref(population),
        rows: &PlannedRow::of_one_population(&cases),
        figures,
    };
    let mut tally = Tally::new(&cases, figures, &session.scenario().limits);
    sink.begin(&cases, figures)?;
    session.evaluate(&plan, session.settings().samples, |batch| {
        tally.take(batch, &cases, figures);
        sink.take(batch, &|n, case| tally.cases[case].count.meets(batch.row(n, case)))?;
        progress.advance(batch.len() as u64);
        Ok(())
    })?;
    Ok(tally)
}
