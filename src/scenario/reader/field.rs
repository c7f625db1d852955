//! A key of a table, and what became of it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeString, DeValue};

use super::{KeyDescription, Log, Presence, ValueKind, type_name};
use crate::input::diagnostics::Diagnostic;

/// A key of a table, given or not.
#[derive(Debug, Clone)]
pub(in crate::scenario) struct Field<'a> {
    pub(super) key: &'static str,
    pub(super) described_key: &'static str,
    pub(super) meaning: &'static str,
    pub(super) entry: Option<(&'a Spanned<DeString<'a>>, &'a Spanned<DeValue<'a>>)>,
    pub(super) name: String,
    pub(super) table: String,
    pub(super) path: String,
    pub(super) described_table: String,
    pub(super) table_span: Range<usize>,
    pub(super) log: &'a Log,
}

impl<'a> Field<'a> {
    /// The place of the key, if it is given.
    pub(in crate::scenario) fn key_span(&self) -> Option<Range<usize>> {
        self.entry.map(|(key, _)| key.span())
    }

    /// The place of the value, if it is given.
    pub(in crate::scenario) fn value_span(&self) -> Option<Range<usize>> {
        self.entry.map(|(_, value)| value.span())
    }

    /// The value as text, if it is one; nothing is reported.
    pub(in crate::scenario) fn peek_text(&self) -> Option<&'a str> {
        self.entry.and_then(|(_, value)| value.get_ref().as_str())
    }

    /// Applies `convert` to the value, if there is one, and reports its error.
    pub(super) fn read<T>(
        self,
        wanted: Wanted<'a, T>,
        convert: impl FnOnce(&Self, &DeValue<'a>, &str) -> Result<T, Diagnostic>,
    ) -> Reading<'a, T> {
        let Wanted { words, kind, toml } = wanted;
        let state = match self.entry.map(|(_, value)| convert(&self, value.get_ref(), &words)) {
            None => State::Absent,
            Some(Ok(value)) => State::Given(value),
            Some(Err(error)) => {
                self.log.report(error);
                State::Wrong
            }
        };
        let wanted = format!("`{}`, {words}", self.key);
        Reading { state, wanted, kind, toml, field: self }
    }

    /// Notes down what is asked for.
    pub(super) fn describe(&self, kind: ValueKind, presence: Presence) {
        self.log.asked.key(KeyDescription {
            table: self.described_table.clone(),
            key: self.described_key,
            meaning: self.meaning,
            kind,
            presence,
            example: self.entry.and_then(|(_, value)| written(value.get_ref())),
        });
    }

    /// An error in the value.
    pub(super) fn wrong(&self, problem: &str, wanted: &str) -> Diagnostic {
        let span = self.value_span().unwrap_or_else(|| self.table_span.clone());
        Diagnostic::new(span, format!("{} {problem}", self.name), format!("expected {wanted}"))
    }

    /// An error in the type of the value.
    pub(super) fn wrong_type(&self, value: &DeValue<'_>, wanted: &str) -> Diagnostic {
        self.wrong(&format!("is {}", type_name(value)), wanted)
    }
}

/// A text or a number as TOML.
fn written(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(text) => Some(format!("\"{text}\"")),
        DeValue::Integer(number) => Some(number.as_str().to_owned()),
        DeValue::Float(number) => Some(number.as_str().to_owned()),
        _ => None,
    }
}

/// What a value is to be.
pub(super) struct Wanted<'a, T> {
    /// In words, as in "expected a whole number".
    pub(super) words: String,
    /// For descriptions.
    pub(super) kind: ValueKind,
    /// Writes a value as TOML.
    pub(super) toml: Box<dyn Fn(&T) -> String + 'a>,
}

#[derive(Debug)]
pub(super) enum State<T> {
    Absent,
    Wrong,
    Given(T),
}

/// What became of a key. Each way to go on gives `None` when an error was reported.
pub(in crate::scenario) struct Reading<'a, T> {
    pub(super) state: State<T>,
    pub(super) wanted: String,
    pub(super) kind: ValueKind,
    pub(super) toml: Box<dyn Fn(&T) -> String + 'a>,
    pub(super) field: Field<'a>,
}

impl<T> Reading<'_, T> {
    /// The value; its lack is an error of the table.
    pub(in crate::scenario) fn required(self) -> Option<T> {
        self.field.describe(self.kind, Presence::Required);
        match self.state {
            State::Given(value) => Some(value),
            State::Wrong => None,
            State::Absent => {
                let message = format!("{} lacks `{}`", self.field.table, self.field.key);
                let label = format!("expected {}", self.wanted);
                let span = self.field.table_span;
                self.field.log.report_if_complete(Diagnostic::new(span, message, label));
                None
            }
        }
    }

    /// The value, or `Some(None)` where the key is left out though it need not be there. Its lack is
    /// an error of the table where it `is_needed`; `left_out` says what holds elsewhere.
    #[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
    pub(in crate::scenario) fn needed_if(
        self,
        is_needed: bool,
        left_out: &'static str,
    ) -> Option<Option<T>> {
        if is_needed && matches!(self.state, State::Absent) {
            self.field.describe(self.kind.clone(), Presence::Optional(left_out));
            return self.required().map(Some);
        }
        self.optional(left_out)
    }

    /// The value, or `default` where the key is left out.
    pub(in crate::scenario) fn or(self, default: T) -> Option<T> {
        self.field.describe(self.kind, Presence::Default((self.toml)(&default)));
        self.state.optional().map(|given| given.unwrap_or(default))
    }

    /// The value, or `default` where the key is left out, which is not the same in every scenario:
    /// `left_out` says what it is.
    pub(in crate::scenario) fn or_from(self, default: T, left_out: &'static str) -> Option<T> {
        self.optional(left_out).map(|given| given.unwrap_or(default))
    }

    /// The value, or `Some(None)` where the key is left out; `left_out` says what that means.
    #[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
    pub(in crate::scenario) fn optional(self, left_out: &'static str) -> Option<Option<T>> {
        self.field.describe(self.kind, Presence::Optional(left_out));
        self.state.optional()
    }
}

impl<T> State<T> {
    #[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
    fn optional(self) -> Option<Option<T>> {
        match self {
            Self::Given(value) => Some(Some(value)),
            Self::Wrong => None,
            Self::Absent => Some(None),
        }
    }
}
