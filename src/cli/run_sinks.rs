//! Who receives the samples of a run, and what follows once all of them are there: for `run` and `merge`.

use std::ops::Range;

use anyhow::ensure;

use super::error::CliError;
use super::progress::is_stop_wanted;
use super::question::{Answer, Completion};
use crate::converter::driven_legs;
use crate::engine::{Batch, EngineError};
use crate::population::{Population, RandomSource};
use crate::report::format::folder::Folder;
use crate::report::merge::{PartError, RunPart};
use crate::report::run::columns::{FigureColumn, SampleColumns};
use crate::report::run::parquet::{Parts, Samples};
use crate::report::run::report;
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::statistics::{StateError, TallyState, Verdict};
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::explanation::{Explained, KeptSamples, explain, samples_to_keep};
use crate::study::run::{Run, RunSamples, SampleSink, sampled_figures};

/// Which files of the samples are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SampleFiles {
    /// Results and parts: those of a whole run.
    Both,
    /// Results alone: the parts can be drawn again.
    Results,
}

/// Writes the samples to their files as they are solved, and keeps the first ones for the explanation.
pub(super) struct RunSinks<'a> {
    scenario: &'a Scenario,
    folder: &'a Folder,
    source: RandomSource,
    wanted: SampleFiles,
    /// Columns of the samples' file; none where no files are asked for.
    columns: Option<Vec<FigureColumn>>,
    samples: Option<Samples>,
    parts: Option<Parts>,
    kept: Option<KeptSamples>,
}

/// What the sinks are to receive.
#[derive(Debug, Clone, Copy)]
pub(super) struct SinkRequest<'a> {
    pub(super) source: RandomSource,
    pub(super) columns: &'a SampleColumns,
    pub(super) is_explained: bool,
    pub(super) files: SampleFiles,
}

impl<'a> RunSinks<'a> {
    /// Of a folder in the making.
    pub(super) fn new(
        session: &Session<'a>,
        folder: &'a Folder,
        wanted: SinkRequest<'_>,
    ) -> Result<Self, CliError> {
        let scenario = session.scenario();
        let columns = wanted.columns.of_figures(&sampled_figures(session), scenario);
        Ok(Self {
            scenario,
            folder,
            source: wanted.source,
            wanted: wanted.files,
            columns: columns.map_err(CliError::Input)?,
            samples: None,
            parts: None,
            kept: wanted.is_explained.then(|| samples_to_keep(scenario)),
        })
    }

    /// What is kept of samples, as a part holds it.
    pub(super) fn tallies(
        &mut self,
        held: &mut RunSamples<'_>,
        samples: Range<u64>,
    ) -> anyhow::Result<Vec<u8>> {
        let mut state = TallyState::written(samples);
        self.exchange(held, &mut state)?;
        Ok(state.finish()?)
    }

    fn exchange(
        &mut self,
        held: &mut RunSamples<'_>,
        state: &mut TallyState<'_>,
    ) -> Result<(), StateError> {
        held.exchange(state)?;
        self.kept.iter_mut().try_for_each(|kept| kept.exchange(state))
    }

    /// Joins the parts, whose samples follow each other, to those held.
    pub(super) fn join(
        &mut self,
        parts: &[RunPart],
        held: &mut RunSamples<'_>,
        progress: &mut dyn Progress,
    ) -> Result<(), CliError> {
        held.announce(self)?;
        let samples = parts.iter().map(RunPart::samples);
        progress.stage("samples of parts", samples.map(|own| own.end - own.start).sum());
        for part in parts {
            let bytes = part.tallies()?;
            let mut state = TallyState::read(part.samples(), &bytes);
            let joined = self.exchange(held, &mut state);
            let joined = joined.and_then(|()| state.finish().map(drop));
            joined.map_err(|error| PartError::NoPart {
                folder: part.folder.clone(),
                reason: error.to_string(),
            })?;
            self.append(part, progress)?;
        }
        Ok(())
    }

    /// Takes the samples of a part from its file.
    fn append(&mut self, part: &RunPart, progress: &mut dyn Progress) -> Result<(), CliError> {
        let range = part.samples();
        if let Some(samples) = &mut self.samples {
            let file = part.samples_file().ok_or_else(|| PartError::NoPart {
                folder: part.folder.clone(),
                reason: "its samples.parquet is missing".to_owned(),
            })?;
            let cases = samples.cases();
            let mut advance = |rows: u64| {
                ensure!(!is_stop_wanted(), EngineError::Stopped);
                progress.advance(rows / cases);
                Ok(())
            };
            samples.append(&file, range.clone(), &mut advance)?;
        }
        if let Some(parts) = &mut self.parts {
            for first in range.clone().step_by(1 << 16) {
                ensure_going_on()?;
                parts.draw(first..range.end.min(first + (1 << 16)))?;
            }
        }
        ensure_going_on().map_err(CliError::from)
    }

    /// Closes the files; gives what is kept for the explanation.
    pub(super) fn finish(self) -> anyhow::Result<Option<KeptSamples>> {
        if let Some(samples) = self.samples {
            samples.finish()?;
        }
        if let Some(parts) = self.parts {
            parts.finish()?;
        }
        Ok(self.kept)
    }
}

fn ensure_going_on() -> anyhow::Result<()> {
    ensure!(!is_stop_wanted(), EngineError::Stopped);
    Ok(())
}

impl SampleSink for RunSinks<'_> {
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()> {
        if let Some(kept) = &mut self.kept {
            kept.begin(cases, figures)?;
        }
        let Some(columns) = self.columns.take() else { return Ok(()) };
        self.samples = Some(Samples::create(self.folder, cases, columns)?);
        if self.wanted == SampleFiles::Both {
            let legs = driven_legs(cases.iter().map(|case| case.point.drive));
            let population = Population::new(self.scenario, self.source).with_driven_legs(legs);
            self.parts = Some(Parts::create(self.folder, population)?);
        }
        Ok(())
    }

    fn has_files(&self) -> bool {
        self.samples.is_some()
    }

    fn wants_parts(&self) -> bool {
        self.parts.is_some()
    }

    fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        if let Some(own) = &mut self.samples {
            own.take(batch, samples, meets)?;
        }
        if let Some(own) = &mut self.parts {
            own.take(batch, samples)?;
        }
        match &mut self.kept {
            Some(kept) => kept.take(batch, samples, meets),
            None => Ok(()),
        }
    }
}

/// Explains a run where that is asked for, and makes the report.
pub(super) fn answer(
    session: &Session<'_>,
    result: &Run,
    sinks: RunSinks<'_>,
    progress: &mut dyn Progress,
) -> Result<Answer, CliError> {
    let kept = sinks.finish()?;
    let explained = kept.as_ref().map(|kept| Explained { session, run: result, kept });
    let explanation = explained.map(|explained| explain(explained, progress)).transpose()?;
    Ok(Answer {
        report: report(session.scenario(), result, explanation.as_ref())?,
        completion: Completion::new(
            explanation.is_some_and(|explanation| explanation.interrupted),
            result.joint[0].verdict == Verdict::Pass,
        ),
    })
}
