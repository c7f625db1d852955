//! `sensors`: the case for or against current sensors.

use std::process::ExitCode;

use anyhow::anyhow;
use clap::Args;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::report::folder::Folder;
use crate::report::sensors::{json as summary, terminal};
use crate::report::{html, json};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::sensors::sensors as study;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    common: Common,
    /// Exit with status 1 unless the chain without sensors meets the target
    #[arg(long)]
    require_pass: bool,
}

pub(super) fn sensors(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = Scenario::read_with_sensors(&common.scenario)?;
    let request = scenario.sensors.ok_or_else(|| anyhow!("the scenario tells of no sensors"))?;
    let settings = common.settings(&scenario);
    let mut bars = progress::Bars::new(common.quiet || common.json);
    let stop = progress::stop_on_signal()?;
    let result = study(&scenario, &request, settings, stop, &mut bars)?;
    drop(bars);
    let values = summary::summary(&scenario, &request, &result);
    let folder = Folder::open(&common.out())?;
    folder.write("report.html", &html::sensors_page(&scenario, &request, &result))?;
    folder.write("summary.json", &json::text(&values)?)?;
    folder.finish()?;
    let text = format!(
        "{}\nReport: {}\n",
        terminal::sensors(&scenario, &result),
        common.out().join("report.html").display()
    );
    common.show(&text, &values)?;
    let failed = arguments.require_pass && result.verdict() != Verdict::Pass;
    Ok(match (result.unfinished, failed) {
        (Some(_), _) => ExitCode::from(UNFINISHED),
        (None, true) => ExitCode::from(NOT_A_PASS),
        (None, false) => ExitCode::SUCCESS,
    })
}
