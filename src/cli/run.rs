//! `run`: the main job.

use clap::Args;

use super::arguments::{CommonArguments, whole_number};
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::engine::Batch;
use crate::population::{Population, RandomSource};
use crate::report::format::folder::Folder;
use crate::report::run::columns::{FigureColumn, SampleColumns};
use crate::report::run::parquet::{Parts, Samples};
use crate::report::run::report;
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::statistics::{Confidence, SequentialTest, Verdict};
use crate::study::common::figures::Figure;
use crate::study::common::session::Session;
use crate::study::explanation::{Explained, explain, samples_to_keep};
use crate::study::run::{BothSinks, SampleSink, SampleSize, run as study, sampled_figures};

/// The command line of `run`.
#[derive(Debug, Args)]
pub(super) struct RunArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Random stream of the samples: that of a verification run of another verb repeats it
    #[arg(long, value_name = "N", default_value_t = 0,
        allow_negative_numbers = true, value_parser = whole_number(0..=u64::MAX))]
    stream: u64,
    /// Go on until the chain's verdict is decided, at most `[run] most_samples`; not with --samples
    ///
    /// The intervals are then those of a sequential test, which hold however often one looks.
    #[arg(long)]
    decide: bool,
    /// Exit with status 1 unless the chain's verdict is a pass
    #[arg(long)]
    require_pass: bool,
    /// Give the verdict alone: leave out what drives it and what changes it
    ///
    /// The explanation solves up to as many converters again as the run. `[run] explain = false` leaves
    /// it out too. Ctrl-C during the explanation keeps the finished run.
    #[arg(long)]
    no_explain: bool,
    /// Columns of samples.parquet: all, none, or their names with commas between them
    ///
    /// With none, neither samples.parquet nor population.parquet is written, which saves time and room.
    /// The columns that say what a row is about are always there.
    #[arg(long, value_name = "LIST", default_value = "all")]
    columns: SampleColumns,
}

/// Writes the samples as they are solved.
struct SampleWriter<'a> {
    scenario: &'a Scenario,
    folder: &'a Folder,
    source: RandomSource,
    /// Columns of the samples' file; none where no files are asked for.
    columns: Option<Vec<FigureColumn>>,
    files: Option<SampleFiles>,
}

/// The files of the samples.
struct SampleFiles {
    samples: Samples,
    parts: Parts,
}

impl SampleSink for SampleWriter<'_> {
    fn begin(&mut self, cases: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        let Some(columns) = self.columns.take() else { return Ok(()) };
        let samples = Samples::create(self.folder, cases, columns)?;
        let population = Population::new(self.scenario, self.source);
        let parts = Parts::create(self.folder, population)?;
        self.files = Some(SampleFiles { samples, parts });
        Ok(())
    }

    fn has_files(&self) -> bool {
        self.files.is_some()
    }

    fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        if let Some(files) = &mut self.files {
            files.samples.take(batch, samples, meets)?;
            files.parts.take(batch, samples)?;
        }
        Ok(())
    }
}

impl RunArguments {
    /// How many samples are drawn.
    ///
    /// # Errors
    ///
    /// When their number is both fixed and left to the samples.
    fn size(&self, scenario: &Scenario) -> Result<SampleSize, CliError> {
        if !self.decide {
            return Ok(SampleSize::Fixed(self.common.settings(scenario).samples));
        }
        if self.common.samples.is_some() {
            return Err(CliError::Input(
                "error: --decide and --samples exclude each other\n  --decide goes on until the \
                 verdict is decided; `most_samples` in [run] of the scenario limits it\n"
                    .to_owned(),
            ));
        }
        let confidence =
            Confidence::new(scenario.limits.confidence).map_err(anyhow::Error::from)?;
        let (target, most) = (scenario.limits.yield_target, scenario.run.most_samples);
        Ok(SampleSize::UntilDecided(SequentialTest::new(target, confidence, most)))
    }
}

impl Question for RunArguments {
    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn files(&self) -> Vec<&'static str> {
        let mut files = vec!["report.html", "worst_converters.csv", "ratings.csv"];
        if self.columns.has_files() {
            files.extend(["samples.parquet", "population.parquet"]);
        }
        files
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, folder, stop, .. } = task;
        let arguments = &self.common;
        let (settings, size) = (arguments.settings(scenario), self.size(scenario)?);
        let bars = progress::StageBars::new(arguments.is_silent());
        let session = Session::new(scenario, settings, stop)?;
        drop(bars);
        arguments.say_nominal_misses(&session);
        let mut bars = progress::StageBars::without_converter(arguments.is_silent());
        let source = RandomSource::from(settings.seed).with_stream(self.stream);
        let columns = self.columns.of_figures(&sampled_figures(&session), scenario);
        let columns = columns.map_err(CliError::Input)?;
        let mut writer = SampleWriter { scenario, folder, source, columns, files: None };
        let mut kept = samples_to_keep(scenario);
        let is_explained = scenario.run.explain && !self.no_explain;
        let result = if is_explained {
            let mut both = BothSinks { first: &mut writer, second: &mut kept };
            study(&session, source, size, &mut both, &mut bars)?
        } else {
            study(&session, source, size, &mut writer, &mut bars)?
        };
        let explained = Explained { session: &session, run: &result, kept: &kept };
        let explanation = is_explained.then(|| explain(explained, &mut bars)).transpose()?;
        drop(bars);
        if let Some(files) = writer.files {
            files.samples.finish()?;
            files.parts.finish()?;
        }
        Ok(Answer {
            report: report(scenario, &result, explanation.as_ref())?,
            completion: Completion::new(
                explanation.is_some_and(|explanation| explanation.interrupted),
                result.joint[0].verdict == Verdict::Pass,
            ),
        })
    }
}
