//! The proof: bands that a search chose, drawn anew from seeds that it did not use.
//!
//! The rule is fixed before anything is drawn. There are up to [`VERIFICATIONS`] looks, each on a fresh
//! seed of its own. The first is at the bands found; each that misses shrinks them, by 3 %, 6 % and
//! 12 % of what was found ([`SHRINK`]), and the first that meets the target ends the proof. All
//! places but the present one are rounded down to three digits before they are drawn, so that the number printed is the
//! one that was tried. Every look takes its interval at the level 1 − (1 − confidence)/[`VERIFICATIONS`] (Bonferroni), whether the
//! others are needed or not: so all looks together err no more often than the scenario's
//! confidence allows.
//!
//! A look draws [`VERIFICATION_FACTOR`] the samples of the search: bands that the search sees to hold by its
//! own, wider interval lie clear of the target then, and a look seldom misses them.

use super::line_search::BandLine;
use super::trials::{Trials, fresh_seed};
use crate::scenario::Tolerances;
use crate::statistics::{Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::error::StudyError;

/// The most looks of a proof.
pub const VERIFICATIONS: usize = 4;
/// How many times the samples of the search a look draws.
pub const VERIFICATION_FACTOR: u64 = 4;
/// What is left of the bands found at each look.
pub const SHRINK: [f64; VERIFICATIONS] = [1.0, 0.97, 0.91, 0.79];

/// A run on a fresh seed.
#[derive(Debug, Clone, PartialEq)]
pub struct Verification {
    /// Where on the line.
    pub at: f64,
    /// The seed, used for nothing else.
    pub seed: u64,
    /// The yield, with its interval at the shared level.
    pub good: Yield,
    /// Whether its lower end meets the target.
    pub meets: bool,
    /// The demand missed most often, and where.
    pub binding: Option<Binding>,
}

impl Verification {
    /// Draws bands from the fresh seed of a look of a question.
    ///
    /// # Errors
    ///
    /// Those of the trials.
    pub fn take(
        (at, bands): (f64, &Tolerances),
        (question, verification): (u64, usize),
        trials: &mut Trials,
    ) -> Result<Self, StudyError> {
        let seed = fresh_seed(trials.search.seed, question, verification as u64);
        let trial = trials.verification(bands, seed)?;
        let good = trials.rule.interval(&trial)?;
        let meets = good.verdict(trials.rule.target) == Verdict::Pass;
        Ok(Self { at, seed, good, meets, binding: trial.binding })
    }
}

/// Proves a place on a line, or one further in. Gives all looks taken: the last one meets the
/// target, or none does.
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
        let verification = Verification::take((at, &(line.bands)(at)), (question, n), trials)?;
        let done = verification.meets || found <= 0.0;
        verifications.push(verification);
        if done {
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

/// The look that proves, if one does.
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
