//! A finished run, with all that it is explained from.

use super::kept::KeptSamples;
use crate::statistics::{Confidence, Estimator, StatisticsError};
use crate::study::common::session::Session;
use crate::study::common::settings::Draws;
use crate::study::run::{Run, SampleSize};

/// Samples that an explanation costs at most, however long the run.
const MOST_SAMPLES: u64 = 1 << 16;

/// What a run is explained from.
#[derive(Debug, Clone, Copy)]
pub struct Explained<'a> {
    /// The session that the run was made in.
    pub session: &'a Session<'a>,
    /// The run.
    pub run: &'a Run,
    /// Its first samples.
    pub kept: &'a KeptSamples,
}

impl Explained<'_> {
    /// The run's samples, as many as there are.
    pub(super) fn draws(&self) -> Draws {
        Draws { source: self.run.source, samples: self.run.settings.samples }
    }

    /// Converters that may be solved for the explanation: as many as for the run.
    pub(super) fn solves(&self) -> u64 {
        self.run.settings.samples.min(MOST_SAMPLES) * self.run.cases.len() as u64
    }

    /// What makes intervals of the run's samples.
    pub(super) fn estimator(&self) -> Result<Estimator, StatisticsError> {
        let confidence = Confidence::new(self.session.scenario().limits.confidence)?;
        Ok(match self.run.size {
            SampleSize::Fixed(_) => Estimator::Fixed(confidence),
            SampleSize::UntilDecided(test) => Estimator::Sequential(test),
        })
    }
}
