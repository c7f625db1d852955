//! `check`: the nominal converter, nothing sampled, no files.

use std::process::ExitCode;

use super::{CliError, Common};
use crate::report::check::report;
use crate::study::common::nominal::baselines;

pub(super) fn check(common: &Common) -> Result<ExitCode, CliError> {
    common.mention_idle_options()?;
    let scenario = common.read()?;
    let baselines = baselines(&scenario, common.method())?;
    let report = report(&scenario, common.method(), &baselines)?;
    common.show(&report.text, &report.summary)?;
    Ok(ExitCode::SUCCESS)
}
