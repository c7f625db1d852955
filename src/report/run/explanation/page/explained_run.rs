//! A run with what explains it.

use crate::study::explanation::Explanation;
use crate::study::run::Run;

/// A run with its explanation.
#[derive(Clone, Copy)]
pub(in crate::report::run) struct ExplainedRun<'a> {
    pub(in crate::report::run) run: &'a Run,
    pub(in crate::report::run) explanation: &'a Explanation,
}
