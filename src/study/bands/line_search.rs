//! The widest band along a line of bands that only get wider: a search on common samples.

use super::trials::Trials;
use crate::scenario::Tolerances;
use crate::statistics::{Verdict, Yield};
use crate::study::common::error::StudyError;
use crate::study::common::trials::Trial;

/// The widest band is closed in to this share of itself.
pub const RESOLUTION: f64 = 0.02;
/// Below this share of the present band, or of the widest where that is zero, a band counts as none.
const FLOOR: f64 = 1e-3;
/// How far a bracket grows at a time.
const GROWTH: f64 = 1.5;
/// Where the trend is checked, relative to the widest band.
const CHECKS: [f64; 6] = [0.5, 0.75, 0.9, 1.1, 1.25, 2.0];
/// How often the widest band may move because a check contradicts it.
const ROUNDS: usize = 4;
/// A rise of the yield with the band counts from so many standard deviations of the difference
/// on, as if the two trials had nothing in common; on common random numbers it varies less.
const RISE: f64 = 3.0;

/// Bands that widen with one number.
pub struct BandLine<'a> {
    /// The bands at a place, from 0.
    pub bands: &'a dyn Fn(f64) -> Tolerances,
    /// The band of the scenario, or 1 for a factor.
    pub present: f64,
    /// The last place allowed, above 0.
    pub top: f64,
}

impl BandLine<'_> {
    /// What is small is so beside this.
    fn scale(&self) -> f64 {
        if self.present > 0.0 { self.present } else { self.top }
    }
}

impl std::fmt::Debug for BandLine<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Line from 0 over {} to {}", self.present, self.top)
    }
}

/// A place on the line that was tried.
#[derive(Debug, Clone, PartialEq)]
pub struct TriedBand {
    /// Where.
    pub at: f64,
    /// What came of it.
    pub trial: Trial,
    /// Its yield, with its interval at the shared level.
    pub good: Yield,
    /// Whether the lower end of that meets the target.
    pub meets: bool,
}

/// What the search found along a line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BandSearch {
    /// All places tried, rising.
    pub points: Vec<TriedBand>,
    /// The last place allowed.
    pub top: f64,
}

impl BandSearch {
    /// The narrowest place tried that fails; none when the widest allowed passes.
    pub fn failing(&self) -> Option<&TriedBand> {
        self.points.iter().find(|p| !p.meets)
    }

    /// The widest place that passes and below which nothing tried fails; none when even a band
    /// of zero fails.
    pub fn widest(&self) -> Option<&TriedBand> {
        self.points.iter().take_while(|p| p.meets).last()
    }

    /// Neighbouring places, the narrower first, where the wider one does better: it alone passes,
    /// or its yield is higher by more than chance explains.
    pub fn violations(&self) -> Vec<(f64, f64)> {
        let against = |pair: &&[TriedBand]| {
            let [narrow, wide] = pair else { return false };
            let failures = |p: &TriedBand| (p.trial.samples - p.trial.good) as f64;
            let rise = failures(narrow) - failures(wide);
            let chance = RISE * (failures(narrow) + failures(wide)).sqrt();
            (wide.meets && !narrow.meets) || rise > chance
        };
        self.points.windows(2).filter(against).map(|pair| (pair[0].at, pair[1].at)).collect()
    }

    /// Tries a place, once.
    fn try_at(&mut self, at: f64, line: &BandLine, trials: &mut Trials) -> Result<(), StudyError> {
        let index = self.points.partition_point(|p| p.at < at);
        if self.points.get(index).is_some_and(|p| p.at <= at) {
            return Ok(());
        }
        let trial = trials.on_search_samples(&(line.bands)(at))?;
        let good = trials.rule.interval(&trial)?;
        let meets = good.verdict(trials.rule.target) == Verdict::Pass;
        self.points.insert(index, TriedBand { at, trial, good, meets });
        Ok(())
    }

    /// Where to try next to close in on the widest band; none when it is closed in.
    fn next(&self, line: &BandLine) -> Option<f64> {
        let inside = self.widest()?.at;
        match self.failing().map(|p| p.at) {
            None if inside >= line.top => None,
            None if inside > 0.0 => Some((GROWTH * inside).min(line.top)),
            None => Some(if line.present > 0.0 { line.present } else { line.top / 8.0 }),
            Some(outside) => {
                let closed =
                    outside - inside <= RESOLUTION * inside || outside <= FLOOR * line.scale();
                let middle = if inside > 0.0 { (inside * outside).sqrt() } else { outside / 2.0 };
                (!closed).then_some(middle)
            }
        }
    }

    /// Places about the widest band that have to agree with it.
    fn checks(&self, line: &BandLine) -> Vec<f64> {
        let Some(widest) = self.widest().filter(|p| p.at > 0.0) else { return Vec::new() };
        CHECKS.iter().map(|share| share * widest.at).filter(|at| *at <= line.top).collect()
    }
}

/// Searches the widest place that meets the target.
///
/// A bracket grows from the scenario's place, then halves (in ratio) down to [`RESOLUTION`]. That
/// takes it that wider bands do no better. The search does not trust it: places about the widest
/// band are tried too, and one that fails below it moves it below itself.
///
/// # Errors
///
/// Those of the trials.
pub fn search(line: &BandLine, trials: &mut Trials) -> Result<BandSearch, StudyError> {
    let mut search = BandSearch { points: Vec::new(), top: line.top };
    search.try_at(0.0, line, trials)?;
    search.try_at(line.present, line, trials)?;
    for _ in 0..ROUNDS {
        while let Some(at) = search.next(line) {
            search.try_at(at, line, trials)?;
        }
        let before = search.widest().map(|p| p.at);
        for at in search.checks(line) {
            search.try_at(at, line, trials)?;
        }
        if search.widest().map(|p| p.at) == before {
            break;
        }
    }
    Ok(search)
}
