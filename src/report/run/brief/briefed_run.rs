//! A run with what its brief tells.

use crate::scenario::Scenario;
use crate::study::explanation::Explanation;
use crate::study::run::Run;

/// A run with all that its brief tells.
#[derive(Debug, Clone, Copy)]
pub(in crate::report::run) struct BriefedRun<'a> {
    pub(in crate::report::run) scenario: &'a Scenario,
    pub(in crate::report::run) run: &'a Run,
    pub(in crate::report::run) explanation: Option<&'a Explanation>,
}
