//! The text of a scenario file → checked scenario, or all errors that it holds.

use std::path::Path;

use super::description;
use super::document;
use super::reader::Log;
use super::tolerance::MeasuredFiles;
use super::{Asked, Reader, Scenario, read_root};
use crate::input::diagnostics::{self, Diagnostic, Diagnostics, InputError};
use crate::input::file::InputFile;

impl Scenario {
    /// Reads a scenario file.
    ///
    /// # Errors
    ///
    /// When the file cannot be read, or with all errors that it holds.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        Ok(Self::from_file(&InputFile::read(path)?, Asked::Nothing)?)
    }

    /// Reads the text of a scenario file that must hold what is asked for.
    ///
    /// # Errors
    ///
    /// All errors that the text holds, and that it lacks what is asked for.
    pub fn from_file(file: &InputFile, asked: Asked) -> Result<Self, Diagnostics> {
        Self::parse_asking(&file.name(), &file.text, asked)
    }

    /// The same; `read` gives the files of measured parts.
    ///
    /// # Errors
    ///
    /// As [`Self::from_file`].
    pub fn from_files(
        file: &InputFile,
        asked: Asked,
        read: &dyn Fn(&Path) -> Result<InputFile, InputError>,
    ) -> Result<Self, Diagnostics> {
        let name = file.name();
        Self::parse_with(&name, &file.text, asked, MeasuredFiles::beside(Path::new(&name), read))
    }

    /// Reads the text of a scenario file; `name` is what messages call the file.
    ///
    /// # Errors
    ///
    /// All errors that the text holds.
    pub fn parse(name: &str, text: &str) -> Result<Self, Diagnostics> {
        Self::parse_asking(name, text, Asked::Nothing)
    }

    fn parse_asking(name: &str, text: &str, asked: Asked) -> Result<Self, Diagnostics> {
        let files = MeasuredFiles::beside(Path::new(name), &|path| InputFile::read(path));
        Self::parse_with(name, text, asked, files)
    }

    fn parse_with(
        name: &str,
        text: &str,
        asked: Asked,
        files: MeasuredFiles<'_>,
    ) -> Result<Self, Diagnostics> {
        let text = diagnostics::without_mark(text);
        let (table, syntax) = document::parse(text);
        let log = Log::new(syntax.is_empty());
        let scenario = if table.is_empty() {
            report_empty(&log)
        } else {
            read_root(&table, Reader { name, asked, files: &files }, &log)
        };
        let errors = log.errors(description::describe);
        let (measured_files, in_files) = files.finish();
        let is_right = syntax.is_empty() && errors.is_empty() && in_files.is_empty();
        if let Some(scenario) = scenario.filter(|_| is_right) {
            let written = document::written(text, &table);
            return Ok(Self { measured_files, written, ..scenario });
        }
        let mut all: Vec<_> = document::apart_from(text, &syntax, errors).collect();
        all.extend(syntax);
        Err(Diagnostics::new(name, text, all).with_others(in_files))
    }
}

fn report_empty(log: &Log) -> Option<Scenario> {
    log.report_if_complete(Diagnostic::new(
        0..0,
        "the scenario is empty",
        "expected `title = \"…\"` and the tables [converter] and [[operating_point]]",
    ));
    None
}
