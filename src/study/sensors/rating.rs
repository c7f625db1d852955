//! The switch rating that gives the target, or why there is none.

use schemars::JsonSchema;
use serde::Serialize;

use crate::statistics::{Confidence, LargestPairs, StatisticsError, Verdict, Yield};

/// Why no switch rating was shown to give the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum NoRating {
    /// Other limits alone cost so many samples that no rating gives the target. The interval of one
    /// yield says so, at the scenario's confidence.
    #[serde(rename = "target missed")]
    Misses,
    /// The samples that fail for other reasons leave it open.
    #[serde(rename = "not decided")]
    NotDecided,
    /// So few samples show no rating, even if all of them are good.
    #[serde(rename = "too few samples")]
    TooFewSamples,
}

/// The RMS and the peak rating, in ampere, with which the target is met together
/// ([`LargestPairs::limits`]), or why none was shown. A sample that fails for another reason has no
/// value: no rating makes it good.
///
/// # Errors
///
/// [`StatisticsError::NoTrials`].
pub fn joint_rating(
    rated: &LargestPairs,
    target: f64,
    confidence: Confidence,
) -> Result<Result<[f64; 2], NoRating>, StatisticsError> {
    if let Some(ratings) = rated.limits(target, confidence) {
        return Ok(Ok(ratings));
    }
    // What no rating makes good fails with any.
    let with_any = Yield::new(rated.with_value(), rated.samples(), confidence)?;
    let suffice = rated.would_suffice(target, confidence);
    Ok(Err(match with_any.verdict(target) {
        Verdict::Fail => NoRating::Misses,
        _ if suffice => NoRating::NotDecided,
        _ => NoRating::TooFewSamples,
    }))
}
