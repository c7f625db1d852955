//! `units`: converters whose parts are listed in a file.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question};
use crate::population::parts_file;
use crate::report::format::folder::Folder;
use crate::report::units::report;
use crate::scenario::{Scenario, file_name};
use crate::study::common::progress::Progress;
use crate::study::units::units as study;

/// The command line of `units`.
#[derive(Debug, Args)]
pub(super) struct UnitsArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// The converters' parts (CSV, one row a phase; `run` writes such a file)
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    parts: PathBuf,
}

impl Question for UnitsArguments {
    const DRAWS_SAMPLES: bool = false;

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn answer(&self, scenario: &Scenario) -> Result<Answer, CliError> {
        let units = parts_file::read(&self.parts, &scenario.nominal_converter())?;
        let method = self.common.method();
        let stop = progress::stop_on_signal()?;
        let mut bars = progress::StageBars::new(self.common.is_silent());
        bars.stage("solving the listed converters", 0);
        let listed = study(scenario, &units, method, self.common.threads(), stop)?;
        drop(bars);
        let folder = Folder::open(&self.common.out())?;
        Ok(Answer {
            report: report(scenario, &file_name(&self.parts), method, &listed)?,
            folder: Some(folder),
            inputs: vec![self.parts.clone()],
            completion: Completion::Passed,
        })
    }
}
