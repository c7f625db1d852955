//! The arguments that all verbs on a scenario share.

use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum, ValueHint};

use super::delivery::{Delivery, OutputArguments};
use super::output::note;
use crate::input::whole;
use crate::printable;
use crate::report::format::missed;
use crate::scenario::{SAMPLES, Scenario};
use crate::solver::Method;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;

/// The heading of these options in help and manual.
pub(super) const SHARED_OPTIONS: &str = "Options of all verbs on a scenario";

/// Arguments that all verbs on a scenario share.
#[derive(Debug, Args)]
pub(super) struct CommonArguments {
    /// Scenario file (TOML); `fairphase draft` writes one to begin from
    #[arg(value_hint = ValueHint::FilePath)]
    pub(super) scenario: PathBuf,
    /// Folder for the result files [default: reports/ and the scenario file's name without .toml]
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath, help_heading = SHARED_OPTIONS)]
    pub(super) out: Option<PathBuf>,
    /// Number of samples, instead of the scenario's
    #[arg(long, value_name = "N", help_heading = SHARED_OPTIONS,
        allow_negative_numbers = true, value_parser = whole_number(SAMPLES))]
    pub(super) samples: Option<u64>,
    /// Seed of the random numbers, instead of the scenario's
    #[arg(long, value_name = "N", help_heading = SHARED_OPTIONS,
        allow_negative_numbers = true, value_parser = whole_number(0..=u64::MAX))]
    pub(super) seed: Option<u64>,
    /// Number of threads, at most four a core [default: one a core]; results do not depend on it
    #[arg(long, value_name = "N", help_heading = SHARED_OPTIONS,
        allow_negative_numbers = true, value_parser = whole_number(1..=1024))]
    threads: Option<u64>,
    /// How steady states are found
    #[arg(long, value_enum, default_value = "exact", help_heading = SHARED_OPTIONS)]
    solver: SolverName,
    #[command(flatten, next_help_heading = SHARED_OPTIONS)]
    pub(super) shown: OutputArguments,
}

/// Reads a whole number of a range: `20000`, `20_000` or `2e4`. Options that take one allow negative
/// numbers, so that this error tells what was expected; the parser's own advice would not help.
pub(super) fn whole_number(
    range: RangeInclusive<u64>,
) -> impl Fn(&str) -> Result<u64, String> + Clone {
    move |text| {
        whole::parse(text).filter(|number| range.contains(number)).ok_or_else(|| {
            format!("expected a whole number from {} to {}", range.start(), range.end())
        })
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum SolverName {
    /// Exact periodic steady state
    Exact,
    /// Fundamental harmonic only: several times as fast, but sharing errors come out too small
    Averaged,
}

impl CommonArguments {
    pub(super) fn method(&self) -> Method {
        match self.solver {
            SolverName::Exact => Method::Exact,
            SolverName::Averaged => Method::Averaged,
        }
    }

    /// Number of threads; 0 means one a core.
    pub(super) fn threads(&self) -> usize {
        self.threads.map_or(0, |threads| usize::try_from(threads).unwrap_or(usize::MAX))
    }

    /// Says how an input file was read, where that is not the plain way.
    pub(super) fn say_how_read(&self, file: &str, read_as: Option<&str>) {
        if let Some(words) = read_as.filter(|_| !self.shown.quiet) {
            note(&format!("{}: read {words}", printable::line(file)));
        }
    }

    /// Says what the scenario states that changes nothing.
    pub(super) fn say_without_effect(&self, scenario: &Scenario) {
        if !self.shown.quiet {
            scenario.without_effect().into_iter().for_each(note);
        }
    }

    /// Says before anything is sampled which limits the nominal chain misses already.
    pub(super) fn say_nominal_misses(&self, session: &Session) {
        for miss in missed::nominal_chain(&session.nominal_misses()) {
            if !self.shown.quiet {
                note(&miss);
            }
        }
    }

    /// How it is sampled: as the command line says, else as the scenario does.
    pub(super) fn settings(&self, scenario: &Scenario) -> Settings {
        Settings {
            samples: self.samples.unwrap_or(scenario.run.samples),
            seed: self.seed.unwrap_or(scenario.run.seed),
            method: self.method(),
            threads: self.threads(),
        }
    }

    /// Where the results go.
    pub(super) fn delivery(&self) -> Delivery {
        let out = self.out.clone().unwrap_or_else(|| folder_of(&self.scenario));
        let given = vec![self.scenario.clone()];
        Delivery { out, is_default: self.out.is_none(), given, shown: self.shown }
    }
}

/// The folder for results of an input file, where none is given.
pub(super) fn folder_of(input: &Path) -> PathBuf {
    Path::new("reports").join(input.file_stem().unwrap_or_default())
}
