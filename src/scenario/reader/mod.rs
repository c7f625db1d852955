//! A typed reader of TOML tables that gathers every error instead of stopping at the first.
//!
//! A key is asked for once: `table.key("band").quantity::<Ratio>(&BAND).required()`. The result is
//! `None` when the value is wrong or missing, which is then in the [`Log`].

mod field;
mod pair;
mod table;
mod values;

use std::cell::RefCell;

use toml::de::DeValue;

pub(super) use self::field::{Field, Reading};
pub(super) use self::table::Table;
use crate::input::diagnostics::Diagnostic;

/// The errors found so far.
#[derive(Debug)]
pub(super) struct Log {
    errors: RefCell<Vec<Diagnostic>>,
    complete: bool,
}

impl Log {
    /// A log for a document that is `complete`: otherwise its syntax is wrong, and what seems to
    /// be missing or unknown in it may be no more than an effect of that.
    pub(super) fn new(complete: bool) -> Self {
        Self { errors: RefCell::default(), complete }
    }

    pub(super) fn report(&self, error: Diagnostic) {
        self.errors.borrow_mut().push(error);
    }

    pub(super) fn report_if_complete(&self, error: Diagnostic) {
        if self.complete {
            self.report(error);
        }
    }

    pub(super) fn into_errors(self) -> Vec<Diagnostic> {
        self.errors.into_inner()
    }
}

/// A condition on a number and its words: "above zero".
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    pub(super) words: &'static str,
    pub(super) hold: fn(f64) -> bool,
}

/// Above zero.
pub(super) const POSITIVE: Bounds = Bounds { words: "above zero", hold: |x| x > 0.0 };
/// Zero or more.
pub(super) const NOT_NEGATIVE: Bounds = Bounds { words: "of zero or more", hold: |x| x >= 0.0 };

fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "an array",
        DeValue::Table(_) => "a table",
    }
}

/// "a, b or c"
fn listed(words: impl Iterator<Item = String>) -> String {
    let words: Vec<_> = words.collect();
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => "nothing".to_owned(),
    }
}

/// The word that was probably meant: at most a third of its letters differ.
fn nearest<'w>(typed: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let distance = |word: &str| strsim::damerau_levenshtein(typed, word);
    words
        .map(|word| (distance(word), word))
        .filter(|(distance, word)| *distance <= word.len().div_ceil(3))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, word)| word)
}
