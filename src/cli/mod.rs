//! The command line: arguments as typed, one file a verb, progress, exit status.
//!
//! [`main`] tells the whole flow. A verb that answers a question about a scenario in result files is
//! a `question::Question`; the other verbs print or write something by themselves. Nothing here
//! computes, and no other module uses this one.

mod arguments;
mod bands;
mod capacitors;
mod check;
mod compare;
mod completions;
mod delivery;
mod draft;
mod error;
mod exit;
mod faults;
mod gain;
mod grades;
mod help;
mod manual;
mod merge;
mod named_file;
mod output;
mod progress;
mod question;
mod resume;
mod run;
mod run_sinks;
mod schema;
mod sensors;
mod shapes;
mod units;

use std::process::ExitCode;

use clap::error::{ContextKind, ContextValue};
use clap::{CommandFactory, Parser, Subcommand};

use self::error::CliError;
use self::exit::ExitStatus;
use self::question::answer;
use crate::printable;

/// How evenly do the phases of an interleaved LLC converter share the current, over all parts and
/// operating points?
#[derive(Debug, Parser)]
#[command(version, max_term_width = 80, after_help = help::PROGRAM)]
#[command(subcommand_value_name = "VERB", subcommand_help_heading = help::VERBS)]
pub struct Cli {
    #[command(subcommand)]
    verb: Verb,
}

/// The verbs, in the order in which one works.
#[derive(Debug, Subcommand)]
enum Verb {
    /// Write a commented scenario to begin from
    ///
    /// The scenario works at once. It holds an invented converter and every key there is; optional
    /// keys are commented out and show their defaults. An existing file is never overwritten.
    #[command(after_help = help::DRAFT)]
    Draft(draft::DraftArguments),
    /// Fit tolerance shapes to measured parts
    ///
    /// How do the parts scatter that were measured? Fits shapes to every column of values, says how
    /// good each fit is, and prints lines to paste into a scenario.
    #[command(after_help = help::SHAPES)]
    Shapes(shapes::ShapesArguments),
    /// Solve the nominal converter at every operating point
    ///
    /// Is the scenario complete, and does the converter reach every operating point with nominal
    /// parts? Prints switching frequencies, currents, voltages and losses.
    #[command(after_help = help::CHECK)]
    Check(check::CheckArguments),
    /// Draw the voltage gain that every configuration reaches
    ///
    /// Which output voltages does the tank reach, in which drive and with which rectifier? Draws
    /// voltage gain over frequency and shows which configurations cover the operating points.
    #[command(after_help = help::GAIN)]
    Gain(gain::GainArguments),
    /// Sample the parts, solve every converter and give the verdict
    ///
    /// What share of all converters meets every limit at every operating point, with charge
    /// balancing and without? Compares the yield and its confidence interval with the target.
    #[command(after_help = help::RUN)]
    Run(run::RunArguments),
    /// Join the parts of a run that several machines made
    ///
    /// What do all parts of a run say together? Joins the folders that `run --shard` wrote to the same
    /// files, byte for byte, as one run writes.
    #[command(after_help = help::MERGE)]
    Merge(merge::MergeArguments),
    /// Solve converters whose parts are listed in a file
    ///
    /// How do converters share whose parts are known: measured, or mismatched on purpose?
    #[command(after_help = help::UNITS)]
    Units(units::UnitsArguments),
    /// Find the widest tolerance bands that meet the yield target
    ///
    /// Which tolerance may each part have? Searches the widest band of each part, a common factor
    /// for all bands, the trade-off of two parts and, with prices, the cheapest set of bands.
    #[command(after_help = help::BANDS)]
    Bands(bands::BandsArguments),
    /// Find the part grades that make a good converter cheapest
    ///
    /// Which grade of each part should be bought? Compares all sets of grades on the same samples
    /// by yield and cost; with measured parts in stock, says which part goes into which converter.
    #[command(after_help = help::GRADES)]
    Grades(grades::GradesArguments),
    /// Compare charge balancing with current sensors
    ///
    /// Can the current sensors and their control loops be left out? Solves the same converters
    /// with and without charge balancing, and with and without sensors.
    #[command(after_help = help::SENSORS)]
    Sensors(sensors::SensorsArguments),
    /// Find the smallest flying capacitors that meet the yield target
    ///
    /// How large must the charge-balancing (flying) capacitors be, and what loads them? Tries a series
    /// of sizes on the same samples and verifies the smallest on fresh ones.
    #[command(after_help = help::CAPACITORS)]
    Capacitors(capacitors::CapacitorsArguments),
    /// Show what the rest carries when one part has failed
    ///
    /// Does the converter run on, and what do the other parts carry and block? Tries every part, place
    /// and leg at every operating point, in the chain and in the paralleled reference.
    #[command(after_help = help::FAULTS)]
    Faults(faults::FaultsArguments),
    /// Compare results of one verb: what changed, and what it changed
    ///
    /// Which yields, ratings and costs differ between two designs, two vendors, before and after a change?
    /// Says which differences the samples show. Results that list the same samples are compared sample by
    /// sample.
    #[command(after_help = help::COMPARE)]
    Compare(compare::CompareArguments),
    /// Print the JSON Schema of a scenario or of summary.json
    #[command(after_help = help::SCHEMA)]
    Schema(schema::SchemaArguments),
    /// Print completions of verbs and options for a shell
    #[command(after_help = help::COMPLETIONS)]
    Completions(completions::CompletionsArguments),
    /// Print the manual page of all verbs
    #[command(after_help = help::MANUAL)]
    Manual,
}

/// Carries out the command line; gives the exit status.
pub fn main() -> ExitCode {
    match Cli::try_parse() {
        Ok(cli) => answer_or_complain(&cli.verb),
        Err(error) => tell_usage(&with_meant_option(without_escape(error))),
    }
}

/// The parser's error without its advice to write `--` before an unknown option: no verb has an argument
/// that begins with a hyphen.
fn without_escape(mut error: clap::Error) -> clap::Error {
    let Some(ContextValue::StyledStrs(mut tips)) = error.remove(ContextKind::Suggested) else {
        return error;
    };
    tips.retain(|tip| !tip.to_string().contains("'-- "));
    if !tips.is_empty() {
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(tips));
    }
    error
}

/// The parser's error with the option that a stray word is the name of, as in `fairphase run a.toml samples`.
fn with_meant_option(mut error: clap::Error) -> clap::Error {
    let verb = std::env::args_os().nth(1).unwrap_or_default();
    let command = Cli::command();
    let Some(command) = command.find_subcommand(&verb) else { return error };
    let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidArg) else { return error };
    let mut options = command.get_arguments().filter_map(clap::Arg::get_long);
    if let Some(option) = options.find(|option| option == word) {
        let option = ContextValue::String(format!("--{option}"));
        error.insert(ContextKind::SuggestedArg, option);
    }
    error
}

/// Prints what the parser of the command line has to say: help, version, or what is wrong.
fn tell_usage(error: &clap::Error) -> ExitCode {
    let text = error.render().to_string();
    if text == printable::lines(&text) {
        // With the terminal's colours; nobody is left to tell when it is closed.
        let _ = error.print();
    } else {
        output::complain(&text);
    }
    if error.exit_code() == 0 { ExitStatus::Done } else { ExitStatus::WrongInput }.into()
}

fn answer_or_complain(verb: &Verb) -> ExitCode {
    let status = carry_out(verb).unwrap_or_else(|error| {
        error.tell();
        error.status()
    });
    status.into()
}

fn carry_out(verb: &Verb) -> Result<ExitStatus, CliError> {
    match verb {
        Verb::Draft(arguments) => draft::write(arguments),
        Verb::Shapes(arguments) => shapes::shapes(arguments),
        Verb::Check(arguments) => check::check(arguments),
        Verb::Gain(question) => answer(question),
        Verb::Run(question) => answer(question),
        Verb::Merge(arguments) => merge::merge(arguments),
        Verb::Units(question) => answer(question),
        Verb::Bands(question) => answer(question),
        Verb::Grades(question) => answer(question),
        Verb::Sensors(question) => answer(question),
        Verb::Capacitors(question) => answer(question),
        Verb::Faults(question) => answer(question),
        Verb::Compare(arguments) => compare::compare(arguments),
        Verb::Schema(arguments) => schema::print_schema(arguments),
        Verb::Completions(arguments) => completions::print_completions(arguments, Cli::command()),
        Verb::Manual => manual::print_manual(Cli::command()),
    }
}
