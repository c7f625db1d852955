//! `check`: the nominal converter, nothing sampled, no files.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question};
use crate::report::check::report;
use crate::scenario::Scenario;
use crate::study::check::check;
use crate::study::common::progress::Progress;

/// The command line of `check`.
#[derive(Debug, Args)]
pub(super) struct CheckArguments {
    #[command(flatten)]
    common: CommonArguments,
}

impl Question for CheckArguments {
    const DRAWS_SAMPLES: bool = false;

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn answer(&self, scenario: &Scenario) -> Result<Answer, CliError> {
        let mut bars = progress::StageBars::new(self.common.is_silent());
        bars.stage(progress::NOMINAL, 0);
        let stop = progress::stop_on_signal()?;
        let checked = check(scenario, self.common.method(), stop)?;
        drop(bars);
        let report = report(scenario, &checked)?;
        Ok(Answer { report, folder: None, inputs: Vec::new(), completion: Completion::Passed })
    }
}
