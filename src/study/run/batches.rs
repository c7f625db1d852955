//! Delivered batches: converters whose parts come from the same lots.
//!
//! The samples of a run have lots of their own each, so that they are independent and the interval of
//! their yield is exact. What a customer receives is a batch of some hundred converters of the same
//! lots. Its yield varies from batch to batch by more than chance alone. Whole batches are drawn for
//! that, and they are independent of each other.

use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::scenario::LotSettings;
use crate::solver::Case;
use crate::statistics::{Confidence, Yield};
use crate::study::common::demand::{Count, Demand};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::settings::Draws;

/// The batches of both arrangements.
#[derive(Debug, Clone, PartialEq)]
pub struct Batches {
    /// Their size and number.
    pub lots: LotSettings,
    /// Chain, paralleled.
    pub arrangements: [ArrangementBatches; 2],
}

/// The batches of one arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrangementBatches {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Converters of each batch that meet all demands at all operating points, in the order drawn.
    pub passing: Vec<u64>,
    /// Share of the batches whose own yield is below the target, with its interval over batches.
    pub below_target: Yield,
}

impl ArrangementBatches {
    /// The number of passing converters that a share `p` of the batches does not exceed: of the
    /// batches drawn, the one of rank ⌈p n⌉.
    pub fn quantile(&self, p: f64) -> u64 {
        let mut sorted = self.passing.clone();
        sorted.sort_unstable();
        let is_enough = |rank: &usize| *rank as f64 >= p * sorted.len() as f64;
        let rank = (1..=sorted.len()).find(is_enough).unwrap_or(sorted.len());
        sorted.get(rank.saturating_sub(1)).copied().unwrap_or_default()
    }
}

/// Draws batches of converters; `draws` names their random numbers.
pub(super) fn batches(
    session: &Session,
    lots: LotSettings,
    draws: Draws,
    progress: &mut dyn Progress,
) -> Result<Batches, StudyError> {
    let scenario = session.scenario();
    let figures = Demand::figures(&scenario.limits);
    let population = session.population(&scenario.tolerances, draws).in_batches(lots.converters);
    let cases: Vec<Case> = session.baselines().iter().map(|b| b.case.clone()).collect();
    let plan = SamplePlan {
        method: session.settings().method,
        populations: std::slice::from_ref(&population),
        rows: &PlannedRow::of_one_population(&cases),
        figures: &figures,
    };
    let count = |case: &Case| Count::new(&scenario.limits, case, &figures);
    let mut counts: Vec<Count> = cases.iter().map(count).collect();
    let mut passing = Arrangement::ALL.map(|_| Vec::new());
    progress.stage("delivered batches", draws.samples);
    let ended = session.evaluate(&plan, draws.samples, |batch| {
        for n in 0..batch.len() {
            let mut passes = Arrangement::ALL.map(|_| true);
            for (row, (case, count)) in cases.iter().zip(&mut counts).enumerate() {
                passes[slot(case.arrangement)] &= count.add(batch.row(n, row));
            }
            let is_first = (batch.first + n as u64).is_multiple_of(lots.converters);
            for (passing, passes) in passing.iter_mut().zip(passes) {
                passing.extend(is_first.then_some(0));
                passing.iter_mut().next_back().into_iter().for_each(|n| *n += u64::from(passes));
            }
        }
        progress.advance(batch.len() as u64);
        Ok(())
    });
    ended.map_err(|error| match error {
        EngineError::Interrupted(_) => StudyError::DrawingBatches,
        other => other.into(),
    })?;
    let [chain, paralleled] = Arrangement::ALL.map(|arrangement| {
        let passing = std::mem::take(&mut passing[slot(arrangement)]);
        of_arrangement(session, lots, arrangement, passing)
    });
    Ok(Batches { lots, arrangements: [chain?, paralleled?] })
}

fn slot(arrangement: Arrangement) -> usize {
    usize::from(arrangement == Arrangement::Paralleled)
}

fn of_arrangement(
    session: &Session,
    lots: LotSettings,
    arrangement: Arrangement,
    passing: Vec<u64>,
) -> Result<ArrangementBatches, StudyError> {
    let limits = &session.scenario().limits;
    // A batch that meets the target to the last digit is not below it.
    let needed = limits.yield_target * lots.converters as f64 * (1.0 - 1e-12);
    let below = passing.iter().filter(|n| (**n as f64) < needed).count() as u64;
    let confidence = Confidence::new(limits.confidence)?;
    let below_target = Yield::new(below, passing.len() as u64, confidence)?;
    Ok(ArrangementBatches { arrangement, passing, below_target })
}
