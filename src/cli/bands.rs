//! `bands`: the widest tolerance bands that still meet the yield target.

use std::process::ExitCode;

use clap::Args;
use indicatif::ProgressBar;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::report::bands::report;
use crate::report::format::folder::Folder;
use crate::scenario::{Asked, Place};
use crate::statistics::Verdict;
use crate::study::bands::{BandsError, Watcher, bands as study};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    /// Exit with status 1 unless the chain's present bands meet the target
    #[arg(long)]
    require_pass: bool,
}

struct Bar(ProgressBar);

impl Watcher for Bar {
    fn planned(&self, more: u64) {
        self.0.set_length(self.0.position() + more);
    }

    fn tried(&self, trials: u64) {
        self.0.inc(trials);
    }
}

/// What is wrong with the scenario, or with the number of samples that the command line gives.
fn refused(error: BandsError, common: &Common) -> CliError {
    match error {
        BandsError::Run(e) => e.into(),
        BandsError::NoTolerance => CliError::Input(format!("error: {error}")),
        BandsError::TooFewSamples { needed, .. } => CliError::Scenario {
            place: if common.samples.is_some() { Place::YieldTarget } else { Place::Samples },
            message: error.to_string(),
            expected: format!(
                "expected {needed} samples at least, or a lower `yield_target` or `confidence`"
            ),
        },
    }
}

pub(super) fn bands(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read_asking(Asked::Tolerances)?;
    let settings = common.settings(&scenario);
    // A folder that cannot be written to is better told before the search than after it.
    let folder = Folder::open(&common.out())?;
    let bar = Bar(progress::trials(common.quiet || common.json)?);
    let stop = progress::stop_on_signal()?;
    let found = study(&scenario, settings, stop, &bar).map_err(|e| refused(e, common))?;
    bar.0.finish_and_clear();
    common.deliver(folder, report(&scenario, &found), &[])?;
    let passed = found.parts.first().is_some_and(|chain| chain.verdict == Verdict::Pass);
    Ok(if found.is_partial() {
        ExitCode::from(UNFINISHED)
    } else if arguments.require_pass && !passed {
        ExitCode::from(NOT_A_PASS)
    } else {
        ExitCode::SUCCESS
    })
}
