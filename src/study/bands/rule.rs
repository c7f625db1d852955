//! When bands meet the target, and how many statements share the permitted error.

use crate::statistics::{Confidence, StatisticsError, Verdict, Yield};
use crate::study::common::trials::Trial;

/// The most verification runs of a line of bands.
pub const VERIFICATIONS: usize = 4;
/// How many times the samples of the search a verification run draws.
pub const VERIFICATION_FACTOR: u64 = 4;
/// Grid points along an axis of the map.
pub const GRID_POINTS: u32 = 11;

/// When bands meet the target.
#[derive(Debug, Clone, Copy)]
pub struct Rule {
    /// Share of the converters that must pass.
    pub target: f64,
    /// The scenario's confidence level.
    pub plain: Confidence,
    /// The level of every search and of each verification run.
    pub shared: Confidence,
    /// The level of each point of a map.
    pub map: Confidence,
}

impl Rule {
    /// Shares the permitted error between the planned [`VERIFICATIONS`] of a line, and between the
    /// [`GRID_POINTS`] columns of a map.
    ///
    /// # Errors
    ///
    /// When `confidence` lies outside (0, 1).
    pub fn new(target: f64, confidence: f64) -> Result<Self, StatisticsError> {
        let plain = Confidence::new(confidence)?;
        let among = |shares: f64| Confidence::new(1.0 - (1.0 - confidence) / shares);
        let (shared, map) = (among(VERIFICATIONS as f64)?, among(f64::from(GRID_POINTS))?);
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
