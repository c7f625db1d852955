//! Whether parts are all parts of one run.

use std::ops::Range;

use super::division::PartPlace;
use super::error::PartError;
use super::part::{Part, PartHeader, PartRun};
use crate::report::format::command::quoted;

/// Runs of missing numbers that are told, at most.
const TOLD: usize = 8;

/// The parts in the order of their samples, where they are all parts of one run, each once.
///
/// # Errors
///
/// What is wrong with them: another run, a part that is there twice, missing ones.
pub fn complete(mut parts: Vec<Part>) -> Result<Vec<Part>, PartError> {
    let Some(first) = parts.first() else { return Ok(parts) };
    for part in &parts {
        if !part.header.is_of_run() {
            return Err(PartError::no_part(&part.folder, "it is a step of a run with --resume"));
        }
        let difference = first.header.run.difference(&part.header.run);
        let other_number = || {
            let [own, other] = [first, part].map(|part| part.header.place.of);
            (own != other).then(|| format!("it is one of {other} parts, not of {own}"))
        };
        if let Some(difference) = difference.or_else(other_number) {
            let (first, folder) = (first.folder.clone(), part.folder.clone());
            return Err(PartError::OtherRun { first, folder, difference });
        }
    }
    parts.sort_by_key(|part| part.header.place.number);
    for pair in parts.windows(2) {
        if pair[0].header.place == pair[1].header.place {
            return Err(PartError::Twice {
                place: pair[0].header.place.to_string(),
                first: pair[0].folder.clone(),
                second: pair[1].folder.clone(),
            });
        }
    }
    match missing(&parts) {
        None => Ok(parts),
        Some(error) => Err(error),
    }
}

/// Whether a part holds some of these samples of a run.
///
/// # Errors
///
/// What tells the runs apart, where it is of another one.
pub fn is_of(part: &Part, run: &PartRun, whole: &Range<u64>) -> Result<(), String> {
    match run.difference(&part.header.run) {
        Some(difference) => Err(difference),
        None if part.header.whole != *whole => {
            Err("it solves another part of the samples".to_owned())
        }
        None => Ok(()),
    }
}

fn missing(parts: &[Part]) -> Option<PartError> {
    let PartHeader { run, place, .. } = &parts.first()?.header;
    let mut runs: Vec<[u64; 2]> = Vec::new();
    let mut next = 1;
    let ends = parts.iter().map(|part| part.header.place.number).chain([place.of + 1]);
    for number in ends {
        if number > next {
            runs.push([next, number - 1]);
        }
        next = number + 1;
    }
    let [first, _] = *runs.first()?;
    let missing: u64 = runs.iter().map(|[from, to]| to - from + 1).sum();
    let mut words: Vec<String> = runs
        .iter()
        .take(TOLD)
        .map(|[from, to]| match to - from {
            0 => from.to_string(),
            1 => format!("{from}, {to}"),
            _ => format!("{from} to {to}"),
        })
        .collect();
    words.extend((runs.len() > TOLD).then(|| "…".to_owned()));
    let is_one = missing == 1;
    let [noun, verb] = if is_one { ["part", "is"] } else { ["parts", "are"] };
    let place = PartPlace { number: first, of: place.of };
    let scenario = quoted(&run.scenario.path);
    Some(PartError::Missing {
        parts: format!("{noun} {}", words.join(", ")),
        of: format!("{} {verb}", place.of),
        command: format!(
            "`fairphase run {scenario} --shard {place}`{} and the options of the others",
            if is_one { "" } else { " and so on," }
        ),
    })
}
