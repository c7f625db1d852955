//! `capacitors`: how large the flying capacitors must be.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::converter::Arrangement;
use crate::report::capacitors::report;
use crate::study::capacitors::capacitors as study;
use crate::study::capacitors::start_up::StartMethod;
use crate::study::common::demand::Demand;

/// The command line of `capacitors`.
#[derive(Debug, Args)]
pub(super) struct CapacitorsArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Integrate the starts of the chain as well, beside their laws
    #[arg(long)]
    integrate: bool,
    /// Exit with status 1 unless fresh samples confirm a size that meets the target
    #[arg(long)]
    require_pass: bool,
}

impl Question for CapacitorsArguments {
    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn files(&self) -> Vec<&'static str> {
        vec!["report.html", "capacitors.csv"]
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let settings = self.common.settings(scenario);
        let mut bars = progress::StageBars::new(self.common.shown.is_silent());
        let starts = if self.integrate { StartMethod::Integrated } else { StartMethod::Laws };
        let found = study(scenario, settings, starts, stop, &mut bars)?;
        drop(bars);
        Ok(Answer {
            report: report(scenario, &found)?,
            completion: Completion::new(
                false,
                found.size.confirmed().is_some()
                    && Demand::can_be_judged(scenario, Arrangement::Chain),
            ),
        })
    }
}
