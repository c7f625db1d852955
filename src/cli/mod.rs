//! The command line: arguments as typed, one file a verb, progress, exit codes.

mod bands;
mod check;
mod gain;
mod grades;
mod progress;
mod run;
mod sensors;
mod units;

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};
use serde_json::Value;

use crate::input::diagnostics::InputError;
use crate::report::format::Report;
use crate::report::format::folder::{Folder, Placed};
use crate::scenario::{Asked, Place, SAMPLES, Scenario};
use crate::solver::Method;
use crate::study::common::error::StudyError;
use crate::study::common::nominal::BaselineError;
use crate::study::common::settings::Settings;
use crate::study::units::UnitsError;

/// Exit status when the verb did its work but the verdict is not a pass (`--require-pass`).
const NOT_A_PASS: u8 = 1;
/// Exit status when the command line or an input file is wrong.
const WRONG_INPUT: u8 = 2;
/// Exit status when the work could not be finished.
const UNFINISHED: u8 = 3;

/// How sure is the current sharing of an interleaved LLC converter, over all its parts and
/// operating points?
#[derive(Debug, Parser)]
#[command(version, max_term_width = 80)]
pub struct Cli {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Sample the parts, solve every converter with and without charge balancing, judge
    Run(run::Arguments),
    /// Find the widest tolerance bands that still meet the yield target
    Bands(bands::Arguments),
    /// Read the scenario and solve the nominal converter; nothing is sampled
    #[command(
        after_help = "Nothing is sampled and no file is written: --samples, --seed, --threads \
        and --out change nothing here."
    )]
    Check(Common),
    /// Voltage gain over frequency for every drive and rectifier; which of them cover the operating
    /// points
    #[command(after_help = "Nothing is sampled: --samples and --seed change nothing here.")]
    Gain(gain::Arguments),
    /// Solve listed converters whose parts are known; nothing is sampled
    #[command(after_help = "Nothing is sampled: --samples and --seed change nothing here.")]
    Units(units::Arguments),
    /// The case for or against current sensors: four variants of the same converters
    #[command(after_help = "The scenario must hold the table [sensors].")]
    Sensors(sensors::Arguments),
    /// Compare the part grades on offer: which make a good converter cheapest, and how sure is that
    Grades(grades::Arguments),
}

impl Verb {
    fn common(&self) -> &Common {
        match self {
            Self::Check(common) => common,
            Self::Run(arguments) => &arguments.common,
            Self::Bands(arguments) => &arguments.common,
            Self::Gain(arguments) => &arguments.common,
            Self::Units(arguments) => &arguments.common,
            Self::Sensors(arguments) => &arguments.common,
            Self::Grades(arguments) => &arguments.common,
        }
    }
}

/// Arguments that all verbs share.
#[derive(Debug, Args)]
struct Common {
    /// Scenario file (TOML)
    scenario: PathBuf,
    /// Folder for the result files [default: reports/ and the scenario file's stem]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Number of samples, instead of the scenario's
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(
        *SAMPLES.start()..=*SAMPLES.end()))]
    samples: Option<u64>,
    /// Seed of the random streams, instead of the scenario's
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Number of threads [default: one a core]; results do not depend on it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// How steady states are found
    #[arg(long, value_enum, default_value = "exact")]
    solver: SolverName,
    /// Print nothing but errors, and the summary where --json asks for it
    #[arg(long)]
    quiet: bool,
    /// Print the summary as JSON on standard output, nothing else
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum SolverName {
    /// Exact periodic steady state
    Exact,
    /// Fundamental-harmonic approximation: a quick look
    Averaged,
}

impl Common {
    fn method(&self) -> Method {
        match self.solver {
            SolverName::Exact => Method::Exact,
            SolverName::Averaged => Method::Averaged,
        }
    }

    fn threads(&self) -> usize {
        self.threads.map_or(0, usize::from)
    }

    /// How it is sampled: as the command line says, else as the scenario does.
    fn settings(&self, scenario: &Scenario) -> Settings {
        Settings {
            samples: self.samples.unwrap_or(scenario.run.samples),
            seed: self.seed.unwrap_or(scenario.run.seed),
            method: self.method(),
            threads: self.threads(),
        }
    }

    fn out(&self) -> PathBuf {
        self.out.clone().unwrap_or_else(|| {
            Path::new("reports").join(self.scenario.file_stem().unwrap_or_default())
        })
    }

    fn read(&self) -> Result<Scenario, CliError> {
        self.read_asking(Asked::Nothing)
    }

    fn read_asking(&self, asked: Asked) -> Result<Scenario, CliError> {
        Ok(Scenario::read_asking(&self.scenario, asked)?)
    }

    /// Says on standard error that options for sampling were given where nothing is sampled.
    fn mention_idle_options(&self) -> Result<(), CliError> {
        let given = [("--samples", self.samples.is_some()), ("--seed", self.seed.is_some())];
        for (option, _) in given.iter().filter(|(_, given)| *given && !self.quiet) {
            let line = format!("note: nothing is sampled here, so {option} changes nothing\n");
            io::stderr().write_all(line.as_bytes()).map_err(anyhow::Error::from)?;
        }
        Ok(())
    }

    /// Writes the result files, puts them into their places and shows the result; `inputs` are files that the verb read
    /// and that may stand in the folder.
    fn deliver(&self, folder: Folder, report: Report, inputs: &[&Path]) -> Result<(), CliError> {
        let Report { text, summary, files } = report;
        for (name, content) in files {
            folder.write(name, &content)?;
        }
        let Placed { summary, replaced } = folder.finish(summary, inputs)?;
        if let Some(verb) = replaced.filter(|_| !self.quiet) {
            let out = self.out();
            let line = format!(
                "note: the results of `{verb}` in {} were replaced; --out DIR keeps both\n",
                out.display()
            );
            io::stderr().write_all(line.as_bytes()).map_err(anyhow::Error::from)?;
        }
        let page = self.out().join("report.html");
        self.show(&format!("{text}\nReport: {}\n", page.display()), &summary)
    }

    /// Shows the result: text, or JSON, or nothing.
    fn show(&self, text: &str, summary: &Value) -> Result<(), CliError> {
        if self.json {
            print(&crate::report::format::json::text(summary)?)
        } else if self.quiet {
            Ok(())
        } else {
            print(text)
        }
    }
}

/// Why a verb did not do its work.
#[derive(Debug, thiserror::Error)]
enum CliError {
    /// An input is wrong: exit status 2.
    #[error("{0}")]
    Input(String),
    /// The scenario cannot be worked on: exit status 2.
    #[error("{message}")]
    Scenario { place: Place, message: String, expected: String },
    /// The work could not be finished: exit status 3.
    #[error(transparent)]
    Unfinished(#[from] anyhow::Error),
}

impl From<InputError> for CliError {
    fn from(e: InputError) -> Self {
        Self::Input(e.to_string())
    }
}

impl From<BaselineError> for CliError {
    fn from(e: BaselineError) -> Self {
        Self::Scenario {
            place: Place::OperatingPoint(e.point().to_owned()),
            message: e.to_string(),
            expected: "expected an operating point that [converter.tank] reaches within \
                       [converter.frequency]"
                .to_owned(),
        }
    }
}

impl From<StudyError> for CliError {
    fn from(e: StudyError) -> Self {
        match e {
            StudyError::Baseline(e) => e.into(),
            other => Self::Unfinished(other.into()),
        }
    }
}

impl From<UnitsError> for CliError {
    fn from(e: UnitsError) -> Self {
        match e {
            UnitsError::Baseline(e) => e.into(),
            other => Self::Unfinished(other.into()),
        }
    }
}

/// Prints on standard output; a reader that has gone away is no error.
fn print(text: &str) -> Result<(), CliError> {
    match io::stdout().write_all(text.as_bytes()) {
        Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => Ok(other.map_err(anyhow::Error::from)?),
    }
}

/// Carries out the command line; gives the exit status.
pub fn main(cli: &Cli) -> ExitCode {
    let done = match &cli.verb {
        Verb::Run(arguments) => run::run(arguments),
        Verb::Bands(arguments) => bands::bands(arguments),
        Verb::Check(arguments) => check::check(arguments),
        Verb::Gain(arguments) => gain::gain(arguments),
        Verb::Units(arguments) => units::units(arguments),
        Verb::Sensors(arguments) => sensors::sensors(arguments),
        Verb::Grades(arguments) => grades::grades(arguments),
    };
    let (message, status) = match done {
        Ok(status) => return status,
        Err(CliError::Input(message)) => (message, WRONG_INPUT),
        Err(CliError::Scenario { place, message, expected }) => {
            let file = &cli.verb.common().scenario;
            (place.error(file, &message, &expected).to_string(), WRONG_INPUT)
        }
        Err(CliError::Unfinished(e)) => (format!("error: {e:#}"), UNFINISHED),
    };
    // Nobody is left to tell when standard error is closed.
    let _ = writeln!(io::stderr(), "{}", message.trim_end());
    ExitCode::from(status)
}
