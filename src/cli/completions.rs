//! `completions`: what a shell needs to complete verbs and options.

use clap::{Args, Command};
use clap_complete::{Shell, generate};

use super::error::CliError;
use super::exit::ExitStatus;
use super::output::print;

/// The command line of `completions`.
#[derive(Debug, Args)]
pub(super) struct CompletionsArguments {
    /// The shell
    shell: Shell,
}

pub(super) fn print_completions(
    arguments: &CompletionsArguments,
    mut program: Command,
) -> Result<ExitStatus, CliError> {
    let name = program.get_name().to_owned();
    let mut script = Vec::new();
    generate(arguments.shell, &mut program, name, &mut script);
    print(&String::from_utf8_lossy(&script))?;
    Ok(ExitStatus::Done)
}
