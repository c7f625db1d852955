//! What files of measured parts leave open in the yields of a run: they hold a few parts of many.

use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::engine::Batch;
use crate::population::{MeasuredDraws, Population};
use crate::scenario::{Shape, Tolerances};
use crate::statistics::{FileEffect, InfluenceTally, Verdict, Yield};
use crate::study::common::session::Session;
use crate::study::common::tally::Tally;

/// The yield of the measured parts alone: what the verdict would rest on, were there no other parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredPartsYield {
    /// Its interval tells what the number of samples leaves open.
    pub good: Yield,
    /// Its verdict against the target.
    pub verdict: Verdict,
    /// Where this is decided, and that on all such parts is not: measured parts that each file must
    /// hold for it, if all else stays as seen; none where a million would not do.
    pub parts_to_decide: Option<u64>,
}

/// A yield of a run, one of many.
#[derive(Debug, Clone, Copy)]
pub(super) enum YieldOf {
    /// That of the case in this place.
    Case(usize, Arrangement),
    /// That over all operating points.
    Joint(Arrangement),
}

/// How the yields of a run depend on each measured part, column by column.
pub(super) struct MeasuredTallies {
    draws: MeasuredDraws,
    size: ConverterSize,
    cases: usize,
    /// Name of the file of each column.
    files: Vec<String>,
    tallies: Vec<InfluenceTally>,
}

impl MeasuredTallies {
    /// No samples yet.
    pub(super) fn new(session: &Session, population: &Population) -> Self {
        let (size, cases) = (session.size(), session.baselines().len());
        let draws = population.measured_draws(size);
        let tolerances = &session.scenario().tolerances;
        let yields = cases + Arrangement::ALL.len();
        let tallies = draws.columns().iter().map(|own| InfluenceTally::new(own.parts, yields));
        let files = draws.columns().iter().map(|own| file_name(tolerances, own.parameter));
        Self { tallies: tallies.collect(), files: files.collect(), draws, size, cases }
    }

    /// Takes a batch that was counted in a tally.
    pub(super) fn take(&mut self, batch: &Batch, tally: &Tally, arrangements: &[Arrangement]) {
        if self.tallies.is_empty() {
            return;
        }
        for n in 0..batch.len() {
            let meets = |case: usize| tally.cases[case].count.meets(batch.row(n, case));
            let mut passes: Vec<bool> = (0..self.cases).map(meets).collect();
            for arrangement in Arrangement::ALL {
                let of_cases = passes.iter().zip(arrangements).filter(|(_, a)| **a == arrangement);
                let meets_all = of_cases.fold(true, |all, (meets, _)| all && *meets);
                passes.push(meets_all);
            }
            let sample = batch.first + n as u64;
            let held = self.draws.of_sample(sample);
            for (tally, held) in self.tallies.iter_mut().zip(&held) {
                tally.add(sample, held, &passes);
            }
        }
    }

    /// What each file does to a yield; no entry for files whose parts the arrangement does not have.
    pub(super) fn effects(&self, of: YieldOf) -> Vec<FileEffect> {
        let (place, arrangement) = match of {
            YieldOf::Case(case, arrangement) => (case, arrangement),
            YieldOf::Joint(arrangement) => {
                (self.cases + usize::from(arrangement == Arrangement::Paralleled), arrangement)
            }
        };
        let mut effects: Vec<(&str, FileEffect)> = Vec::new();
        let columns = self.draws.columns().iter().zip(&self.tallies).zip(&self.files);
        for ((column, tally), file) in columns {
            let drawn = u32::try_from(column.drawn(self.size, arrangement)).unwrap_or(u32::MAX);
            if drawn == 0 {
                continue;
            }
            let parts = column.parts as u64;
            let effect = FileEffect { parts, drawn, variance: tally.variance(place) };
            match effects.iter_mut().find(|(name, _)| name == file) {
                Some((_, known)) => *known = known.of_columns(effect),
                None => effects.push((file, effect)),
            }
        }
        effects.into_iter().map(|(_, effect)| effect).collect()
    }
}

fn file_name(tolerances: &Tolerances, parameter: Parameter) -> String {
    match tolerances.get(parameter).map(|own| &own.shape) {
        Some(Shape::Measured(parts)) => parts.file.clone(),
        _ => String::new(),
    }
}
