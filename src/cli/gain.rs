//! `gain`: voltage gain over frequency for every configuration.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::report::gain::report;
use crate::study::gain::gain as study;

/// The command line of `gain`.
#[derive(Debug, Args)]
pub(super) struct GainArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Exit with status 1 unless every operating point is reached in a configuration that it may
    /// take
    #[arg(long)]
    require_pass: bool,
}

impl Question for GainArguments {
    const DRAWS_SAMPLES: bool = false;

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn files(&self) -> Vec<&'static str> {
        vec!["report.html", "gain.csv"]
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let bars = progress::StageBars::new(self.common.shown.is_silent());
        let gain = study(scenario, self.common.method(), self.common.threads(), stop)
            .map_err(anyhow::Error::from)?;
        drop(bars);
        Ok(Answer {
            report: report(scenario, &gain)?,
            completion: Completion::new(false, gain.covers_all()),
        })
    }
}
