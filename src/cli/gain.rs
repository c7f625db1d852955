//! `gain`: voltage gain over frequency for every configuration.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question};
use crate::report::format::folder::Folder;
use crate::report::gain::report;
use crate::scenario::Scenario;
use crate::study::common::progress::Progress;
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

    fn answer(&self, scenario: &Scenario) -> Result<Answer, CliError> {
        let stop = progress::stop_on_signal()?;
        let mut bars = progress::StageBars::new(self.common.is_silent());
        bars.stage("drawing the voltage gain", 0);
        let gain = study(scenario, self.common.method(), self.common.threads(), stop)
            .map_err(anyhow::Error::from)?;
        drop(bars);
        let folder = Folder::open(&self.common.out())?;
        Ok(Answer {
            report: report(scenario, &gain)?,
            folder: Some(folder),
            inputs: Vec::new(),
            completion: Completion::new(false, gain.covers_all()),
        })
    }
}
