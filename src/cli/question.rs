//! What all verbs on a scenario do: read it, study it, deliver the results, tell the exit status.

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::exit::ExitStatus;
use super::output::{note, print};
use crate::printable;
use crate::report::format::Report;
use crate::report::format::folder::{Folder, Placed};
use crate::report::format::json;
use crate::scenario::{Asked, Scenario};

/// A verb that answers a question about a scenario.
pub(super) trait Question {
    /// What the scenario must hold for this verb.
    const NEEDS: Asked = Asked::Nothing;
    /// Whether converters are drawn at random.
    const DRAWS_SAMPLES: bool = true;

    /// The arguments that all verbs share.
    fn common(&self) -> &CommonArguments;

    /// Whether the exit status tells a verdict that is not a pass.
    fn requires_pass(&self) -> bool {
        false
    }

    /// Studies the scenario and writes the report.
    fn answer(&self, scenario: &Scenario) -> Result<Answer, CliError>;
}

/// What a verb found.
pub(super) struct Answer {
    /// What it shows and writes.
    pub(super) report: Report,
    /// Where the result files are in the making; none where the verb writes no files.
    pub(super) folder: Option<Folder>,
    /// Files that the verb read beside the scenario: they may lie in the folder, and stay.
    pub(super) inputs: Vec<PathBuf>,
    /// How far the work came.
    pub(super) completion: Completion,
}

/// How far the work came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Completion {
    /// All is done, and the verdict is a pass, or the verb gives none.
    Passed,
    /// All is done, and the verdict is not a pass.
    NotPassed,
    /// The work was interrupted: the results are those of a part of it.
    Partial,
}

impl Completion {
    /// Of work that may be a part of what was asked for, whose verdict may be a pass.
    pub(super) fn new(is_partial: bool, is_pass: bool) -> Self {
        match (is_partial, is_pass) {
            (true, _) => Self::Partial,
            (false, true) => Self::Passed,
            (false, false) => Self::NotPassed,
        }
    }

    fn status(self, requires_pass: bool) -> ExitStatus {
        match self {
            Self::Partial => ExitStatus::Unfinished,
            Self::NotPassed if requires_pass => ExitStatus::NotAPass,
            Self::NotPassed | Self::Passed => ExitStatus::Done,
        }
    }
}

/// Carries out a verb on a scenario.
pub(super) fn answer<Q: Question>(question: &Q) -> Result<ExitStatus, CliError> {
    let common = question.common();
    if !Q::DRAWS_SAMPLES {
        mention_idle_options(common)?;
    }
    let scenario = Scenario::read_asking(&common.scenario, Q::NEEDS)?;
    let answer = question.answer(&scenario).map_err(|error| error.located(&common.scenario))?;
    let status = answer.completion.status(question.requires_pass());
    deliver(common, answer)?;
    Ok(status)
}

/// Says that options for sampling were given where nothing is sampled.
fn mention_idle_options(common: &CommonArguments) -> anyhow::Result<()> {
    let given = [("--samples", common.samples.is_some()), ("--seed", common.seed.is_some())];
    for (option, _) in given.iter().filter(|(_, given)| *given && !common.quiet) {
        note(&format!("nothing is sampled here, so {option} changes nothing"))?;
    }
    Ok(())
}

/// Writes the result files, moves them into the folder, and shows the result.
fn deliver(common: &CommonArguments, answer: Answer) -> anyhow::Result<()> {
    let Answer { report: Report { text, summary, files }, folder, inputs, .. } = answer;
    let Some(folder) = folder else { return show(common, &text, &summary) };
    for (name, content) in files {
        folder.write(name, &content)?;
    }
    let inputs: Vec<&Path> = inputs.iter().map(PathBuf::as_path).collect();
    let Placed { summary, replaced } = folder.finish(summary, &inputs)?;
    let out = common.out();
    if let Some(verb) = replaced.filter(|_| !common.quiet) {
        let out = printable::path(&out);
        note(&format!("the results of `{verb}` in {out} were replaced; --out DIR keeps both"))?;
    }
    let page = out.join("report.html");
    show(common, &format!("{text}\nReport: {}\n", printable::path(&page)), &summary)
}

/// Shows the result: text, or JSON, or nothing.
fn show(common: &CommonArguments, text: &str, summary: &Value) -> anyhow::Result<()> {
    if common.json {
        print(&json::text(summary)?)
    } else if common.quiet {
        Ok(())
    } else {
        print(text)
    }
}
