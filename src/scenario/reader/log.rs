//! What was found while a scenario is read.

use std::cell::RefCell;

use super::description::{Description, Recorder};
use super::unknown::UnknownKey;
use crate::input::diagnostics::Diagnostic;

/// The errors found so far, and what was asked for.
#[derive(Debug)]
pub(in crate::scenario) struct Log {
    errors: RefCell<Vec<Diagnostic>>,
    unknown: RefCell<Vec<UnknownKey>>,
    pub(super) asked: Recorder,
    complete: bool,
}

impl Log {
    /// A log for a document that is `complete`: otherwise its syntax is wrong, and what seems to
    /// be missing or unknown in it may be no more than an effect of that.
    pub(in crate::scenario) fn new(complete: bool) -> Self {
        Self {
            errors: RefCell::default(),
            unknown: RefCell::default(),
            asked: Recorder::default(),
            complete,
        }
    }

    pub(in crate::scenario) fn report(&self, error: Diagnostic) {
        self.errors.borrow_mut().push(error);
    }

    pub(super) fn has_errors(&self) -> bool {
        !self.errors.borrow().is_empty() || !self.unknown.borrow().is_empty()
    }

    pub(in crate::scenario) fn report_if_complete(&self, error: Diagnostic) {
        if self.complete {
            self.report(error);
        }
    }

    pub(super) fn report_unknown(&self, key: UnknownKey) {
        if self.complete {
            self.unknown.borrow_mut().push(key);
        }
    }

    /// The errors; `all` tells the keys of all tables, to say where an unknown one belongs.
    pub(in crate::scenario) fn errors(self, all: impl FnOnce() -> Description) -> Vec<Diagnostic> {
        let mut errors = self.errors.into_inner();
        let unknown = self.unknown.into_inner();
        if !unknown.is_empty() {
            let all = all();
            errors.extend(unknown.into_iter().map(|key| key.located(&all)));
        }
        errors
    }

    /// What was asked for.
    pub(in crate::scenario) fn description(self) -> Description {
        self.asked.into_description()
    }
}
