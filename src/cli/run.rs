//! `run`: the main job.

use std::path::Path;

use clap::Args;

use super::arguments::{CommonArguments, whole_number};
use super::error::CliError;
use super::output::note;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use super::resume::{self, StepRequest};
use super::run_sinks::{self, RunSinks, SampleFiles, SinkRequest};
use crate::input::file::InputFile;
use crate::input::whole;
use crate::population::RandomSource;
use crate::report::merge::{
    self, NamedText, PartHeader, PartPlace, PartRun, RunPart, TALLIES, most_parts,
};
use crate::report::run::columns::SampleColumns;
use crate::scenario::Scenario;
use crate::statistics::{Confidence, LEAF, SequentialTest};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::run::{RunSamples, SampleSink, SampleSize};

/// The command line of `run`.
#[expect(clippy::struct_excessive_bools, reason = "the flags of a command line")]
#[derive(Debug, Args)]
pub(super) struct RunArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Random stream of the samples: that of a verification run of another verb repeats it
    #[arg(long, value_name = "N", default_value_t = 0,
        allow_negative_numbers = true, value_parser = whole_number(0..=u64::MAX))]
    stream: u64,
    /// Go on until the chain's verdict is decided, at most `[run] most_samples`; not with --samples
    ///
    /// The intervals are then those of a sequential test, which hold however often one looks.
    #[arg(long)]
    decide: bool,
    /// Exit with status 1 unless the chain's verdict is a pass
    #[arg(long)]
    require_pass: bool,
    /// Give the verdict alone: leave out what drives it and what changes it
    ///
    /// The explanation solves up to as many converters again as the run. `[run] explain = false` leaves
    /// it out too. Ctrl-C during the explanation keeps the finished run.
    #[arg(long)]
    no_explain: bool,
    /// Columns of samples.parquet: all, none, or their names with commas between them
    ///
    /// With none, neither samples.parquet nor population.parquet is written, which saves time and room.
    /// The columns that say what a row is about are always there.
    #[arg(long, value_name = "LIST", default_value = "all")]
    columns: SampleColumns,
    /// Solve the K-th of N parts of the samples alone, for `fairphase merge`
    ///
    /// Each part may run on a machine of its own. The parts of one run have the same scenario and options.
    #[arg(long, value_name = "K/N", value_parser = part_place)]
    shard: Option<PartPlace>,
    /// Keep what is done step by step, and go on from there if the same command was interrupted before
    ///
    /// The steps are in the folder `steps` of the output folder until the results are there. Whatever ends the
    /// program, the results are the same.
    #[arg(long)]
    resume: bool,
}

impl RunArguments {
    /// How many samples are drawn.
    ///
    /// # Errors
    ///
    /// When their number is both fixed and left to the samples.
    fn size(&self, scenario: &Scenario) -> Result<SampleSize, CliError> {
        if !self.decide {
            return Ok(SampleSize::Fixed(self.common.settings(scenario).samples));
        }
        if self.common.samples.is_some() {
            return Err(CliError::Input(
                "error: --decide and --samples exclude each other\n  --decide goes on until the \
                 verdict is decided; `most_samples` in [run] of the scenario limits it\n"
                    .to_owned(),
            ));
        }
        let confidence =
            Confidence::new(scenario.limits.confidence).map_err(anyhow::Error::from)?;
        let (target, most) = (scenario.limits.yield_target, scenario.run.most_samples);
        Ok(SampleSize::UntilDecided(SequentialTest::new(target, confidence, most)))
    }
}

impl RunArguments {
    fn is_explained(&self, scenario: &Scenario) -> bool {
        scenario.run.explain && !self.no_explain
    }

    /// The part that is asked for; none for all samples.
    ///
    /// # Errors
    ///
    /// When there are fewer parts, or something is asked for that a part cannot tell.
    fn place(&self, samples: u64) -> Result<Option<PartPlace>, CliError> {
        let refused = |text: String| Err(CliError::Input(format!("error: {text}\n")));
        let divided = [("--shard", self.shard.is_some()), ("--resume", self.resume)];
        if let Some((option, _)) = divided.iter().find(|(_, is_given)| *is_given && self.decide) {
            return refused(format!(
                "{option} and --decide exclude each other\n  --decide ends where the samples decide; \
                 {option} needs a number of samples that is fixed before"
            ));
        }
        let Some(place) = self.shard else { return Ok(None) };
        let idle =
            [("--figures", self.common.shown.figures), ("--require-pass", self.require_pass)];
        if let Some((option, _)) = idle.iter().find(|(_, is_given)| *is_given) {
            return refused(format!(
                "{option} does not go with --shard\n  a part has no page and no verdict: give \
                 {option} to `fairphase merge`"
            ));
        }
        if self.common.out.is_none() {
            return refused(
                "--shard needs --out\n  expected a folder of its own for each part, such as --out \
                 parts/part-1"
                    .to_owned(),
            );
        }
        let most = most_parts(&(0..samples));
        if place.of > most {
            return refused(format!(
                "--shard {place}: there are too few samples for so many parts: {samples}\n  expected \
                 K/N with N up to {most}: a part holds {LEAF} samples or more"
            ));
        }
        Ok(Some(place))
    }

    /// Tells of the steps of an interrupted run that this one does not use.
    fn say_unused_steps(&self, out: &Path) -> anyhow::Result<()> {
        if self.resume || self.common.shown.quiet {
            return Ok(());
        }
        resume::unused_steps(out)?.iter().for_each(|text| note(text));
        Ok(())
    }

    /// What the parts of this run have in common.
    fn part_run(&self, task: &Task<'_>) -> PartRun {
        let settings = self.common.settings(task.scenario);
        PartRun {
            scenario: named(task.file),
            measured: task.measured.iter().map(named).collect(),
            samples: settings.samples,
            seed: settings.seed,
            stream: self.stream,
            solver: settings.method.name().to_owned(),
            columns: self.columns.to_string(),
            is_explained: self.is_explained(task.scenario),
        }
    }
}

/// A file as parts hold it.
fn named(file: &InputFile) -> NamedText {
    NamedText { path: file.path.to_string_lossy().into_owned(), text: file.text.clone() }
}

/// Reads which part of how many is asked for.
fn part_place(text: &str) -> Result<PartPlace, &'static str> {
    let numbers = text.split_once('/');
    let numbers = numbers.and_then(|(k, n)| Some([whole::parse(k)?, whole::parse(n)?]));
    let [number, of] = numbers.unwrap_or_default();
    let is_place = (1..=of).contains(&number);
    is_place
        .then_some(PartPlace { number, of })
        .ok_or("expected K/N with K from 1 to N, such as 3/8")
}

/// Files that a whole run writes beside the summary.
pub(super) fn files(columns: &SampleColumns) -> Vec<&'static str> {
    let mut files = vec!["report.html", "worst_converters.csv", "ratings.csv"];
    if columns.has_files() {
        files.extend(["samples.parquet", "population.parquet"]);
    }
    files
}

impl Question for RunArguments {
    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn files(&self) -> Vec<&'static str> {
        if self.shard.is_none() {
            return files(&self.columns);
        }
        let samples = self.columns.has_files().then_some("samples.parquet");
        [TALLIES].into_iter().chain(samples).collect()
    }

    fn tidy(&self, out: &Path, completion: Completion) -> anyhow::Result<()> {
        match completion {
            _ if !self.resume => Ok(()),
            Completion::Partial => resume::say_kept_steps(out),
            Completion::Passed | Completion::NotPassed => resume::remove_steps(out),
        }
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, folder, stop, .. } = task;
        let arguments = &self.common;
        let (settings, size) = (arguments.settings(scenario), self.size(scenario)?);
        let place = self.place(settings.samples)?;
        let bars = progress::StageBars::new(arguments.shown.is_silent());
        let session = Session::new(scenario, settings, stop)?;
        drop(bars);
        arguments.say_nominal_misses(&session);
        self.say_unused_steps(folder.out())?;
        let mut bars = progress::StageBars::without_converter(arguments.shown.is_silent());
        let source = RandomSource::from(settings.seed).with_stream(self.stream);
        let files = if place.is_some() { SampleFiles::Results } else { SampleFiles::Both };
        let wanted = SinkRequest {
            source,
            columns: &self.columns,
            is_explained: self.is_explained(scenario),
            files,
        };
        let mut sinks = RunSinks::new(&session, folder, wanted)?;
        let mut samples = RunSamples::none(&session, source, size)?;
        let run = self.part_run(task);
        let header = place.map(|place| PartHeader { run, whole: 0..settings.samples, place });
        let range = header.as_ref().map_or(0..size.most(), PartHeader::samples);
        if self.resume {
            let (out, run, whole) = (folder.out(), self.part_run(task), range);
            let request = StepRequest { session: &session, out, wanted, run, whole };
            let steps = request.carry_out(&samples, &mut bars)?;
            let kept = |error| request.interrupted_after(error, steps.len());
            sinks.join(&steps, &mut samples, &mut bars).map_err(kept)?;
            if header.is_none() {
                return results(&session, samples, sinks, &mut bars).map_err(kept);
            }
        } else {
            samples.add(range, &mut sinks, &mut bars).map_err(StudyError::from)?;
        }
        let Some(header) = header else {
            return results(&session, samples, sinks, &mut bars);
        };
        RunPart::write(folder, &header, &sinks.tallies(&mut samples, header.samples())?)?;
        sinks.finish()?;
        Ok(Answer {
            report: merge::report(scenario, &settings, &header)?,
            completion: Completion::Passed,
        })
    }
}

/// The results of whole samples.
fn results(
    session: &Session<'_>,
    samples: RunSamples<'_>,
    sinks: RunSinks<'_>,
    progress: &mut dyn Progress,
) -> Result<Answer, CliError> {
    let result = samples.result(sinks.has_files(), progress)?;
    run_sinks::answer(session, &result, sinks, progress)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_of_parts_are_read() {
        assert_eq!(part_place("3/8"), Ok(PartPlace { number: 3, of: 8 }));
        for wrong in ["", "3", "0/8", "9/8", "3/0", "-1/2", "a/b", "1/2/3", "1 / 2"] {
            assert!(part_place(wrong).is_err(), "{wrong}");
        }
    }
}
