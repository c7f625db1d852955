//! Trials of bands: each asked for once.

use super::rule::{Rule, VERIFICATION_FACTOR};
use crate::converter::Arrangement;
use crate::population::RandomSource;
use crate::scenario::Tolerances;
use crate::study::common::error::StudyError;
use crate::study::common::pairs::Pairs;
use crate::study::common::progress::Progress;
use crate::study::common::settings::Draws;
use crate::study::common::trials::{Solving, Trial};

/// Tells how many samples of an arrangement pass.
pub trait YieldEvaluator {
    /// With these tolerances.
    ///
    /// # Errors
    ///
    /// When the user asks to stop, and when the samples cannot be evaluated.
    fn trial(
        &mut self,
        arrangement: Arrangement,
        bands: &Tolerances,
        draws: Draws,
        solving: Solving,
    ) -> Result<Trial, StudyError>;

    /// With several sets of tolerances on the same samples, every one solved to the end.
    ///
    /// # Errors
    ///
    /// As [`Self::trial`].
    fn pairs(
        &mut self,
        arrangement: Arrangement,
        sets: &[Tolerances],
        draws: Draws,
    ) -> Result<Pairs, StudyError>;
}

/// A trial on the samples of the search.
struct KnownTrial {
    arrangement: Arrangement,
    tolerances: Tolerances,
    trial: Trial,
}

/// Trials of one arrangement. Those on the samples of the search are made once each.
pub struct Trials<'a> {
    evaluator: &'a mut dyn YieldEvaluator,
    progress: &'a mut dyn Progress,
    /// The arrangement under trial.
    pub arrangement: Arrangement,
    /// What the search draws.
    pub search: Draws,
    /// When bands meet the target.
    pub rule: Rule,
    known: Vec<KnownTrial>,
    asked: u64,
    verifications: u64,
}

impl std::fmt::Debug for Trials<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Trials").field("search", &self.search).field("asked", &self.asked).finish()
    }
}

impl<'a> Trials<'a> {
    /// Trials of the chain; none is made yet.
    pub fn new(
        evaluator: &'a mut dyn YieldEvaluator,
        search: Draws,
        rule: Rule,
        progress: &'a mut dyn Progress,
    ) -> Self {
        let (arrangement, known) = (Arrangement::Chain, Vec::new());
        Self { evaluator, progress, arrangement, search, rule, known, asked: 0, verifications: 0 }
    }

    /// Number of trials with as many samples as the search, those of the map among them.
    pub fn asked(&self) -> u64 {
        self.asked
    }

    /// Number of verification runs.
    pub fn verifications(&self) -> u64 {
        self.verifications
    }

    /// Reports that so many trials are still to come, more or less.
    pub(super) fn expect(&mut self, trials: u64) {
        self.progress.expect(trials);
    }

    /// Tries bands on the samples of the search.
    ///
    /// # Errors
    ///
    /// Those of the yield evaluator.
    pub fn on_search_samples(&mut self, bands: &Tolerances) -> Result<Trial, StudyError> {
        let same = |known: &&KnownTrial| {
            known.arrangement == self.arrangement && known.tolerances == *bands
        };
        if let Some(known) = self.known.iter().find(same) {
            return Ok(known.trial.clone());
        }
        let trial = self.on_samples(bands, self.search.source)?;
        let (arrangement, tolerances) = (self.arrangement, bands.clone());
        self.known.push(KnownTrial { arrangement, tolerances, trial: trial.clone() });
        Ok(trial)
    }

    /// Tries bands on other samples, as many as those of the search.
    ///
    /// # Errors
    ///
    /// Those of the yield evaluator.
    pub fn on_samples(
        &mut self,
        bands: &Tolerances,
        source: RandomSource,
    ) -> Result<Trial, StudyError> {
        self.asked += 1;
        self.evaluate(bands, Draws { source, ..self.search }, Solving::UntilClear)
    }

    /// Tries bands on fresh samples, as many as a verification run draws, every one solved to the end.
    ///
    /// # Errors
    ///
    /// Those of the yield evaluator.
    pub fn verify(
        &mut self,
        bands: &Tolerances,
        source: RandomSource,
    ) -> Result<Trial, StudyError> {
        self.verifications += 1;
        let samples = VERIFICATION_FACTOR * self.search.samples;
        self.evaluate(bands, Draws { source, samples }, Solving::ToTheEnd)
    }

    /// Compares sets of bands on the same fresh samples, as many as a verification run draws.
    ///
    /// # Errors
    ///
    /// Those of the yield evaluator.
    pub fn compare(
        &mut self,
        sets: &[Tolerances],
        source: RandomSource,
    ) -> Result<Pairs, StudyError> {
        let runs = sets.len() as u64;
        self.verifications += runs;
        let draws = Draws { source, samples: VERIFICATION_FACTOR * self.search.samples };
        let pairs = self.evaluator.pairs(self.arrangement, sets, draws)?;
        self.progress.advance(runs * VERIFICATION_FACTOR);
        Ok(pairs)
    }

    /// Samples of each of so many sets that together draw no more converters than a verification run.
    pub fn samples_of_each(&self, sets: usize) -> u64 {
        (VERIFICATION_FACTOR * self.search.samples).checked_div(sets as u64).unwrap_or(0)
    }

    /// Compares sets of bands on the same fresh samples, which all sets share: together they draw no more
    /// converters than a verification run.
    ///
    /// # Errors
    ///
    /// Those of the yield evaluator.
    pub fn share(
        &mut self,
        sets: &[Tolerances],
        source: RandomSource,
    ) -> Result<Pairs, StudyError> {
        let draws = Draws { source, samples: self.samples_of_each(sets.len()) };
        let pairs = self.evaluator.pairs(self.arrangement, sets, draws)?;
        self.progress.advance(VERIFICATION_FACTOR);
        Ok(pairs)
    }

    fn evaluate(
        &mut self,
        bands: &Tolerances,
        draws: Draws,
        solving: Solving,
    ) -> Result<Trial, StudyError> {
        let trial = self.evaluator.trial(self.arrangement, bands, draws, solving)?;
        self.progress.advance(draws.samples / self.search.samples);
        Ok(trial)
    }

    /// Whether bands meet the target on the samples of the search.
    ///
    /// # Errors
    ///
    /// Those of the yield evaluator.
    pub fn meet(&mut self, bands: &Tolerances) -> Result<bool, StudyError> {
        let trial = self.on_search_samples(bands)?;
        Ok(self.rule.meets(&trial)?)
    }

    /// Fresh samples for a verification run of a question. Each run of each question draws its own.
    pub fn fresh(&self, question: u64, run: usize) -> RandomSource {
        fresh_source(self.search.source, question, run)
    }
}

/// Fresh samples for a verification run of a question: no other run draws them, nor does any
/// seed of its own.
pub fn fresh_source(search: RandomSource, question: u64, run: usize) -> RandomSource {
    search.with_stream(64 * question + run as u64 + 1)
}
