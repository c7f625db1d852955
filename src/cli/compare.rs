//! `compare`: results side by side.

use std::path::{Path, PathBuf};

use clap::{Args, ValueHint};

use super::delivery::{Delivery, OutputArguments};
use super::error::CliError;
use super::exit::ExitStatus;
use crate::input::file::InputFile;
use crate::printable;
use crate::report::compare::report;
use crate::report::format::summary::schema;
use crate::statistics::Confidence;
use crate::study::compare::{CompareError, ReadResult, compare as study};

/// The command line of `compare`.
#[derive(Debug, Args)]
pub(super) struct CompareArguments {
    /// Folders of results of one verb, or their summary.json; all are compared with the first
    #[arg(value_name = "RESULTS", num_args = 2..=26, required = true, value_hint = ValueHint::AnyPath)]
    results: Vec<PathBuf>,
    /// Confidence of the intervals of differences, a percentage
    #[arg(long, value_name = "PERCENT", default_value = "95", value_parser = confidence)]
    confidence: Confidence,
    /// Folder for the result files
    #[arg(long, value_name = "DIR", default_value = "reports/comparison", value_hint = ValueHint::DirPath)]
    out: PathBuf,
    #[command(flatten)]
    shown: OutputArguments,
}

fn confidence(text: &str) -> Result<Confidence, String> {
    let number = text.trim().trim_end_matches('%').trim_end().parse::<f64>();
    // At a half or below a statement would be as likely wrong as right.
    let level = number.ok().filter(|percent| *percent > 50.0);
    let level = level.and_then(|percent| Confidence::new(percent / 100.0).ok());
    level.ok_or_else(|| "expected a percentage between 50 and 100, such as 95".to_owned())
}

/// The file of a result folder that tells all of it.
const SUMMARY: &str = "summary.json";

/// Reads all results, compares them and delivers what was found.
pub(super) fn compare(arguments: &CompareArguments) -> Result<ExitStatus, CliError> {
    let files: Vec<InputFile> = arguments
        .results
        .iter()
        .map(|path| InputFile::read(&summary_of(path)))
        .collect::<Result<_, _>>()?;
    let named = arguments.results.iter().zip(&files);
    let mut read: Vec<ReadResult> =
        named.map(|(path, file)| result(path, file)).collect::<Result<_, _>>()?;
    let others = read.split_off(1);
    let samples = read.iter().chain(&others).filter_map(|own| own.samples_file.clone());
    let inputs: Vec<PathBuf> = files.iter().map(|file| file.path.clone()).chain(samples).collect();
    let delivery = Delivery {
        out: arguments.out.clone(),
        is_default: false,
        given: arguments.results.clone(),
        shown: arguments.shown,
    };
    let folder = delivery.open(vec!["report.html", "comparison.csv"], inputs)?;
    let Some(first) = read.pop() else { return Ok(ExitStatus::Done) };
    let found = study(first, others, arguments.confidence)?;
    delivery.deliver(folder, report(&found)?)?;
    Ok(ExitStatus::Done)
}

fn summary_of(path: &Path) -> PathBuf {
    if path.is_dir() { path.join(SUMMARY) } else { path.to_owned() }
}

fn result(named: &Path, file: &InputFile) -> Result<ReadResult, CompareError> {
    let folder = file.path.parent().unwrap_or(Path::new("."));
    ReadResult::parse(&printable::path(named), folder, &file.text, schema())
}
