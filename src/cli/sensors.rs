//! `sensors`: the case for or against current sensors.

use anyhow::anyhow;
use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::report::sensors::report;
use crate::scenario::Asked;
use crate::statistics::Verdict;
use crate::study::sensors::sensors as study;

/// The command line of `sensors`.
#[derive(Debug, Args)]
pub(super) struct SensorsArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Exit with status 1 unless the chain without sensors meets the target
    #[arg(long)]
    require_pass: bool,
}

impl Question for SensorsArguments {
    fn needs(&self) -> Asked {
        Asked::Sensors
    }

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn files(&self) -> Vec<&'static str> {
        vec!["report.html"]
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let request = scenario.sensors.as_ref();
        let request = request.ok_or_else(|| anyhow!("the scenario lacks [sensors]"))?;
        let settings = self.common.settings(scenario);
        let mut bars = progress::StageBars::new(self.common.shown.is_silent());
        let result = study(scenario, request, settings, stop, &mut bars)?;
        drop(bars);
        Ok(Answer {
            report: report(scenario, request, &result)?,
            completion: Completion::new(
                result.unfinished.is_some(),
                result.verdict() == Verdict::Pass,
            ),
        })
    }
}
