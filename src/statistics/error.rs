//! What can be wrong with a question to this layer.

use thiserror::Error;

/// One variant for each condition that a caller can violate.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum StatisticsError {
    /// A confidence level outside (0, 1).
    #[error("the confidence level is {0}; it must lie between 0 and 1, neither included")]
    Confidence(f64),
    /// A content outside (0, 1).
    #[error("the content is {0}; it must lie between 0 and 1, neither included")]
    Content(f64),
    /// A proportion of nothing.
    #[error("there are no trials: a proportion needs at least one")]
    NoTrials,
    /// More successes than trials.
    #[error("there are {successes} successes in {trials} trials; there can be no more than trials")]
    Successes {
        /// The successes given.
        successes: u64,
        /// The trials given.
        trials: u64,
    },
    /// The question asks for more samples than can be told apart.
    #[error("content {content} at confidence {confidence} takes more than 10^12 samples")]
    TooManySamples {
        /// The content asked for.
        content: f64,
        /// The confidence level asked for.
        confidence: f64,
    },
}
