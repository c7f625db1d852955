//! `bands`: the widest tolerance bands that still meet the yield target.

use std::process::ExitCode;

use clap::Args;
use indicatif::ProgressBar;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::report::folder::Folder;
use crate::report::{bands as report, html, json};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::bands::{Bands, BandsError, Watcher, bands as study};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    common: Common,
    /// Exit with status 1 unless the chain's present bands meet the target
    #[arg(long)]
    require_pass: bool,
}

struct Bar(ProgressBar);

impl Watcher for Bar {
    fn planned(&self, more: u64) {
        self.0.set_length(self.0.position() + more);
    }

    fn tried(&self) {
        self.0.inc(1);
    }
}

impl From<BandsError> for CliError {
    fn from(e: BandsError) -> Self {
        match e {
            BandsError::Run(e) => e.into(),
            other => Self::Input(format!("error: {other}")),
        }
    }
}

pub(super) fn bands(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read()?;
    let settings = common.settings(&scenario);
    // A folder that cannot be written to is better told before the search than after it.
    let folder = Folder::open(&common.out())?;
    let bar = Bar(progress::trials(common.quiet || common.json)?);
    let found = study(&scenario, settings, progress::stop_on_signal()?, &bar)?;
    bar.0.finish_and_clear();
    write(folder, &scenario, &found)?;
    let page = common.out().join("report.html");
    let text = format!("{}\nReport: {}\n", report::text(&scenario, &found), page.display());
    common.show(&text, &report::summary(&scenario, &found))?;
    let passed = found.parts.first().is_some_and(|chain| chain.verdict == Verdict::Pass);
    Ok(if found.is_partial() {
        ExitCode::from(UNFINISHED)
    } else if arguments.require_pass && !passed {
        ExitCode::from(NOT_A_PASS)
    } else {
        ExitCode::SUCCESS
    })
}

fn write(folder: Folder, scenario: &Scenario, found: &Bands) -> anyhow::Result<()> {
    folder.write("report.html", &html::bands_page(scenario, found))?;
    folder.write("summary.json", &json::text(&report::summary(scenario, found))?)?;
    folder.finish()?;
    Ok(())
}
