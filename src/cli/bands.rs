//! `bands`: the widest tolerance bands that still meet the yield target.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::report::bands::report;
use crate::scenario::{Asked, Place};
use crate::statistics::Verdict;
use crate::study::bands::{ArrangementBands, BandsError, bands as study};

/// The command line of `bands`.
#[derive(Debug, Args)]
pub(super) struct BandsArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Exit with status 1 unless the chain's present bands meet the target
    #[arg(long)]
    require_pass: bool,
    /// Leave out the verdicts of the recommended set under other assumptions about its parts
    ///
    /// They take as many converters as one verification run. `[run] explain = false` leaves them out too.
    #[arg(long)]
    no_explain: bool,
}

impl BandsArguments {
    /// What is wrong with the scenario, or with the number of samples that the command line gives.
    fn refusal(&self, error: BandsError) -> CliError {
        match error {
            BandsError::Run(error) => error.into(),
            BandsError::NoTolerance | BandsError::AllMeasured => {
                CliError::Input(format!("error: {error}"))
            }
            BandsError::TooFewSamples { needed, .. } => {
                let is_given = self.common.samples.is_some();
                CliError::Scenario {
                    place: if is_given { Place::YieldTarget } else { Place::Samples },
                    message: error.to_string(),
                    expected: format!(
                        "expected at least {needed} samples, or a lower `yield_target` or \
                         `confidence`"
                    ),
                }
            }
        }
    }
}

impl Question for BandsArguments {
    fn needs(&self) -> Asked {
        Asked::Tolerances
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
        let settings = self.common.settings(scenario);
        let mut bars = progress::StageBars::new(self.common.shown.is_silent());
        let mut asked = scenario.clone();
        asked.run.explain &= !self.no_explain;
        let found = study(&asked, settings, stop, &mut bars).map_err(|e| self.refusal(e))?;
        drop(bars);
        let verdict = found.parts.first().map(ArrangementBands::told_verdict);
        Ok(Answer {
            report: report(scenario, &found)?,
            completion: Completion::new(found.is_partial(), verdict == Some(Verdict::Pass)),
        })
    }
}
