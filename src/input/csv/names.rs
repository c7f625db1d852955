//! Names of units and serials of parts.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::Range;

use crate::input::diagnostics::Diagnostic;
use crate::printable;

/// Longest text of a cell that messages show, in characters.
const SHOWN: usize = 60;

/// The beginning of a text that a message quotes: a cell may be as long as the file.
pub(crate) fn quoted(text: &str) -> Cow<'_, str> {
    printable::beginning(text, SHOWN)
}

/// Names that were read, for those that differ by upper and lower case alone.
#[derive(Debug, Default)]
pub(crate) struct Names {
    seen: BTreeMap<String, String>,
}

/// How a name was spelt before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Spelling {
    /// It is new.
    New,
    /// In the same way.
    Same,
    /// In this other way, with other upper and lower case.
    Other(String),
}

impl Names {
    /// Notes down a name.
    pub(crate) fn note(&mut self, name: &str) -> Spelling {
        match self.seen.entry(name.to_lowercase()).or_default() {
            first if first.is_empty() => {
                name.clone_into(first);
                Spelling::New
            }
            first if first == name => Spelling::Same,
            first => Spelling::Other(first.clone()),
        }
    }
}

/// Two names that differ by case alone: one of them is misspelt.
pub(crate) fn differs_by_case(span: Range<usize>, name: &str, first: &str) -> Diagnostic {
    Diagnostic::new(
        span,
        format!(
            "`{}` differs from `{}` above it only in upper and lower case",
            quoted(name),
            quoted(first)
        ),
        "expected the same spelling, or a name that differs otherwise",
    )
}
