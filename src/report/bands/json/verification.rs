//! A verification run in the summary of `bands`.

use schemars::JsonSchema;
use serde::Serialize;

use crate::report::format::json::MissedMost;
use crate::statistics::{Verdict, Yield};
use crate::study::bands::verification::Verification;

/// A run on fresh samples.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct VerificationResult {
    /// Random stream of the samples, used for nothing else.
    stream: u64,
    #[serde(rename = "yield")]
    verified_yield: Yield,
    /// Whether the lower end of the interval meets the target.
    meets: bool,
    /// `meets`, `open` (the target is inside the interval) or `misses`.
    result: &'static str,
    binding: Option<MissedMost>,
}

pub(super) fn verification_result(run: &Verification, target: f64) -> VerificationResult {
    VerificationResult {
        stream: run.source.stream,
        verified_yield: run.good,
        meets: run.meets,
        result: match run.good.verdict(target) {
            Verdict::Pass => "meets",
            Verdict::NotDecided => "open",
            Verdict::Fail => "misses",
        },
        binding: run.binding.as_ref().map(MissedMost::new),
    }
}
