//! How fast the chains of sampled converters settle.

use crate::engine::Batch;
use crate::population::Population;
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::statistics::{Confidence, Distribution, KeyFigures};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::settling_figures::SettlingFigure;

/// Samples of each operating point, at most: the modes of many phases take a while.
pub const MOST_SAMPLES: u64 = 2000;
/// Values of which quantiles are exact.
const KEPT: usize = 2000;

/// How fast the chains of the samples settle at one operating point. Samples that are not solved count
/// above all values.
#[derive(Debug, Clone)]
pub struct SampledSettling {
    /// Periods until the slowest mode is below 1 %.
    pub periods: Option<KeyFigures>,
    /// The same as a time, s.
    pub time: Option<KeyFigures>,
}

/// Samples all these operating points, each prepared by the nominal converter's solution; the same
/// converters at each of them.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn sample(
    scenario: &Scenario,
    session: &Session,
    cases: &[&Case],
    samples: u64,
    progress: &mut dyn Progress,
) -> Result<Vec<SampledSettling>, StudyError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let rows: Vec<PlannedRow> = cases.iter().map(|case| PlannedRow::of_figures(0, case)).collect();
    let source = session.settings().draws().source;
    let nominal = scenario.nominal_converter();
    let populations = [Population::with_tolerances(nominal, &scenario.tolerances, source)];
    let figures = SettlingFigure::ALL.map(Figure::Settling);
    let method = session.settings().method;
    let plan = SamplePlan { method, populations: &populations, rows: &rows, figures: &figures };
    let empty = || figures.map(|_| Distribution::exact_up_to(KEPT));
    let mut kept: Vec<_> = rows.iter().map(|_| empty()).collect();
    session.evaluate(&plan, samples, |batch| {
        take(batch, &mut kept);
        progress.advance(batch.len() as u64);
        Ok(())
    })?;
    let result = |own: &[Distribution; 2]| {
        let [periods, time] = own.each_ref().map(|one| one.key_figures(confidence));
        SampledSettling { periods, time }
    };
    Ok(kept.iter().map(result).collect())
}

/// Keeps the values of a batch. Where nothing damps a disturbance, there is none.
fn take(batch: &Batch, kept: &mut [[Distribution; 2]]) {
    for n in 0..batch.len() {
        let sample = batch.first + n as u64;
        for (row, distributions) in kept.iter_mut().enumerate() {
            for (distribution, value) in distributions.iter_mut().zip(batch.row(n, row).figures) {
                distribution.push(sample, if value.is_finite() { *value } else { f64::NAN });
            }
        }
    }
}
