//! `sensors`: the case for or against current sensors.

use std::process::ExitCode;

use anyhow::anyhow;
use clap::Args;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::report::format::folder::Folder;
use crate::report::sensors::report;
use crate::scenario::Asked;
use crate::statistics::Verdict;
use crate::study::sensors::sensors as study;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    /// Exit with status 1 unless the chain without sensors meets the target
    #[arg(long)]
    require_pass: bool,
}

pub(super) fn sensors(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read_asking(Asked::Sensors)?;
    let request = scenario.sensors.ok_or_else(|| anyhow!("the scenario tells of no sensors"))?;
    let settings = common.settings(&scenario);
    // A folder that cannot be written to is better told before the work than after it.
    let folder = Folder::open(&common.out())?;
    let mut bars = progress::Bars::new(common.quiet || common.json);
    let stop = progress::stop_on_signal()?;
    let result = study(&scenario, &request, settings, stop, &mut bars)?;
    drop(bars);
    common.deliver(folder, report(&scenario, &request, &result)?, &[])?;
    let failed = arguments.require_pass && result.verdict() != Verdict::Pass;
    Ok(match (result.unfinished, failed) {
        (Some(_), _) => ExitCode::from(UNFINISHED),
        (None, true) => ExitCode::from(NOT_A_PASS),
        (None, false) => ExitCode::SUCCESS,
    })
}
