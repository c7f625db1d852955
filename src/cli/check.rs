//! `check`: the nominal converter, nothing sampled, no files.

use std::process::ExitCode;

use super::{CliError, Common};
use crate::report::{json, terminal};
use crate::study::baseline::baselines;

pub(super) fn check(common: &Common) -> Result<ExitCode, CliError> {
    common.mention_idle_options()?;
    let scenario = common.read()?;
    let baselines = baselines(&scenario, common.method())?;
    let summary = json::check_summary(&scenario, common.method(), &baselines);
    common.show(&terminal::check(&scenario, &baselines), &summary)?;
    Ok(ExitCode::SUCCESS)
}
