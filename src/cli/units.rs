//! `units`: converters whose parts are listed in a file.

use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueHint};

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::population::parts_file;
use crate::report::units::{PartsSource, report};
use crate::scenario::file_name;
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

    fn files(&self) -> Vec<&'static str> {
        vec!["report.html", "units.csv"]
    }

    fn inputs(&self) -> Vec<&Path> {
        vec![&self.parts]
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let parts = task.inputs.first().context("the parts were not read")?;
        let units = parts_file::parse(&parts.name(), &parts.text, &scenario.nominal_converter())?;
        let source = PartsSource { name: file_name(&self.parts), read_as: units.read_as };
        self.common.say_how_read(&source.name, source.read_as.as_deref());
        let method = self.common.method();
        let bars = progress::StageBars::new(self.common.is_silent());
        let listed = study(scenario, &units.content, method, self.common.threads(), stop)?;
        drop(bars);
        Ok(Answer {
            report: report(scenario, &source, method, &listed)?,
            completion: Completion::Passed,
        })
    }
}
