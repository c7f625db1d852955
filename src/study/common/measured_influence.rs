//! What files of measured parts do to the yields of a study: they hold a few parts of many.

use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::population::{MeasuredDraws, Population};
use crate::scenario::{Shape, Tolerances};
use crate::statistics::{FileEffect, InfluenceTally, StateError, TallyState};
use crate::study::common::session::Session;

/// How the yields of a study depend on each measured part, column by column.
#[derive(Clone)]
pub(in crate::study) struct MeasuredInfluence {
    draws: MeasuredDraws,
    size: ConverterSize,
    /// Name of the file of each column.
    files: Vec<String>,
    tallies: Vec<InfluenceTally>,
}

impl MeasuredInfluence {
    /// No samples yet of a population, for so many yields.
    pub(in crate::study) fn new(session: &Session, population: &Population, yields: usize) -> Self {
        let size = session.size();
        let draws = population.measured_draws(size);
        let tolerances = &session.scenario().tolerances;
        let columns = draws.columns().iter();
        let tallies = columns.clone().map(|own| InfluenceTally::new(own.parts, yields)).collect();
        let files = columns.map(|own| file_name(tolerances, own.parameter)).collect();
        Self { draws, size, files, tallies }
    }

    /// Whether no part of the population is drawn from a file.
    pub(in crate::study) fn is_empty(&self) -> bool {
        self.tallies.is_empty()
    }

    /// Takes a sample, and of each yield whether it passes.
    pub(in crate::study) fn add(&mut self, sample: u64, passes: &[bool]) {
        if self.is_empty() {
            return;
        }
        let held = self.draws.of_sample(sample);
        for (tally, held) in self.tallies.iter_mut().zip(&held) {
            tally.add(sample, held, passes);
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(in crate::study) fn exchange(
        &mut self,
        state: &mut TallyState<'_>,
    ) -> Result<(), StateError> {
        self.tallies.iter_mut().try_for_each(|own| own.exchange(state))
    }

    /// What each file does to the yield in this place; no entry for files whose parts the arrangement
    /// does not have.
    pub(in crate::study) fn effects(
        &self,
        place: usize,
        arrangement: Arrangement,
    ) -> Vec<FileEffect> {
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
