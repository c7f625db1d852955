//! `run --resume`: the samples in steps, each of which is kept once it is done.
//!
//! A step is a part of the samples, as `run --shard` writes it, in a folder of its own: the same seal tells that
//! it is whole, and the same joining makes the results of them. So a run that was interrupted, by whatever, goes
//! on behind its last whole step.

use std::fs;
use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};

use super::error::CliError;
use super::output::complain;
use super::run_sinks::{RunSinks, SampleFiles, SinkRequest};
use crate::engine::EngineError;
use crate::printable;
use crate::report::format::folder::{Folder, FolderRequest};
use crate::report::merge::{self, PartHeader, PartPlace, PartRun, RunPart, SAMPLES_FILE, TALLIES};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::run::RunSamples;

/// The folder of the steps, in that of the results.
const STEPS: &str = "steps";
/// Samples of a step at least, and most steps of a run: keeping one takes some hundredths of a second.
const LEAST: u64 = 1 << 12;
const MOST_STEPS: u64 = 64;

/// The steps of a run, or of a part of it.
pub(super) struct StepRequest<'s, 'a> {
    pub(super) session: &'s Session<'a>,
    /// The folder of the results.
    pub(super) out: &'s Path,
    pub(super) wanted: SinkRequest<'s>,
    pub(super) run: PartRun,
    /// The samples that are divided into steps.
    pub(super) whole: Range<u64>,
}

impl StepRequest<'_, '_> {
    /// All steps, in the order of their samples: those that a former command kept, the others solved now.
    /// `none` holds no samples.
    pub(super) fn carry_out(
        &self,
        none: &RunSamples<'_>,
        progress: &mut dyn Progress,
    ) -> Result<Vec<RunPart>, CliError> {
        self.refuse_others()?;
        let samples = self.whole.end - self.whole.start;
        let count = (samples / LEAST).clamp(1, MOST_STEPS);
        let mut learnt: Option<RunSamples<'_>> = None;
        let mut steps = Vec::new();
        for place in PartPlace::all(count) {
            let header = PartHeader { run: self.run.clone(), whole: self.whole.clone(), place };
            let path = self.folder().join(format!("step-{:02}-of-{}", place.number, place.of));
            let folder = self.open(&path)?;
            if let Ok(kept) = RunPart::open(&path) {
                steps.push(kept.part);
                continue;
            }
            let done = taught(&mut learnt, none, progress)
                .and_then(|samples| self.solve(samples, folder, &header, progress));
            done.map_err(|error| self.interrupted(error, place))?;
            steps.push(RunPart::open(&path)?.part);
        }
        Ok(steps)
    }

    fn folder(&self) -> PathBuf {
        self.out.join(STEPS)
    }

    fn open(&self, path: &Path) -> Result<Folder, CliError> {
        let samples = self.wanted.columns.has_files().then_some(SAMPLES_FILE);
        let files = [TALLIES].into_iter().chain(samples).collect();
        Ok(Folder::open(path, FolderRequest { files, figures: false, inputs: Vec::new() })?)
    }

    /// Solves a step and keeps it: from then on it is on disk.
    fn solve(
        &self,
        mut samples: RunSamples<'_>,
        folder: Folder,
        header: &PartHeader,
        progress: &mut dyn Progress,
    ) -> Result<(), CliError> {
        let wanted = SinkRequest { files: SampleFiles::Results, ..self.wanted };
        let mut sinks = RunSinks::new(self.session, &folder, wanted)?;
        samples.add(header.samples(), &mut sinks, progress).map_err(StudyError::from)?;
        RunPart::write(&folder, header, &sinks.tallies(&mut samples, header.samples())?)?;
        sinks.finish()?;
        let (scenario, settings) = (self.session.scenario(), self.session.settings());
        let summary = merge::report(scenario, &settings, header)?.summary;
        folder.complete(summary)?.place()?;
        Ok(())
    }

    /// Tells of a wish to stop what it leaves.
    fn interrupted(&self, error: CliError, place: PartPlace) -> CliError {
        if !is_wish_to_stop(&error) {
            return error;
        }
        if place.number <= 1 {
            return CliError::Unfinished(anyhow!(
                "interrupted before the first of {} steps was done: nothing is kept",
                place.of
            ));
        }
        let kept = kept_steps(place.number - 1, place.of, &self.folder());
        CliError::Unfinished(anyhow!("interrupted; {kept}"))
    }

    /// The same after the last of so many steps, while results are made of them.
    pub(super) fn interrupted_after(&self, error: CliError, steps: usize) -> CliError {
        let of = steps as u64;
        self.interrupted(error, PartPlace { number: of + 1, of })
    }

    /// Steps of another run are not mixed with these, nor removed.
    fn refuse_others(&self) -> Result<(), CliError> {
        for path in step_folders(&self.folder())? {
            let Ok(opened) = RunPart::open(&path) else { continue };
            let is_of_run = merge::is_of(&opened, &self.run, &self.whole);
            is_of_run.map_err(|difference| {
                let folder = self.folder();
                CliError::Input(format!(
                    "error: {} holds steps of another run: {difference}\n  finish that run first, remove \
                     the folder, or name another one with --out\n",
                    printable::path(&folder)
                ))
            })?;
        }
        Ok(())
    }
}

/// What a wish to stop leaves.
fn kept_steps(count: u64, of: u64, folder: &Path) -> String {
    let folder = printable::path(folder);
    format!("{count} of {of} steps are kept in {folder}. The same command goes on from there")
}

/// Says the same where all steps are done, and results are made of them that lack something.
pub(super) fn say_kept_steps(out: &Path) -> anyhow::Result<()> {
    let steps = out.join(STEPS);
    let count = step_folders(&steps)?.len() as u64;
    complain(&format!("  {}", kept_steps(count, count, &steps)));
    Ok(())
}

/// Whether work ended because the user wished so.
fn is_wish_to_stop(error: &CliError) -> bool {
    let CliError::Unfinished(error) = error else { return false };
    let of_engine = match error.downcast_ref::<StudyError>() {
        Some(StudyError::Comparing) => return true,
        Some(StudyError::Engine(own)) => Some(own),
        _ => error.downcast_ref::<EngineError>(),
    };
    matches!(of_engine, Some(EngineError::Interrupted(_) | EngineError::Stopped))
}

/// Samples of none that have learnt from the first ones, once for all steps.
fn taught<'a>(
    learnt: &mut Option<RunSamples<'a>>,
    none: &RunSamples<'a>,
    progress: &mut dyn Progress,
) -> Result<RunSamples<'a>, CliError> {
    if let Some(learnt) = learnt {
        return Ok(learnt.clone());
    }
    let mut first = none.clone();
    first.learn(progress).map_err(StudyError::from)?;
    Ok(learnt.insert(first).clone())
}

/// What a run says that leaves the steps of another in its folder of results as they are.
pub(super) fn unused_steps(out: &Path) -> anyhow::Result<Option<String>> {
    let steps = out.join(STEPS);
    let has_whole = step_folders(&steps)?.iter().any(|path| RunPart::open(path).is_ok());
    Ok(has_whole.then(|| {
        format!(
            "{} holds steps of a run that was interrupted. This run does not use them; with --resume \
             the interrupted one goes on",
            printable::path(&steps)
        )
    }))
}

/// Removes the steps from a folder of results, once these are in their places. The summary of a step goes
/// last: killed in between, its other files are still known as results.
pub(super) fn remove_steps(out: &Path) -> anyhow::Result<()> {
    let steps = out.join(STEPS);
    for folder in step_folders(&steps)? {
        for name in [SAMPLES_FILE, TALLIES, "summary.json"] {
            match fs::remove_file(folder.join(name)) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => {
                    let shown = printable::path(&folder);
                    return Err(error).with_context(|| format!("cannot remove {shown}"));
                }
                _ => {}
            }
        }
        // What somebody else put there stays.
        let _ = fs::remove_dir(&folder);
    }
    let _ = fs::remove_dir(&steps);
    Ok(())
}

/// The folders with names of steps in their folder, in the order of their names.
fn step_folders(steps: &Path) -> anyhow::Result<Vec<PathBuf>> {
    let cannot_read = || format!("cannot read the folder {}", printable::path(steps));
    let entries = match fs::read_dir(steps) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.with_context(cannot_read)?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry.with_context(cannot_read)?;
        let is_step = entry.file_name().to_str().is_some_and(|name| name.starts_with("step-"));
        found.extend(is_step.then(|| entry.path()));
    }
    found.sort_unstable();
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stopped in the middle, by a folder that cannot be removed as a file: the summary, which tells what the
    /// other files are, is still there.
    #[test]
    fn the_summary_of_a_step_goes_last() {
        let out = tempfile::tempdir().unwrap();
        let step = out.path().join("steps/step-01-of-2");
        fs::create_dir_all(step.join(TALLIES)).unwrap();
        fs::write(step.join(SAMPLES_FILE), "").unwrap();
        fs::write(step.join("summary.json"), "").unwrap();
        remove_steps(out.path()).unwrap_err();
        assert!(!step.join(SAMPLES_FILE).exists() && step.join("summary.json").exists());
        fs::remove_dir(step.join(TALLIES)).unwrap();
        remove_steps(out.path()).unwrap();
        assert!(!out.path().join("steps").exists());
    }
}
