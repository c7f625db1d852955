//! `gain`: voltage gain over frequency for every configuration.

use std::process::ExitCode;

use clap::Args;

use super::{CliError, Common, NOT_A_PASS, progress};
use crate::report::format::folder::Folder;
use crate::report::gain::report;
use crate::study::gain::gain as study;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    /// Exit with status 1 unless every operating point is reached in a configuration that it may
    /// take
    #[arg(long)]
    require_pass: bool,
}

pub(super) fn gain(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    common.mention_idle_options()?;
    let scenario = common.read()?;
    let stop = progress::stop_on_signal()?;
    let gain =
        study(&scenario, (common.method(), common.threads()), stop).map_err(anyhow::Error::from)?;
    let folder = Folder::open(&common.out())?;
    common.deliver(folder, report(&scenario, &gain)?, &[])?;
    let failed = arguments.require_pass && !gain.covers_all();
    Ok(if failed { ExitCode::from(NOT_A_PASS) } else { ExitCode::SUCCESS })
}
