//! The samples of a run, all or some of them, and what follows from them.

use std::ops::Range;

use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::population::{Population, RandomSource};
use crate::solver::Case;
use crate::statistics::{Confidence, Estimator, HeldOutPlan, StateError, TallyState};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::settings::{Draws, Settings};
use crate::study::run::evaluation::TallyReader;
use crate::study::run::result::Run;
use crate::study::run::sample_size::SampleSize;
use crate::study::run::sampled_figures::sampled_figures;
use crate::study::run::sampling::{SampleSink, Sampled, SampledRun};
use crate::study::run::{batches, comparison, waveforms};

/// What is kept of a run's samples: of all of them, or of some that follow each other.
#[derive(Clone)]
pub struct RunSamples<'a> {
    question: RunQuestion<'a>,
    sampled: Sampled,
}

/// What the samples are asked.
#[derive(Clone)]
struct RunQuestion<'a> {
    session: &'a Session<'a>,
    source: RandomSource,
    size: SampleSize,
    estimator: Estimator,
    population: Population,
    cases: Vec<Case>,
    figures: Vec<Figure>,
    held_out: Option<HeldOutPlan>,
}

impl RunQuestion<'_> {
    /// Asks about samples that are drawn and solved so.
    fn ask<T>(&self, ask: impl FnOnce(SampledRun<'_>) -> T) -> T {
        let Self { session, size, population, cases, figures, held_out, .. } = self;
        let plan = SamplePlan {
            method: session.settings().method,
            populations: std::slice::from_ref(population),
            rows: &PlannedRow::of_one_population(cases),
            figures,
        };
        ask(SampledRun { session, plan: &plan, cases, size, held_out: *held_out })
    }
}

impl<'a> RunSamples<'a> {
    /// No samples yet, of a source, of a run that draws so many.
    ///
    /// # Errors
    ///
    /// None that can happen with the confidence of a scenario.
    pub fn none(
        session: &'a Session<'a>,
        source: RandomSource,
        size: SampleSize,
    ) -> Result<Self, StudyError> {
        let scenario = session.scenario();
        let estimator = size.estimator(Confidence::new(scenario.limits.confidence)?);
        let draws = Draws { source, samples: size.most() };
        let target = scenario.limits.yield_target;
        let question = RunQuestion {
            session,
            source,
            size,
            estimator,
            population: session.population(&scenario.tolerances, draws),
            cases: session.baselines().iter().map(|b| b.case.clone().with_stress()).collect(),
            figures: sampled_figures(session),
            held_out: HeldOutPlan::of_quantiles(size.most(), target, &estimator),
        };
        let sampled = question.ask(Sampled::new);
        Ok(Self { question, sampled })
    }

    /// Draws and solves the samples of these numbers, which follow those it holds; `sink` receives them as
    /// they are solved. A run until decided ends where it is decided.
    ///
    /// # Errors
    ///
    /// When the user asks to stop, when `sink` fails.
    pub fn add(
        &mut self,
        samples: Range<u64>,
        sink: &mut dyn SampleSink,
        progress: &mut dyn Progress,
    ) -> Result<(), EngineError> {
        let Self { question, sampled } = self;
        question.ask(|question| sampled.add(question, samples, sink, progress))
    }

    /// Solves the first samples of the run for the tallies that learn from them, as every part of it must, and
    /// counts none. Copies need not do it again.
    ///
    /// # Errors
    ///
    /// When the user asks to stop.
    pub fn learn(&mut self, progress: &mut dyn Progress) -> Result<(), EngineError> {
        let Self { question, sampled } = self;
        question.ask(|question| sampled.learn(question, progress))
    }

    /// Tells a sink what it will receive.
    ///
    /// # Errors
    ///
    /// When it cannot take that.
    pub fn announce(&self, sink: &mut dyn SampleSink) -> anyhow::Result<()> {
        sink.begin(&self.question.cases, &self.question.figures)
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        self.sampled.exchange(state)
    }

    /// The result of all samples; `has_files` tells whether they were handed on to files.
    ///
    /// # Errors
    ///
    /// When the user asks to stop.
    pub fn result(self, has_files: bool, progress: &mut dyn Progress) -> Result<Run, StudyError> {
        let Self { question, sampled } = self;
        let RunQuestion { session, source, size, estimator, population, cases, figures, .. } =
            question;
        let scenario = session.scenario();
        let compared = comparison::compare(session, &population, sampled.samples);
        let compared = compared.map_err(|error| match error {
            EngineError::Interrupted(_) => StudyError::Comparing,
            other => other.into(),
        })?;
        let batches = scenario.lots.map(|lots| {
            let draws = Draws { source, samples: lots.converters * lots.batches };
            batches::batches(session, lots, draws, progress)
        });
        let reader = TallyReader {
            session,
            population: &population,
            figures: &figures,
            sampled: &sampled,
            estimator,
        };
        let [chain, paralleled] = Arrangement::ALL.map(|arrangement| reader.joint(arrangement));
        let (chain, paralleled, results) = (chain?, paralleled?, reader.cases()?);
        let waveforms = waveforms::at_limiting_point(&reader, &results, &chain);
        Ok(Run {
            limit_counts: sampled.limits.counts(),
            yields: reader.yields()?,
            drawn: reader.drawn_converters(&results, &chain, waveforms.as_ref()),
            settings: Settings { samples: sampled.samples, ..session.settings() },
            size,
            source,
            waveforms,
            cases: results,
            switching: reader.switching()?,
            nominal_misses: session.nominal_misses(),
            ratings: reader.ratings(&cases)?,
            over_points: reader.over_points()?,
            joint: [chain, paralleled],
            by_age: reader.by_age()?,
            comparison: compared.cases,
            compared: compared.samples,
            batches: batches.transpose()?,
            has_files,
            figures,
        })
    }
}
