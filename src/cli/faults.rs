//! `faults`: what the rest carries when one part has failed.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::report::faults::report;
use crate::study::common::settings::Settings;
use crate::study::faults::faults as study;

/// The command line of `faults`.
#[derive(Debug, Args)]
pub(super) struct FaultsArguments {
    #[command(flatten)]
    common: CommonArguments,
}

impl Question for FaultsArguments {
    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn files(&self) -> Vec<&'static str> {
        vec!["report.html", "faults.csv"]
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let samples = self.common.samples.unwrap_or(scenario.faults.samples);
        let settings = Settings { samples, ..self.common.settings(scenario) };
        let mut bars = progress::StageBars::new(self.common.shown.is_silent());
        let found = study(scenario, settings, stop, &mut bars)?;
        drop(bars);
        Ok(Answer { report: report(scenario, &found)?, completion: Completion::new(false, true) })
    }
}
