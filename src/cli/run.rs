//! `run`: the main job.

use std::process::ExitCode;

use clap::Args;
use indicatif::ProgressBar;

use super::{CliError, Common, NOT_A_PASS, progress};
use crate::engine::Batch;
use crate::population::Population;
use crate::report::format::folder::Folder;
use crate::report::run::parquet::{Parts, Samples};
use crate::report::run::report;
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::statistics::Verdict;
use crate::study::common::figures::Figure;
use crate::study::run::{Watcher, run as study};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    /// Exit with status 1 unless the chain's verdict is a pass
    #[arg(long)]
    require_pass: bool,
}

/// Writes the samples as they pass, and moves the bar.
struct Writer<'a> {
    scenario: &'a Scenario,
    arguments: &'a Common,
    seed: u64,
    bar: ProgressBar,
    files: Option<Files>,
}

struct Files {
    folder: Folder,
    samples: Samples,
    parts: Parts,
}

impl Watcher for Writer<'_> {
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()> {
        let folder = Folder::open(&self.arguments.out())?;
        let sharing = Figure::SharingError(self.scenario.limits.sharing);
        let samples = Samples::create(&folder, cases, figures, sharing)?;
        let population = Population::new(self.scenario, self.seed);
        let parts = Parts::create(&folder, population)?;
        self.files = Some(Files { folder, samples, parts });
        Ok(())
    }

    fn batch(&mut self, batch: &Batch, good: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()> {
        if let Some(files) = &mut self.files {
            files.samples.take(batch, good)?;
            files.parts.take(batch)?;
        }
        self.bar.inc(batch.len() as u64);
        Ok(())
    }
}

impl Files {
    /// Closes the files of the samples; gives the folder that they are in.
    fn close(self) -> anyhow::Result<Folder> {
        let Self { folder, samples, parts } = self;
        samples.finish()?;
        parts.finish()?;
        Ok(folder)
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read()?;
    let settings = common.settings(&scenario);
    let bar = progress::bar(settings.samples, common.quiet || common.json)?;
    let seed = settings.seed;
    let mut writer = Writer { scenario: &scenario, arguments: common, seed, bar, files: None };
    let result = study(&scenario, settings, progress::stop_on_signal()?, &mut writer)?;
    writer.bar.finish_and_clear();
    if let Some(files) = writer.files.take() {
        let folder = files.close()?;
        common.deliver(folder, report(&scenario, &result)?, &[])?;
    }
    let passed = result.joint[0].verdict == Verdict::Pass;
    let failed = arguments.require_pass && !passed;
    Ok(if failed { ExitCode::from(NOT_A_PASS) } else { ExitCode::SUCCESS })
}
