//! How results reach the user: shown, written, put into their folder.

use std::path::PathBuf;

use clap::Args;

use super::error::CliError;
use super::output::{columns, note, print};
use crate::printable;
use crate::report::format::Report;
use crate::report::format::extracts::{BRIEF, Extracts};
use crate::report::format::folder::{CompleteSet, Folder, FolderRequest};
use crate::report::format::screen::Screen;

/// What is shown and written beside the results.
#[expect(clippy::struct_excessive_bools, reason = "the flags of a command line")]
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct OutputArguments {
    /// Print all tables too, behind the screenful of the answer
    #[arg(long)]
    pub(super) tables: bool,
    /// Write the figures of the page as SVG, its tables as CSV, and its first sheet as brief.html too
    #[arg(long)]
    pub(super) figures: bool,
    /// Print nothing but errors, and the summary where --json asks for it
    #[arg(long)]
    pub(super) quiet: bool,
    /// Print the summary as JSON on standard output, nothing else
    #[arg(long)]
    pub(super) json: bool,
}

impl OutputArguments {
    /// Whether neither progress nor text is shown.
    pub(super) fn is_silent(self) -> bool {
        self.quiet || self.json
    }
}

/// Where results go, and what is said of them.
#[derive(Debug, Clone)]
pub(super) struct Delivery {
    /// Folder for the result files.
    pub(super) out: PathBuf,
    /// Whether that is the folder where the user names none: there verbs replace each other's results.
    pub(super) is_default: bool,
    /// The files that the command line names, which the next command may need.
    pub(super) given: Vec<PathBuf>,
    /// What is shown and written beside them.
    pub(super) shown: OutputArguments,
}

impl Delivery {
    /// Opens the folder before the work, and says in which state it was found: for files of these names,
    /// made of these inputs.
    pub(super) fn open(
        &self,
        mut files: Vec<&'static str>,
        inputs: Vec<PathBuf>,
    ) -> Result<Folder, CliError> {
        files.extend(self.shown.figures.then_some(BRIEF));
        let request = FolderRequest { files, figures: self.shown.figures, inputs };
        let folder = Folder::open(&self.out, request)?;
        for found in folder.notes().iter().filter(|_| !self.shown.quiet) {
            note(found);
        }
        Ok(folder)
    }

    /// Shows the result, then writes the files and puts them into their places: whatever happens to the
    /// files, the answer has been shown. A summary is shown once it is complete.
    pub(super) fn deliver(&self, folder: Folder, report: Report) -> anyhow::Result<()> {
        let columns = columns();
        let shown = if self.shown.is_silent() {
            Ok(())
        } else {
            print(&report.screen.text_for(columns, self.shown.tables))
        };
        let written = self.write(&folder, &report);
        let Report { summary, mut screen, .. } = report;
        let kept = self.shown.json.then(|| summary.clone());
        let complete = written.and_then(|told| Ok((folder.complete(summary)?, told)));
        let shown = shown.and_then(|()| match (&complete, &kept) {
            (_, None) => Ok(()),
            (Ok((set, _)), Some(_)) => print(set.summary()),
            (Err(_), Some(summary)) => print(summary.text()),
        });
        // A standard output that is full takes no file with it.
        let (set, told) = complete?;
        screen.also_written(&told);
        self.place(set, &screen).and(shown)
    }

    /// Writes all files but the summary, and tells of those that were made of the page.
    fn write(&self, folder: &Folder, report: &Report) -> anyhow::Result<String> {
        for (name, content) in &report.files {
            folder.write(name, content)?;
        }
        if !self.shown.figures {
            return Ok(String::new());
        }
        let extracts = Extracts::of(report.page())?;
        for (name, content) in &extracts.files {
            folder.write(name, content)?;
        }
        Ok(extracts.told())
    }

    /// Puts the files into their places, says where they are and what one asks next.
    fn place(&self, set: CompleteSet, screen: &Screen) -> anyhow::Result<()> {
        let placed = set.place()?;
        let folder = printable::path(&placed.folder);
        if let Some(verb) = placed.replaced.as_ref().filter(|_| !self.shown.quiet) {
            note(&format!(
                "the results of `{verb}` in {folder} were replaced; --out DIR keeps both"
            ));
        }
        if placed.is_beside && !self.shown.quiet {
            note(&format!(
                "the complete results in {} stay; these partial ones are in {folder}",
                printable::path(&self.out)
            ));
        }
        if self.shown.is_silent() {
            return Ok(());
        }
        print(&screen.ending(Some(&placed), &self.given, self.shown.tables, self.is_default))
    }
}
