//! Verification: bands that a search chose, on fresh samples that it did not use.
//!
//! The rule is fixed before anything is drawn. There are up to [`VERIFICATIONS`] runs, each on fresh
//! samples of its own. The first is at the bands found. Each that misses shrinks them, by 3 %, 9 %
//! and 21 % of what was found ([`SHRINK`]), and the first that meets the target is the last. All
//! places but the present one are rounded down to three digits before they are drawn, so that the
//! number printed is the one that was tried. Every run takes its interval at the level
//! 1 − (1 − confidence)/[`VERIFICATIONS`] (Bonferroni), whether the others are needed or not: so all
//! runs together err no more often than the scenario's confidence allows.
//!
//! A run draws [`VERIFICATION_FACTOR`](super::rule::VERIFICATION_FACTOR) times the samples of the
//! search. Bands that the search sees to hold by its own, wider interval keep clear of the target
//! then, and a run seldom misses them.

use super::line_search::BandLine;
use super::rule::VERIFICATIONS;
use super::trials::Trials;
use crate::population::RandomSource;
use crate::scenario::Tolerances;
use crate::statistics::{Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::error::StudyError;

/// What is left of the bands found at each run.
pub const SHRINK: [f64; VERIFICATIONS] = [1.0, 0.97, 0.91, 0.79];

/// A run on fresh samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Verification {
    /// Where on the line.
    pub at: f64,
    /// Its samples, used for nothing else.
    pub source: RandomSource,
    /// The yield, with its interval at the shared level.
    pub good: Yield,
    /// Whether its lower end meets the target.
    pub meets: bool,
    /// The demand missed most often, and where.
    pub binding: Option<Binding>,
}

impl Verification {
    /// Tries the bands at a place of a line on fresh samples.
    ///
    /// # Errors
    ///
    /// Those of the trials.
    pub fn run(
        at: f64,
        bands: &Tolerances,
        source: RandomSource,
        trials: &mut Trials,
    ) -> Result<Self, StudyError> {
        let trial = trials.verify(bands, source)?;
        let good = trials.rule.interval(&trial)?;
        let meets = good.verdict(trials.rule.target) == Verdict::Pass;
        Ok(Self { at, source, good, meets, binding: trial.binding })
    }
}

/// Verifies a place on a line, or one further in. Gives all runs: the last one meets the target, or
/// none does.
///
/// # Errors
///
/// Those of the trials.
pub fn verify(
    line: &BandLine,
    found: f64,
    question: u64,
    trials: &mut Trials,
) -> Result<Vec<Verification>, StudyError> {
    let mut verifications = Vec::new();
    for (n, share) in SHRINK.iter().enumerate() {
        let at = written(share * found, line.present);
        let source = trials.fresh(question, n);
        let verification = Verification::run(at, &(line.bands)(at), source, trials)?;
        let is_last = verification.meets || found <= 0.0;
        verifications.push(verification);
        if is_last {
            break;
        }
    }
    Ok(verifications)
}

/// A place as it is written down: the present one as the scenario has it, others with three digits.
fn written(at: f64, present: f64) -> f64 {
    let rounded = rounded_down(at);
    if at >= present { rounded.max(present) } else { rounded }
}

/// Three digits of a number of zero or more, never above it but by rounding errors; below a
/// billionth nothing.
#[must_use]
pub fn rounded_down(x: f64) -> f64 {
    let scales = || (-9..=11).map(|n| 10_f64.powi(n));
    let scale = scales().find(|scale| x * scale >= 100.0).unwrap_or(0.0);
    if scale > 0.0 { (x * scale * (1.0 + 1e-12)).floor() / scale } else { 0.0 }
}

/// The run that confirms, if one does.
pub fn confirmed(verifications: &[Verification]) -> Option<&Verification> {
    verifications.last().filter(|verification| verification.meets)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_digits_are_kept_and_nothing_is_added() {
        for (x, kept) in [
            (0.0, 0.0),
            (0.107_999, 0.107),
            (0.4, 0.4),
            (0.3, 0.3),
            (1.509, 1.5),
            (0.008_345_1, 0.008_34),
            (123.9, 123.0),
            (1.0, 1.0),
            (0.07, 0.07),
        ] {
            assert!((rounded_down(x) - kept).abs() < 1e-15, "{x}: {}", rounded_down(x));
        }
    }
}
