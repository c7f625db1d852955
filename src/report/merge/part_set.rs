//! Whether parts are all parts of one run.

use std::ops::Range;
use std::path::PathBuf;

use super::division::PartPlace;
use super::error::PartError;
use super::part::{OpenedPart, PartRun, RunPart};
use crate::report::format::command::quoted;

/// Runs of missing numbers that are told, at most.
const TOLD: usize = 8;

/// All parts of a run, in the order of their samples.
#[derive(Debug)]
pub struct RunParts {
    /// The run.
    pub run: PartRun,
    /// Its parts, each once.
    pub parts: Vec<RunPart>,
}

impl RunParts {
    /// Opens the parts in these folders; none where no folder is named.
    ///
    /// # Errors
    ///
    /// What is wrong with them: no part, one of another run, one that is there twice, missing ones.
    pub fn open(folders: &[PathBuf]) -> Result<Option<Self>, PartError> {
        let mut set: Option<Self> = None;
        for folder in folders {
            let OpenedPart { part, run } = RunPart::open(folder)?;
            if part.whole != (0..run.samples) {
                return Err(PartError::no_part(folder, "it is a step of a run with --resume"));
            }
            match &mut set {
                None => set = Some(Self { run, parts: vec![part] }),
                Some(set) => set.add(part, run)?,
            }
        }
        if let Some(set) = &mut set {
            set.parts.sort_by_key(|part| part.place.number);
            set.refuse_repeated()?;
            set.refuse_missing()?;
        }
        Ok(set)
    }

    /// Adds a part. The files of the run are named as in the part of the lowest number.
    fn add(&mut self, part: RunPart, run: PartRun) -> Result<(), PartError> {
        let Some(first) = self.parts.first() else { return Ok(()) };
        let [own, other] = [first, &part].map(|part| part.place.of);
        let other_number =
            || (own != other).then(|| format!("it is one of {other} parts, not of {own}"));
        if let Some(difference) = self.run.difference(&run).or_else(other_number) {
            let (first, folder) = (first.folder.clone(), part.folder);
            return Err(PartError::OtherRun { first, folder, difference });
        }
        if self.parts.iter().all(|other| part.place.number < other.place.number) {
            self.run = run;
        }
        self.parts.push(part);
        Ok(())
    }

    fn refuse_repeated(&self) -> Result<(), PartError> {
        match self.parts.windows(2).find(|pair| pair[0].place == pair[1].place) {
            None => Ok(()),
            Some(pair) => Err(PartError::Twice {
                place: pair[0].place.to_string(),
                first: pair[0].folder.clone(),
                second: pair[1].folder.clone(),
            }),
        }
    }

    fn refuse_missing(&self) -> Result<(), PartError> {
        let Some(of) = self.parts.first().map(|part| part.place.of) else { return Ok(()) };
        let mut gaps: Vec<[u64; 2]> = Vec::new();
        let mut next = 1;
        for number in self.parts.iter().map(|part| part.place.number).chain([of + 1]) {
            if number > next {
                gaps.push([next, number - 1]);
            }
            next = number + 1;
        }
        match gaps.first() {
            None => Ok(()),
            Some([first, _]) => Err(missing(&self.run, PartPlace { number: *first, of }, &gaps)),
        }
    }
}

/// Whether a part holds some of these samples of a run.
///
/// # Errors
///
/// What tells the runs apart, where it is of another one.
pub fn is_of(opened: &OpenedPart, run: &PartRun, whole: &Range<u64>) -> Result<(), String> {
    match run.difference(&opened.run) {
        Some(difference) => Err(difference),
        None if opened.part.whole != *whole => {
            Err("it solves another part of the samples".to_owned())
        }
        None => Ok(()),
    }
}

/// The first and last numbers of missing parts, told; `first` is the first of all.
fn missing(run: &PartRun, first: PartPlace, gaps: &[[u64; 2]]) -> PartError {
    let gap = |[from, to]: &[u64; 2]| match to - from {
        0 => from.to_string(),
        1 => format!("{from}, {to}"),
        _ => format!("{from} to {to}"),
    };
    let mut words: Vec<String> = gaps.iter().take(TOLD).map(gap).collect();
    words.extend((gaps.len() > TOLD).then(|| "…".to_owned()));
    let is_one = gaps.iter().map(|[from, to]| to - from + 1).sum::<u64>() == 1;
    let [noun, verb] = if is_one { ["part", "is"] } else { ["parts", "are"] };
    let scenario = quoted(&run.scenario.path);
    PartError::Missing {
        parts: format!("{noun} {}", words.join(", ")),
        of: format!("{} {verb}", first.of),
        command: format!(
            "`fairphase run {scenario} --shard {first}`{} and the options of the others",
            if is_one { "" } else { " and so on," }
        ),
    }
}
