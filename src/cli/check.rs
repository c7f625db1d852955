//! `check`: the nominal converter, nothing sampled, no files.

use clap::Args;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::exit::ExitStatus;
use super::output::{columns, note, print};
use super::progress;
use super::question::mention_idle_options;
use crate::input::file::InputFile;
use crate::report::check::report;
use crate::scenario::{Asked, Scenario};
use crate::study::check::check as study;

/// The command line of `check`.
#[derive(Debug, Args)]
pub(super) struct CheckArguments {
    #[command(flatten)]
    common: CommonArguments,
}

/// Solves the nominal converter and shows what is found.
pub(super) fn check(arguments: &CheckArguments) -> Result<ExitStatus, CliError> {
    let common = &arguments.common;
    mention_idle_options(common);
    if common.shown.figures && !common.shown.quiet {
        note("nothing is written here, so --figures changes nothing");
    }
    let file = InputFile::read(&common.scenario)?;
    let scenario = Scenario::from_file(&file, Asked::Nothing)?;
    common.say_without_effect(&scenario);
    let bars = progress::StageBars::new(common.shown.is_silent());
    let found = study(&scenario, common.method(), progress::stop_on_signal()?);
    drop(bars);
    let found = found.map_err(|error| CliError::from(error).located(&file, &scenario))?;
    let report = report(&scenario, &found)?;
    if common.shown.json {
        print(report.summary.text())?;
    } else if !common.shown.quiet {
        print(&report.screen.text_for(columns(), common.shown.tables))?;
        let given = std::slice::from_ref(&common.scenario);
        print(&report.screen.ending(None, given, common.shown.tables, false))?;
    }
    Ok(ExitStatus::Done)
}
