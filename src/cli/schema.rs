//! `schema`: the form of the files that the program reads and writes.

use clap::{Args, ValueEnum};

use super::error::CliError;
use super::exit::ExitStatus;
use super::output::print;
use crate::report::format::json;
use crate::report::schema::summary_schema;
use crate::scenario::reference::scenario_reference;
use crate::scenario::schema::scenario_schema;

/// The command line of `schema`.
#[derive(Debug, Args)]
pub(super) struct SchemaArguments {
    /// The file to describe
    file: DescribedFile,
    /// The form of the description
    #[arg(long, value_enum, default_value = "json")]
    form: Form,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum DescribedFile {
    /// Scenario files, for editors and other programs
    Scenario,
    /// summary.json of every verb
    Summary,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// JSON Schema
    Json,
    /// Tables to read (scenario only)
    Markdown,
}

pub(super) fn print_schema(arguments: &SchemaArguments) -> Result<ExitStatus, CliError> {
    let text = match (arguments.file, arguments.form) {
        (DescribedFile::Scenario, Form::Json) => json::text(&scenario_schema())?,
        (DescribedFile::Scenario, Form::Markdown) => scenario_reference(),
        (DescribedFile::Summary, Form::Json) => json::text(&summary_schema())?,
        (DescribedFile::Summary, Form::Markdown) => {
            let message = "error: the summary has no Markdown form; leave out --form";
            return Err(CliError::Input(message.to_owned()));
        }
    };
    print(&text)?;
    Ok(ExitStatus::Done)
}
