//! `merge`: the parts of a run, joined to its results.

use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueHint};

use super::arguments::{folder_of, whole_number};
use super::delivery::{Delivery, OutputArguments};
use super::error::CliError;
use super::exit::ExitStatus;
use super::progress;
use super::run::files;
use super::run_sinks::{self, RunSinks, SampleFiles, SinkRequest};
use crate::input::diagnostics::InputError;
use crate::input::file::InputFile;
use crate::population::RandomSource;
use crate::report::merge::{NamedText, PartRun, RunPart, RunParts};
use crate::report::run::columns::SampleColumns;
use crate::scenario::{Asked, Scenario};
use crate::solver::Method;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::run::{RunSamples, SampleSink, SampleSize};

/// The command line of `merge`.
#[derive(Debug, Args)]
pub(super) struct MergeArguments {
    /// Folders of all parts that `fairphase run --shard` wrote, in any order
    #[arg(value_name = "PART", num_args = 1.., required = true, value_hint = ValueHint::DirPath)]
    parts: Vec<PathBuf>,
    /// Folder for the result files [default: reports/ and the scenario file's name without .toml]
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    out: Option<PathBuf>,
    /// Number of threads, at most four a core [default: one a core]; results do not depend on it
    #[arg(long, value_name = "N", allow_negative_numbers = true,
        value_parser = whole_number(1..=1024))]
    threads: Option<u64>,
    /// Exit with status 1 unless the chain's verdict is a pass
    #[arg(long)]
    require_pass: bool,
    #[command(flatten)]
    shown: OutputArguments,
}

/// Joins the parts of a run, and delivers what the run would have delivered.
pub(super) fn merge(arguments: &MergeArguments) -> Result<ExitStatus, CliError> {
    let set = RunParts::open(&arguments.parts)?;
    let Some(RunParts { run, parts }) = &set else { return Ok(ExitStatus::Done) };
    let scenario = scenario(run)?;
    let columns: SampleColumns = run
        .columns
        .parse()
        .map_err(|reason| anyhow::anyhow!("--columns of the parts: {reason}"))?;
    let stop = progress::stop_on_signal()?;
    let delivery = arguments.delivery(Path::new(&run.scenario.path));
    let inputs = parts.iter().flat_map(RunPart::files).collect();
    let folder = delivery.open(files(&columns), inputs)?;
    let bars = progress::StageBars::new(delivery.shown.is_silent());
    let session = Session::new(&scenario, arguments.settings(run)?, stop)?;
    drop(bars);
    let mut bars = progress::StageBars::without_converter(delivery.shown.is_silent());
    let source = RandomSource::from(run.seed).with_stream(run.stream);
    let wanted = SinkRequest {
        source,
        columns: &columns,
        is_explained: run.is_explained,
        files: SampleFiles::Both,
    };
    let mut sinks = RunSinks::new(&session, &folder, wanted)?;
    let mut samples = RunSamples::none(&session, source, SampleSize::Fixed(run.samples))?;
    sinks.join(parts, &mut samples, &mut bars)?;
    let result = samples.result(sinks.has_files(), &mut bars)?;
    let answer = run_sinks::answer(&session, &result, sinks, &mut bars)?;
    drop(bars);
    delivery.deliver(folder, answer.report)?;
    answer.completion.complain();
    Ok(answer.completion.status(arguments.require_pass))
}

/// A file as it was read when the parts were made.
fn file(named: &NamedText) -> InputFile {
    InputFile { path: PathBuf::from(&named.path), text: named.text.clone() }
}

/// The scenario as the parts hold it.
fn scenario(run: &PartRun) -> Result<Scenario, CliError> {
    let read = |path: &Path| {
        let named = run.measured.iter().map(file).find(|file| file.path == path);
        named.ok_or_else(|| InputError::Unreadable {
            path: path.to_owned(),
            cause: std::io::ErrorKind::NotFound.into(),
        })
    };
    Ok(Scenario::from_files(&file(&run.scenario), Asked::Nothing, &read)?)
}

impl MergeArguments {
    fn settings(&self, run: &PartRun) -> anyhow::Result<Settings> {
        let mut methods = [Method::Exact, Method::Averaged].into_iter();
        let method = methods.find(|method| method.name() == run.solver);
        let threads = self.threads.map_or(0, |n| usize::try_from(n).unwrap_or(usize::MAX));
        Ok(Settings {
            samples: run.samples,
            seed: run.seed,
            method: method.context("the parts name no solver")?,
            threads,
        })
    }

    fn delivery(&self, scenario: &Path) -> Delivery {
        Delivery {
            out: self.out.clone().unwrap_or_else(|| folder_of(scenario)),
            is_default: self.out.is_none(),
            given: vec![scenario.to_owned()],
            shown: self.shown,
        }
    }
}
