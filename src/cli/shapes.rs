//! `shapes`: which shapes fit measured parts.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::arguments::folder_of;
use super::delivery::{Delivery, OutputArguments};
use super::error::CliError;
use super::exit::ExitStatus;
use super::output::note;
use super::progress::{StageBars, stop_on_signal};
use crate::input::file::InputFile;
use crate::input::quantity::{self, Ratio};
use crate::population::measurements::{self, ValueColumn};
use crate::printable;
use crate::report::shapes::{MeasurementsSource, report};
use crate::scenario::{all_letters, ends_of_letter, file_name};
use crate::statistics::Interval;
use crate::study::shapes::{ColumnTask, shapes as study};
use crate::units::engineering;

/// The factor by which a nominal value may lie above or below the median. Farther off its unit must be
/// wrong, and a scenario takes no deviation of 100 % or more.
const FARTHEST: f64 = 1.9;

/// The command line of `shapes`.
#[derive(Debug, Args)]
pub(super) struct ShapesArguments {
    /// Measured values (CSV, one row a part)
    #[arg(value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
    file: PathBuf,
    /// Study this column alone; may be given again for further columns
    #[arg(long, value_name = "NAME")]
    column: Vec<String>,
    /// Nominal value, such as "22.8 µH"; of one of several columns NAME="22.8 µH"
    /// [default: the median]
    #[arg(long, value_name = "VALUE")]
    nominal: Vec<String>,
    /// Band that the parts were inspected to, of nominal: a half width such as "5 %", both ends such as
    /// "-3 %, +8 %", or a letter of IEC 60062 such as K
    #[arg(long, value_name = "BAND", requires = "nominal", allow_hyphen_values = true)]
    band: Option<String>,
    /// Folder for the result files [default: reports/ and the file's name without .csv]
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    out: Option<PathBuf>,
    #[command(flatten)]
    shown: OutputArguments,
}

/// Reads the file, studies its columns and delivers what was found.
pub(super) fn shapes(arguments: &ShapesArguments) -> Result<ExitStatus, CliError> {
    let file = InputFile::read(&arguments.file)?;
    let read = measurements::parse(&file.name(), &file.text, &arguments.column)?;
    let tasks = arguments.tasks(&read.content.columns)?;
    let delivery = arguments.delivery();
    let folder = delivery.open(vec!["report.html"], vec![arguments.file.clone()])?;
    let source = MeasurementsSource {
        name: file_name(&arguments.file),
        path: arguments.file.to_string_lossy().into_owned(),
        read_as: read.read_as,
        left_out: read.content.left_out,
        options: arguments.options(),
    };
    if let Some(words) = source.read_as.as_ref().filter(|_| !arguments.shown.quiet) {
        note(&format!("{}: read {words}", printable::line(&source.name)));
    }
    let mut bars = StageBars::without_converter(delivery.shown.is_silent());
    let found = study(&tasks, &mut bars, stop_on_signal()?)?;
    drop(bars);
    delivery.deliver(folder, report(&source, &found)?)?;
    Ok(ExitStatus::Done)
}

impl ShapesArguments {
    fn delivery(&self) -> Delivery {
        let out = self.out.clone().unwrap_or_else(|| folder_of(&self.file));
        let given = vec![self.file.clone()];
        Delivery { out, is_default: self.out.is_none(), given, shown: self.shown }
    }

    /// The options that the results depend on.
    fn options(&self) -> Vec<String> {
        let given = |name: &str, value: &String| [format!("--{name}"), value.clone()];
        let columns = self.column.iter().map(|value| given("column", value));
        let nominals = self.nominal.iter().map(|value| given("nominal", value));
        columns
            .chain(nominals)
            .chain(self.band.iter().map(|b| given("band", b)))
            .flatten()
            .collect()
    }

    /// Every column with its nominal value and its band.
    fn tasks<'a>(&self, columns: &'a [ValueColumn]) -> Result<Vec<ColumnTask<'a>>, CliError> {
        let band = self.band.as_deref().map(band).transpose()?;
        let mut tasks: Vec<ColumnTask<'a>> =
            columns.iter().map(|column| ColumnTask { column, nominal: None, band: None }).collect();
        for text in &self.nominal {
            let (names, value) = match text.split_once('=') {
                Some((name, value)) => (Some(name.trim()), value.trim()),
                None => (None, text.trim()),
            };
            let is_meant =
                |task: &&mut ColumnTask<'_>| names.is_none_or(|n| is_called(task.column, n));
            let mut meant = tasks.iter_mut().filter(is_meant);
            let (Some(task), None) = (meant.next(), meant.next()) else {
                return Err(no_single_column(text, columns));
            };
            task.nominal = Some(nominal(value, task.column)?);
            task.band = band;
        }
        Ok(tasks)
    }
}

/// Whether a name is that of a column, with or without the unit, or of its parameter.
fn is_called(column: &ValueColumn, name: &str) -> bool {
    let key = column.parameter.map_or("", |parameter| parameter.key());
    column.name.eq_ignore_ascii_case(name) || key.eq_ignore_ascii_case(name)
}

fn wrong(message: &str) -> CliError {
    CliError::Input(format!("error: {message}"))
}

fn no_single_column(text: &str, columns: &[ValueColumn]) -> CliError {
    let names: Vec<&str> = columns.iter().map(|column| column.name.as_str()).collect();
    wrong(&format!(
        "--nominal \"{text}\" does not name one of the columns: write NAME=VALUE with one of {}",
        names.join(", ")
    ))
}

/// The ends of a band: written as in a scenario, its brackets and quotes left out or not.
fn band(text: &str) -> Result<Interval, CliError> {
    let bare: String = text.chars().filter(|c| !"[]\"'".contains(*c)).collect();
    let fraction = |part: &str| quantity::parse::<Ratio>(part).ok().map(|Ratio(fraction)| fraction);
    let ends = match bare.split_once(',') {
        None => ends_of_letter(bare.trim()).or_else(|| {
            let half = fraction(&bare).filter(|half| *half < 1.0)?;
            Some([-half, half])
        }),
        Some((lower, upper)) => fraction(lower).zip(fraction(upper)).map(|(a, b)| [a, b]),
    };
    let is_band = |ends: &[f64; 2]| -1.0 < ends[0] && ends[0] < ends[1];
    let [lower, upper] = ends.filter(is_band).ok_or_else(|| {
        let letters: String = all_letters().collect();
        wrong(&format!(
            "--band \"{text}\" is no band. Write a half width above 0 and below 100 % such as \"5 %\", \
             both ends such as \"-3 %, +8 %\", or one of the letters {letters}."
        ))
    })?;
    Ok(Interval { lower, upper })
}

/// A nominal value in the unit of the column, near enough to the measured ones.
fn nominal(text: &str, column: &ValueColumn) -> Result<f64, CliError> {
    let example = measurements::example_of_unit(column.unit);
    let value = measurements::value_in_unit(text, column.unit)
        .filter(|value| *value > 0.0)
        .ok_or_else(|| wrong(&format!("--nominal \"{text}\" is no value such as \"{example}\"")))?;
    let mut values: Vec<f64> = column.values.iter().map(|measured| measured.value).collect();
    values.sort_by(f64::total_cmp);
    let middle = values[values.len() / 2];
    if value > middle * FARTHEST || value * FARTHEST < middle {
        let about = engineering(middle, column.unit);
        return Err(wrong(&format!(
            "--nominal \"{text}\" is far from the values of `{}`, about {about}: is the unit right?",
            column.name
        )));
    }
    Ok(value)
}
