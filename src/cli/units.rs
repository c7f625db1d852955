//! `units`: converters whose parts are listed in a file.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::{CliError, Common, progress};
use crate::population::parts_file;
use crate::report::format::folder::Folder;
use crate::report::units::report;
use crate::scenario::file_name;
use crate::study::units::units as study;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    /// The converters' parts (CSV, one row a phase)
    #[arg(long, value_name = "FILE")]
    parts: PathBuf,
}

pub(super) fn units(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    common.mention_idle_options()?;
    let scenario = common.read()?;
    let units = parts_file::read(&arguments.parts, &scenario.nominal_converter())?;
    let method = common.method();
    let stop = progress::stop_on_signal()?;
    let listed = study(&scenario, &units, (method, common.threads()), stop)?;
    let folder = Folder::open(&common.out())?;
    let parts = file_name(&arguments.parts);
    let report = report(&scenario, &parts, method, &listed)?;
    common.deliver(folder, report, &[&arguments.parts])?;
    Ok(ExitCode::SUCCESS)
}
