//! `sensors`: the case for or against current sensors.

use std::process::ExitCode;

use anyhow::anyhow;
use clap::Args;
use indicatif::ProgressBar;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::report::folder::Folder;
use crate::report::html;
use crate::report::sensors::{json as summary, terminal};
use crate::scenario::Asked;
use crate::statistics::Verdict;
use crate::study::sensors::{Progress, sensors as study};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    /// Exit with status 1 unless the chain without sensors meets the target
    #[arg(long)]
    require_pass: bool,
}

/// A bar for every stage.
struct Bars {
    quiet: bool,
    bar: Option<ProgressBar>,
}

impl Progress for Bars {
    fn stage(&mut self, name: &'static str, samples: u64) {
        self.end();
        // A bar that cannot be drawn is no reason to stop the work.
        self.bar = progress::bar(samples, self.quiet).ok();
        if let Some(bar) = &self.bar {
            bar.println(name);
        }
    }

    fn advance(&mut self, samples: u64) {
        if let Some(bar) = &self.bar {
            bar.inc(samples);
        }
    }

    fn end(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}

pub(super) fn sensors(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read_asking(Asked::Sensors)?;
    let request = scenario.sensors.ok_or_else(|| anyhow!("the scenario tells of no sensors"))?;
    let settings = common.settings(&scenario);
    // A folder that cannot be written to is better told before the work than after it.
    let folder = Folder::open(&common.out())?;
    let mut bars = Bars { quiet: common.quiet || common.json, bar: None };
    let stop = progress::stop_on_signal()?;
    let result = study(&scenario, &request, settings, stop, &mut bars)?;
    bars.end();
    let values = summary::summary(&scenario, &request, &result);
    folder.write("report.html", &html::sensors_page(&scenario, &request, &result))?;
    common.deliver(folder, (&terminal::sensors(&scenario, &result), values), &[])?;
    let failed = arguments.require_pass && result.verdict() != Verdict::Pass;
    Ok(match (result.unfinished, failed) {
        (Some(_), _) => ExitCode::from(UNFINISHED),
        (None, true) => ExitCode::from(NOT_A_PASS),
        (None, false) => ExitCode::SUCCESS,
    })
}
