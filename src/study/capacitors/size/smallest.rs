//! The smallest size that meets the target, and all larger ones too, except those that settle too slowly.
//!
//! All sizes are tried on the same samples. The largest sizes are left out if they miss the target there
//! and most of their failures miss the limit on the settling time, which rises with the size. Of the
//! others a size belongs to the range from which one is chosen if it and all larger ones have a yield of at
//! least the target. Of these the smallest is chosen whose interval, at the scenario's confidence, meets
//! the target by its lower end. A smaller size may meet the target by itself, beyond one that does not:
//! flying capacitors resonate with the tanks. It is told, and not chosen.
//!
//! The choice is flattered by the samples that it was made on. So it is tried on fresh samples,
//! [`VERIFICATION_FACTOR`] times as many. If it misses the target there, the next larger one is tried on
//! fresh samples of its own, [`VERIFICATIONS`] at most. Every run takes its interval at the level
//! 1 − (1 − confidence)/[`VERIFICATIONS`] (Bonferroni).

use crate::population::RandomSource;
use crate::statistics::{StatisticsError, Verdict, Yield};
use crate::study::bands::fresh_source;
use crate::study::bands::rule::{Rule, VERIFICATION_FACTOR, VERIFICATIONS};
use crate::study::common::demand::Binding;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::settings::Draws;
use crate::study::common::trials::Trial;

/// Tells the fresh samples of these runs from those of all other questions.
const QUESTION: u64 = 40;

/// Tells how many samples pass with flying capacitors of a size, by its place among the sizes.
pub trait SizeEvaluator {
    /// On these samples.
    ///
    /// # Errors
    ///
    /// When the user asks to stop.
    fn trial(&mut self, size: usize, draws: Draws) -> Result<Trial, StudyError>;
}

/// A run on fresh samples.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeVerification {
    /// Place of the size.
    pub size: usize,
    /// Its samples, used for nothing else.
    pub source: RandomSource,
    /// The yield, with its interval at the shared level.
    pub good: Yield,
    /// Whether the lower end of that interval meets the target.
    pub meets: bool,
    /// The demand missed most often, and where.
    pub binding: Option<Binding>,
}

/// The smallest size that meets the target together with all larger ones.
#[derive(Debug, Clone, PartialEq)]
pub struct SmallestSize {
    /// Its place, on the samples of the search; none where no such size is shown to meet the target.
    pub found: Option<usize>,
    /// Place of the largest size shown to meet the target there; none where none is.
    pub largest: Option<usize>,
    /// From this place on sizes miss the target because they settle too slowly.
    pub too_slow_from: Option<usize>,
    /// Places of smaller sizes that meet the target there, though the yield of a larger one lies below it.
    pub alone: Vec<usize>,
    /// The runs on fresh samples. The last one meets the target, or none does.
    pub runs: Vec<SizeVerification>,
}

impl SmallestSize {
    /// Chooses among sizes, in rising order, by their trials on the samples of the search; a size without
    /// a trial misses the target. Verifies the choice.
    ///
    /// # Errors
    ///
    /// Those of the evaluator.
    pub fn find(
        trials: &[Option<&Trial>],
        rule: &Rule,
        search: Draws,
        evaluator: &mut dyn SizeEvaluator,
    ) -> Result<Self, StudyError> {
        let meets = |trial: Option<&Trial>| -> Result<bool, StatisticsError> {
            let Some(Trial { good, samples, .. }) = trial else { return Ok(false) };
            Ok(Yield::new(*good, *samples, rule.plain)?.verdict(rule.target) == Verdict::Pass)
        };
        let meets: Vec<bool> = trials.iter().copied().map(meets).collect::<Result<_, _>>()?;
        let is_below = |trial: Option<&Trial>| {
            trial.is_none_or(|own| (own.good as f64) < rule.target * own.samples as f64)
        };
        let is_too_slow =
            |trial: Option<&Trial>| is_below(trial) && trial.is_some_and(misses_settling);
        let end = trials.iter().rposition(|trial| !is_too_slow(*trial)).map_or(0, |last| last + 1);
        let too_slow_from = (end < trials.len()).then_some(end);
        let below = trials[..end].iter().copied().rposition(is_below);
        let first = below.map_or(0, |below| below + 1);
        let found = (first..end).find(|size| meets[*size]);
        let largest = (first..end).rfind(|size| meets[*size]);
        let alone = (0..first).filter(|size| meets[*size]).collect();
        let tried = found.map_or(0..0, |found| found..end).take(VERIFICATIONS);
        let mut runs = Vec::new();
        for size in tried {
            let source = fresh_source(search.source, QUESTION, runs.len());
            let samples = VERIFICATION_FACTOR * search.samples;
            let trial = evaluator.trial(size, Draws { source, samples })?;
            let good = rule.interval(&trial)?;
            let meets = good.verdict(rule.target) == Verdict::Pass;
            runs.push(SizeVerification { size, source, good, meets, binding: trial.binding });
            if meets {
                break;
            }
        }
        Ok(Self { found, largest, too_slow_from, alone, runs })
    }

    /// Place of the largest size shown to meet the target, where a size is confirmed.
    pub fn upper_end(&self) -> Option<usize> {
        let confirmed = self.confirmed()?.size;
        Some(self.largest.map_or(confirmed, |largest| largest.max(confirmed)))
    }

    /// The run that confirms a size, if one does.
    pub fn confirmed(&self) -> Option<&SizeVerification> {
        self.runs.last().filter(|run| run.meets)
    }
}

/// Whether more samples miss the limit on the settling time than any other.
fn misses_settling(trial: &Trial) -> bool {
    let missed = trial.binding.as_ref().and_then(|binding| binding.demand.figure);
    matches!(missed, Some(Figure::Settling(_)))
}
