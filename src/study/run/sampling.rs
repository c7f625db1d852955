//! All samples, in order, and who receives them.

use std::ops::{ControlFlow, Range};

use crate::engine::{Batch, EngineError};
use crate::solver::Case;
use crate::statistics::{HeldOutPlan, StateError, TallyState};
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::ratings::RatingTally;
use crate::study::common::session::{SamplePlan, Session};
use crate::study::common::soft_switching::SwitchingTally;
use crate::study::common::tally::Tally;
use crate::study::run::drawn::DrawnTally;
use crate::study::run::limit_counts::LimitTally;
use crate::study::run::measured::{MeasuredTallies, YieldOf};
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

    /// Whether it wants the parts of every sample in the batches.
    fn wants_parts(&self) -> bool {
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

/// What is kept of the samples.
#[derive(Clone)]
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
    /// The number after that of the last sample.
    pub(super) samples: u64,
    /// Samples of a whole batch: a verdict is asked for after each.
    pub(super) batch: u64,
}

/// What is sampled.
#[derive(Clone, Copy)]
pub(super) struct SampledRun<'a> {
    pub(super) session: &'a Session<'a>,
    pub(super) plan: &'a SamplePlan<'a>,
    pub(super) cases: &'a [Case],
    pub(super) size: &'a SampleSize,
    /// How samples are counted that keep to all ratings at once; none where there are too few for ratings.
    pub(super) held_out: Option<HeldOutPlan>,
}

impl SampledRun<'_> {
    /// First samples of all that some tallies learn from: the bins of limits from the first batch, the limits
    /// that others are counted against.
    fn learnt_from(&self) -> u64 {
        let held_out = self.held_out.map_or(0, |plan| plan.first);
        held_out.max(self.plan.layout().batch() as u64).min(self.size.most())
    }
}

impl Sampled {
    /// No samples yet.
    pub(super) fn new(question: SampledRun) -> Self {
        let SampledRun { session, plan, cases, held_out, .. } = question;
        let limits = &session.scenario().limits;
        Self {
            tally: Tally::new(cases, plan.figures, limits),
            measured: MeasuredTallies::new(session, &plan.populations[0]),
            switching: SwitchingTally::new(session, cases, 0..cases.len(), plan.figures),
            ratings: RatingTally::new(cases, 0..cases.len(), plan.figures, held_out),
            over_points: OverPointsTally::new(cases, plan.figures, limits),
            limits: LimitTally::new(cases, plan.figures, limits),
            drawn: DrawnTally::new(session, cases, plan.figures),
            first_errors: FirstErrors::new(cases, plan.figures, limits.sharing),
            samples: 0,
            batch: plan.layout().batch() as u64,
        }
    }

    /// Goes through the samples of these numbers, or until the chain's verdict is decided. What some tallies
    /// learn from the first samples of all is solved before, where these are not all among them.
    pub(super) fn add(
        &mut self,
        question: SampledRun,
        samples: Range<u64>,
        sink: &mut dyn SampleSink,
        progress: &mut dyn Progress,
    ) -> Result<(), EngineError> {
        let SampledRun { session, plan, cases, size, .. } = question;
        if samples.start > 0 || samples.end < question.learnt_from() {
            self.learn(question, progress)?;
        }
        progress.stage(size.stage(), samples.end - samples.start);
        sink.begin(cases, plan.figures)?;
        let layout = if sink.wants_parts() { plan.layout_with_parts() } else { plan.layout() };
        session.evaluate_until(plan, layout, samples, |batch| {
            self.take(question, batch);
            let tally = &self.tally;
            let kept = size.in_files(batch.first, batch.len());
            sink.take(batch, kept, &|n, case| tally.cases[case].count.meets(batch.row(n, case)))?;
            progress.advance(batch.len() as u64);
            let files = || self.measured.effects(YieldOf::OF_CHAIN);
            let goes_on = size.goes_on(tally.joint[0], self.samples, files);
            if let Some(left) = goes_on.left {
                progress.expect(left);
            }
            Ok(if goes_on.is_decided { ControlFlow::Break(()) } else { ControlFlow::Continue(()) })
        })
    }

    /// Solves first samples of all, which are not counted, for the tallies that learn from them. Does nothing
    /// where that was done.
    pub(super) fn learn(
        &mut self,
        question: SampledRun,
        progress: &mut dyn Progress,
    ) -> Result<(), EngineError> {
        if self.limits.has_learnt() {
            return Ok(());
        }
        let first = question.learnt_from();
        progress.stage("first samples, solved in every part", first);
        question.session.evaluate(question.plan, first, |batch| {
            self.limits.learn(batch, &self.tally);
            self.ratings.learn(batch);
            progress.advance(batch.len() as u64);
            Ok(())
        })
    }

    fn take(&mut self, question: SampledRun, batch: &Batch) {
        let SampledRun { session, plan, cases, .. } = question;
        self.tally.take(batch, cases, plan.figures);
        self.measured.take(batch, &self.tally);
        if let Some(switching) = &mut self.switching {
            switching.take(batch);
        }
        self.ratings.take(batch);
        self.first_errors.take(batch);
        if let Some(over_points) = &mut self.over_points {
            over_points.take(batch, &self.tally, session.scenario().limits.sharing);
        }
        self.limits.take(batch, &self.tally);
        if let Some(drawn) = &mut self.drawn {
            drawn.take(batch, &self.tally);
        }
        self.samples = batch.first + batch.len() as u64;
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(super) fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        self.tally.exchange(state)?;
        self.measured.exchange(state)?;
        self.switching.iter_mut().try_for_each(|own| own.exchange(state))?;
        self.ratings.exchange(state)?;
        self.first_errors.exchange(state)?;
        self.over_points.iter_mut().try_for_each(|own| own.exchange(state))?;
        self.limits.exchange(state)?;
        self.drawn.iter_mut().try_for_each(|own| own.exchange(state))?;
        self.samples = state.samples().end;
        Ok(())
    }
}
