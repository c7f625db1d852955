//! All samples, in order, and who receives them.

use std::ops::ControlFlow;

use crate::engine::{Batch, EngineError};
use crate::solver::Case;
use crate::statistics::HeldOutPlan;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::ratings::RatingTally;
use crate::study::common::session::{SamplePlan, Session};
use crate::study::common::soft_switching::SwitchingTally;
use crate::study::common::tally::Tally;
use crate::study::run::drawn::DrawnTally;
use crate::study::run::limit_counts::LimitTally;
use crate::study::run::measured::MeasuredTallies;
use crate::study::run::median_sample::FirstErrors;
use crate::study::run::over_points::OverPointsTally;
use crate::study::run::sample_size::SampleSize;

/// Receives the samples of a run as they are solved.
pub trait SampleSink: Send {
    /// Sampling starts: a sample has a row for each case, with these figures.
    ///
    /// # Errors
    ///
    /// When it cannot take them, which ends the run.
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()>;

    /// Whether it writes the samples to files.
    fn has_files(&self) -> bool {
        false
    }

    /// Takes the first `samples` of a batch. `meets` tells whether a sample of the batch meets all
    /// demands of a case.
    ///
    /// # Errors
    ///
    /// When it cannot take them, which ends the run.
    fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()>;
}

/// Keeps nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoSink;

impl SampleSink for NoSink {
    fn begin(&mut self, _: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        Ok(())
    }

    fn take(
        &mut self,
        _: &Batch,
        _: usize,
        _: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        Ok(())
    }
}

/// Hands the samples on to two sinks.
pub struct BothSinks<'a> {
    /// Receives them first.
    pub first: &'a mut dyn SampleSink,
    /// Receives them then.
    pub second: &'a mut dyn SampleSink,
}

impl SampleSink for BothSinks<'_> {
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()> {
        self.first.begin(cases, figures)?;
        self.second.begin(cases, figures)
    }

    fn has_files(&self) -> bool {
        self.first.has_files() || self.second.has_files()
    }

    fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        self.first.take(batch, samples, meets)?;
        self.second.take(batch, samples, meets)
    }
}

/// What was kept of the samples.
pub(super) struct Sampled {
    pub(super) tally: Tally,
    /// How the switches turn on, where that is asked.
    pub(super) switching: Option<SwitchingTally>,
    /// What loads the parts over all operating points.
    pub(super) ratings: RatingTally,
    /// Figures over all operating points; none where the sharing error is not among them.
    pub(super) over_points: Option<OverPointsTally>,
    /// How many samples would pass at other limits.
    pub(super) limits: LimitTally,
    /// Converters to be shown one by one.
    pub(super) drawn: Option<DrawnTally>,
    /// Which sample is the median one.
    pub(super) first_errors: FirstErrors,
    /// What measured parts do to the yields.
    pub(super) measured: MeasuredTallies,
    /// Their number.
    pub(super) samples: u64,
    /// Samples of a whole batch: a verdict is asked for after each.
    pub(super) batch: u64,
}

/// What is sampled.
#[derive(Clone, Copy)]
pub(super) struct SampledRun<'a> {
    pub(super) session: &'a Session<'a>,
    pub(super) plan: &'a SamplePlan<'a>,
    pub(super) size: &'a SampleSize,
    /// How samples are counted that keep to all ratings at once; none where there are too few for ratings.
    pub(super) held_out: Option<HeldOutPlan>,
}

/// Goes through the samples: as many as were fixed in advance, or until the chain's verdict is
/// decided.
pub(super) fn sample(
    question: SampledRun,
    sink: &mut dyn SampleSink,
    progress: &mut dyn Progress,
) -> Result<Sampled, EngineError> {
    let SampledRun { session, plan, size, held_out } = question;
    let cases: Vec<Case> = plan.rows.iter().map(|row| row.case.clone()).collect();
    let mut tally = Tally::new(&cases, plan.figures, &session.scenario().limits);
    let mut measured = MeasuredTallies::new(session, &plan.populations[0]);
    let mut switching = SwitchingTally::new(session, &cases, plan.figures);
    let mut ratings = RatingTally::new(&cases, plan.figures, held_out);
    let limits = &session.scenario().limits;
    let mut over_points = OverPointsTally::new(&cases, plan.figures, limits);
    let mut limit_tally = LimitTally::new(&cases, plan.figures, limits);
    let mut drawn = DrawnTally::new(session, &cases, plan.figures);
    let mut first_errors = FirstErrors::new(&cases, plan.figures, limits.sharing);
    let mut samples = 0;
    progress.stage(size.stage(), size.most());
    sink.begin(&cases, plan.figures)?;
    session.evaluate_until(plan, size.most(), |batch| {
        tally.take(batch, &cases, plan.figures);
        measured.take(batch, &tally);
        if let Some(switching) = &mut switching {
            switching.take(batch);
        }
        ratings.take(batch);
        first_errors.take(batch);
        if let Some(over_points) = &mut over_points {
            over_points.take(batch, &tally, limits.sharing);
        }
        limit_tally.take(batch, &tally);
        if let Some(drawn) = &mut drawn {
            drawn.take(batch, &tally);
        }
        let kept = size.in_files(batch.first, batch.len());
        sink.take(batch, kept, &|n, case| tally.cases[case].count.meets(batch.row(n, case)))?;
        samples = batch.first + batch.len() as u64;
        progress.advance(batch.len() as u64);
        let goes_on = size.goes_on(tally.joint[0], samples);
        if let Some(left) = goes_on.left {
            progress.expect(left);
        }
        Ok(if goes_on.is_decided { ControlFlow::Break(()) } else { ControlFlow::Continue(()) })
    })?;
    Ok(Sampled {
        tally,
        switching,
        ratings,
        over_points,
        limits: limit_tally,
        drawn,
        first_errors,
        measured,
        samples,
        batch: plan.layout().batch() as u64,
    })
}
