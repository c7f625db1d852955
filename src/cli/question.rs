//! What all verbs on a scenario that write results do: read the scenario, study it, have the results
//! delivered, tell the exit status.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use super::arguments::CommonArguments;
use super::error::CliError;
use super::exit::ExitStatus;
use super::output::{complain, note};
use super::progress;
use crate::input::file::InputFile;
use crate::report::format::Report;
use crate::report::format::folder::Folder;
use crate::scenario::{Asked, Scenario};

/// A verb that answers a question about a scenario, and writes its results to a folder.
pub(super) trait Question {
    /// Whether converters are drawn at random.
    const DRAWS_SAMPLES: bool = true;

    /// What the scenario must hold for this question.
    fn needs(&self) -> Asked {
        Asked::Nothing
    }

    /// The arguments that all verbs share.
    fn common(&self) -> &CommonArguments;

    /// Names of the files that it may write, beside the summary.
    fn files(&self) -> Vec<&'static str>;

    /// Files that it reads beside the scenario.
    fn inputs(&self) -> Vec<&Path> {
        Vec::new()
    }

    /// Whether the exit status tells a verdict that is not a pass.
    fn requires_pass(&self) -> bool {
        false
    }

    /// Removes what was kept in a folder until the results were there; says that it is kept where something is
    /// missing.
    fn tidy(&self, _out: &Path, _completion: Completion) -> anyhow::Result<()> {
        Ok(())
    }

    /// Studies the scenario and makes the report.
    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError>;
}

/// What a verb works on.
pub(super) struct Task<'a> {
    /// The scenario's file.
    pub(super) file: &'a InputFile,
    /// The files of measured parts that the scenario names.
    pub(super) measured: &'a [InputFile],
    /// The scenario.
    pub(super) scenario: &'a Scenario,
    /// The files that it reads beside the scenario, in its order.
    pub(super) inputs: &'a [InputFile],
    /// The paths of all files that were read, the scenario among them.
    pub(super) read: &'a [PathBuf],
    /// Where its result files are in the making.
    pub(super) folder: &'a Folder,
    /// Set once the user or the system asks to stop.
    pub(super) stop: &'static AtomicBool,
}

/// What a verb found.
pub(super) struct Answer {
    /// What it shows and writes.
    pub(super) report: Report,
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
    /// The work was interrupted: something that was asked for is missing.
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

    /// Says that something is missing, where it is.
    pub(super) fn complain(self) {
        if self == Self::Partial {
            complain("error: interrupted; the results lack what was not done by then");
        }
    }

    pub(super) fn status(self, requires_pass: bool) -> ExitStatus {
        match self {
            Self::Partial => ExitStatus::Unfinished,
            Self::NotPassed if requires_pass => ExitStatus::NotAPass,
            Self::NotPassed | Self::Passed => ExitStatus::Done,
        }
    }
}

/// Carries out a verb on a scenario. All files are read, and the folder is checked, before the work.
pub(super) fn answer<Q: Question>(question: &Q) -> Result<ExitStatus, CliError> {
    let common = question.common();
    if !Q::DRAWS_SAMPLES {
        mention_idle_options(common);
    }
    let file = InputFile::read(&common.scenario)?;
    let measured = RefCell::new(Vec::new());
    let read = |path: &Path| {
        let file = InputFile::read(path)?;
        measured.borrow_mut().push(file.clone());
        Ok(file)
    };
    let scenario = Scenario::from_files(&file, question.needs(), &read)?;
    common.say_without_effect(&scenario);
    let paths = question.inputs();
    let inputs = paths.iter().map(|path| InputFile::read(path)).collect::<Result<Vec<_>, _>>()?;
    let stop = progress::stop_on_signal()?;
    let delivery = common.delivery();
    let read = files_read(question, &scenario);
    let folder = delivery.open(question.files(), read.clone())?;
    let measured = measured.into_inner();
    let (file, measured) = (&file, measured.as_slice());
    let scenario = &scenario;
    let task =
        Task { file, measured, scenario, inputs: &inputs, read: &read, folder: &folder, stop };
    let answer = question.answer(&task).map_err(|error| error.located(file, scenario))?;
    let status = answer.completion.status(question.requires_pass());
    delivery.deliver(folder, answer.report)?;
    answer.completion.complain();
    question.tidy(&delivery.out, answer.completion)?;
    Ok(status)
}

/// All files that were read.
fn files_read<Q: Question>(question: &Q, scenario: &Scenario) -> Vec<PathBuf> {
    let named = question.inputs().into_iter().chain([question.common().scenario.as_path()]);
    let measured = scenario.measured_files.iter().cloned();
    named.map(PathBuf::from).chain(measured).collect()
}

/// Says that options for sampling were given where nothing is sampled.
pub(super) fn mention_idle_options(common: &CommonArguments) {
    let given = [("--samples", common.samples.is_some()), ("--seed", common.seed.is_some())];
    for (option, _) in given.iter().filter(|(_, given)| *given && !common.shown.quiet) {
        note(&format!("nothing is sampled here, so {option} changes nothing"));
    }
}
