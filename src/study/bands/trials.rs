//! Trials of bands: asked once each, judged by one rule.

use crate::converter::Arrangement;
use crate::scenario::Tolerances;
use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::common::trial::Trial;
use crate::study::run::RunError;

use super::looks::{LOOK_TIMES, LOOKS};
use super::map::POINTS;

/// What a trial draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draw {
    /// The seed.
    pub seed: u64,
    /// How many converters.
    pub samples: u64,
}

/// Whoever can tell what becomes of an arrangement with these tolerances.
pub type Judge<'a> = dyn FnMut(Arrangement, &Tolerances, Draw) -> Result<Trial, RunError> + 'a;

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
    /// Shares the permitted error between the planned [`LOOKS`] of a proof, and between the
    /// [`POINTS`] columns of a map.
    ///
    /// # Errors
    ///
    /// When `confidence` lies outside (0, 1).
    pub fn new(target: f64, confidence: f64) -> Result<Self, StatisticsError> {
        let plain = Confidence::new(confidence)?;
        let among = |shares: f64| Confidence::new(1.0 - (1.0 - confidence) / shares);
        let (shared, map) = (among(LOOKS as f64)?, among(f64::from(POINTS))?);
        Ok(Self { target, plain, shared, map })
    }

    /// The yield with its interval at the shared level.
    ///
    /// # Errors
    ///
    /// When there are no trials.
    pub fn interval(&self, judged: &Trial) -> Result<Yield, StatisticsError> {
        Yield::new(judged.good, judged.samples, self.shared)
    }

    /// Whether the lower end of that interval meets the target.
    ///
    /// # Errors
    ///
    /// When there are no trials.
    pub fn meets(&self, judged: &Trial) -> Result<bool, StatisticsError> {
        Ok(self.interval(judged)?.verdict(self.target) == Verdict::Pass)
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
    judge: &'a mut Judge<'a>,
    /// The arrangement under trial.
    pub arrangement: Arrangement,
    /// What the search draws.
    pub search: Draw,
    /// When bands meet the target.
    pub rule: Rule,
    known: Vec<(Arrangement, Tolerances, Trial)>,
    asked: u64,
    looks: u64,
}

impl std::fmt::Debug for Trials<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Trials").field("search", &self.search).field("asked", &self.asked).finish()
    }
}

impl<'a> Trials<'a> {
    /// Trials of the chain; nothing is asked yet.
    pub fn new(judge: &'a mut Judge<'a>, search: Draw, rule: Rule) -> Self {
        let arrangement = Arrangement::Chain;
        Self { judge, arrangement, search, rule, known: Vec::new(), asked: 0, looks: 0 }
    }

    /// Number of trials with the samples of the search, those of the map among them.
    pub fn asked(&self) -> u64 {
        self.asked
    }

    /// Number of looks at fresh seeds.
    pub fn looks(&self) -> u64 {
        self.looks
    }

    /// Judges bands on the seed of the search.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn on_search_seed(&mut self, bands: &Tolerances) -> Result<Trial, RunError> {
        let same =
            |(a, b, _): &&(Arrangement, Tolerances, Trial)| *a == self.arrangement && b == bands;
        if let Some((.., judged)) = self.known.iter().find(same) {
            return Ok(judged.clone());
        }
        let judged = self.on_seed(bands, self.search.seed)?;
        self.known.push((self.arrangement, *bands, judged.clone()));
        Ok(judged)
    }

    /// Judges bands on whatever seed, with as many samples as the search.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn on_seed(&mut self, bands: &Tolerances, seed: u64) -> Result<Trial, RunError> {
        self.asked += 1;
        (self.judge)(self.arrangement, bands, Draw { seed, ..self.search })
    }

    /// Judges bands on a fresh seed, with the samples of a look.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn look(&mut self, bands: &Tolerances, seed: u64) -> Result<Trial, RunError> {
        self.looks += 1;
        let samples = LOOK_TIMES * self.search.samples;
        (self.judge)(self.arrangement, bands, Draw { seed, samples })
    }

    /// Whether bands meet the target on the seed of the search.
    ///
    /// # Errors
    ///
    /// Those of the judge.
    pub fn meet(&mut self, bands: &Tolerances) -> Result<bool, RunError> {
        let judged = self.on_search_seed(bands)?;
        Ok(self.rule.meets(&judged)?)
    }
}

/// A seed that the search did not use, for a look of a question.
///
/// The finaliser of `SplitMix64` (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014, figure 15) on seed, question and look; 48 bits of it, which every
/// reader of JSON takes exactly.
pub fn fresh_seed(seed: u64, question: u64, look: u64) -> u64 {
    let mut z = seed.wrapping_add((64 * question + look + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    let fresh = (z ^ (z >> 31)) >> 16;
    if fresh == seed { fresh ^ 1 } else { fresh }
}
