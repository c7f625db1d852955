//! Trials of bands: asked once each, judged by one rule.

use crate::converter::Arrangement;
use crate::scenario::Tolerances;
use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::common::error::StudyError;
use crate::study::common::trial::Trial;

use super::map::POINTS;
use super::verification::{VERIFICATION_FACTOR, VERIFICATIONS};

/// What a trial draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draw {
    /// The seed.
    pub seed: u64,
    /// How many converters.
    pub samples: u64,
}

/// Whoever can tell what becomes of an arrangement with these tolerances.
pub type YieldEvaluator<'a> =
    dyn FnMut(Arrangement, &Tolerances, Draw) -> Result<Trial, StudyError> + 'a;

/// When bands meet the target.
#[derive(Debug, Clone, Copy)]
pub struct Rule {
    /// Share of the converters that must pass.
    pub target: f64,
    /// The scenario's confidence level.
    pub plain: Confidence,
    /// The level of every search and of each look of a proof.
    pub shared: Confidence,
    /// The level of each point of a map.
    pub map: Confidence,
}

impl Rule {
    /// Shares the permitted error between the planned [`VERIFICATIONS`] of a proof, and between the
    /// [`POINTS`] columns of a map.
    ///
    /// # Errors
    ///
    /// When `confidence` lies outside (0, 1).
    pub fn new(target: f64, confidence: f64) -> Result<Self, StatisticsError> {
        let plain = Confidence::new(confidence)?;
        let among = |shares: f64| Confidence::new(1.0 - (1.0 - confidence) / shares);
        let (shared, map) = (among(VERIFICATIONS as f64)?, among(f64::from(POINTS))?);
        Ok(Self { target, plain, shared, map })
    }

    /// The yield with its interval at the shared level.
    ///
    /// # Errors
    ///
    /// When there are no trials.
    pub fn interval(&self, trial: &Trial) -> Result<Yield, StatisticsError> {
        Yield::new(trial.good, trial.samples, self.shared)
    }

    /// Whether the lower end of that interval meets the target.
    ///
    /// # Errors
    ///
    /// When there are no trials.
    pub fn meets(&self, trial: &Trial) -> Result<bool, StatisticsError> {
        Ok(self.interval(trial)?.verdict(self.target) == Verdict::Pass)
    }

    /// The fewest samples with which everything asked can meet the target, the map with its many
    /// columns included; `None` if 10¹² are not enough.
    ///
    /// # Errors
    ///
    /// None: one of one is a proportion.
    pub fn fewest_samples(&self) -> Result<Option<u64>, StatisticsError> {
        Ok(Yield::new(1, 1, self.map)?.samples_to_decide(self.target))
    }
}

/// Trials of one arrangement on the seed of the search, each asked for once.
pub struct Trials<'a> {
    evaluate: &'a mut YieldEvaluator<'a>,
    /// The arrangement under trial.
    pub arrangement: Arrangement,
    /// What the search draws.
    pub search: Draw,
    /// When bands meet the target.
    pub rule: Rule,
    known: Vec<(Arrangement, Tolerances, Trial)>,
    asked: u64,
    verifications: u64,
}

impl std::fmt::Debug for Trials<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Trials").field("search", &self.search).field("asked", &self.asked).finish()
    }
}

impl<'a> Trials<'a> {
    /// Trials of the chain; nothing is asked yet.
    pub fn new(evaluate: &'a mut YieldEvaluator<'a>, search: Draw, rule: Rule) -> Self {
        let arrangement = Arrangement::Chain;
        Self { evaluate, arrangement, search, rule, known: Vec::new(), asked: 0, verifications: 0 }
    }

    /// Number of trials with the samples of the search, those of the map among them.
    pub fn asked(&self) -> u64 {
        self.asked
    }

    /// Number of looks at fresh seeds.
    pub fn verifications(&self) -> u64 {
        self.verifications
    }

    /// Judges bands on the seed of the search.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn on_search_seed(&mut self, bands: &Tolerances) -> Result<Trial, StudyError> {
        let same =
            |(a, b, _): &&(Arrangement, Tolerances, Trial)| *a == self.arrangement && b == bands;
        if let Some((.., trial)) = self.known.iter().find(same) {
            return Ok(trial.clone());
        }
        let trial = self.on_seed(bands, self.search.seed)?;
        self.known.push((self.arrangement, *bands, trial.clone()));
        Ok(trial)
    }

    /// Judges bands on whatever seed, with as many samples as the search.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn on_seed(&mut self, bands: &Tolerances, seed: u64) -> Result<Trial, StudyError> {
        self.asked += 1;
        (self.evaluate)(self.arrangement, bands, Draw { seed, ..self.search })
    }

    /// Judges bands on a fresh seed, with the samples of a look.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn verification(&mut self, bands: &Tolerances, seed: u64) -> Result<Trial, StudyError> {
        self.verifications += 1;
        let samples = VERIFICATION_FACTOR * self.search.samples;
        (self.evaluate)(self.arrangement, bands, Draw { seed, samples })
    }

    /// Whether bands meet the target on the seed of the search.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn meet(&mut self, bands: &Tolerances) -> Result<bool, StudyError> {
        let trial = self.on_search_seed(bands)?;
        Ok(self.rule.meets(&trial)?)
    }
}

/// A seed that the search did not use, for a look of a question.
///
/// The finaliser of `SplitMix64` (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014, figure 15) on seed, question and look; 48 bits of it, which every
/// reader of JSON takes exactly.
pub fn fresh_seed(seed: u64, question: u64, verification: u64) -> u64 {
    let mut z =
        seed.wrapping_add((64 * question + verification + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    let fresh = (z ^ (z >> 31)) >> 16;
    if fresh == seed { fresh ^ 1 } else { fresh }
}
