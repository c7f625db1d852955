//! A key of a table, and what became of it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

use super::{Bounds, Log, Table, type_name};
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::Quantity;

/// A key of a table, given or not.
#[derive(Debug)]
pub(in crate::scenario) struct Field<'a> {
    pub(super) key: &'static str,
    pub(super) entry: Option<(&'a Spanned<DeString<'a>>, &'a Spanned<DeValue<'a>>)>,
    pub(super) name: String,
    pub(super) table: String,
    pub(super) path: String,
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

    /// A table within the table.
    pub(in crate::scenario) fn table(self) -> Reading<'a, Table<'a>> {
        let title = format!("[{}]", self.path);
        let kind = format!("a table {title}");
        let state = match self.entry {
            None => State::Absent,
            Some((_, value)) => match value.get_ref() {
                DeValue::Table(entries) => {
                    State::Given(self.inner(Some(entries), value.span(), title))
                }
                other => {
                    self.log.report(self.wrong_type(other, &kind));
                    State::Wrong
                }
            },
        };
        Reading { state, wanted: kind, field: self }
    }

    /// The tables of an array of tables, all those that are tables; one at least is needed.
    pub(in crate::scenario) fn tables(self) -> Vec<Table<'a>> {
        let title = format!("[[{}]]", self.path);
        let label = format!("expected one {title} at least");
        let none = |span| Diagnostic::new(span, format!("{} lacks {title}", self.table), &label);
        match self.entry.map(|(_, value)| (value.get_ref(), value.span())) {
            None => self.log.report_if_complete(none(self.table_span.clone())),
            Some((DeValue::Array(items), span)) if items.is_empty() => self.log.report(none(span)),
            Some((DeValue::Array(items), _)) => {
                return items.iter().filter_map(|item| self.item(item, &title)).collect();
            }
            Some((DeValue::Table(_), span)) => self.log.report(
                Diagnostic::new(span, format!("`{}` is a single table", self.key), label)
                    .with_help(Some(format!("write {title}, with two brackets"))),
            ),
            Some((other, _)) => {
                self.log.report(self.wrong_type(other, &format!("tables {title}")));
            }
        }
        Vec::new()
    }

    /// An array of quantities, one at least.
    pub(in crate::scenario) fn quantities<Q: Quantity>(
        self,
        bounds: Bounds,
    ) -> Reading<'a, Vec<Q>> {
        let example = Q::DIMENSION.example();
        let wanted = format!("an array of quantities such as [\"{example}\"]");
        let state = match self.entry.map(|(key, value)| (key, value.get_ref())) {
            None => State::Absent,
            Some((_, DeValue::Array(items))) if items.is_empty() => {
                self.log.report(self.wrong("is empty", &wanted));
                State::Wrong
            }
            Some((key, DeValue::Array(items))) => {
                let each = items.iter().map(|item| {
                    let name = format!("an item of {}", self.name);
                    let (table, path) = (self.table.clone(), self.path.clone());
                    let (table_span, log) = (self.table_span.clone(), self.log);
                    let entry = Some((key, item));
                    Field { key: self.key, entry, name, table, path, table_span, log }
                        .quantity(bounds)
                        .required()
                });
                // All items are read before one of them ends it, so that all errors are found.
                let each: Vec<Option<Q>> = each.collect();
                each.into_iter().collect::<Option<_>>().map_or(State::Wrong, State::Given)
            }
            Some((_, other)) => {
                self.log.report(self.wrong_type(other, &wanted));
                State::Wrong
            }
        };
        Reading { state, wanted, field: self }
    }

    fn item(&self, item: &'a Spanned<DeValue<'a>>, title: &str) -> Option<Table<'a>> {
        if let DeValue::Table(entries) = item.get_ref() {
            return Some(self.inner(Some(entries), item.span(), title.to_owned()));
        }
        self.log.report(Diagnostic::new(
            item.span(),
            format!("an item of `{}` is {}", self.key, type_name(item.get_ref())),
            format!("expected a table {title}"),
        ));
        None
    }

    fn inner(
        &self,
        entries: Option<&'a DeTable<'a>>,
        span: Range<usize>,
        title: String,
    ) -> Table<'a> {
        let path = self.path.clone();
        Table { entries, span, path, title, subject: None, asked: Vec::new(), log: self.log }
    }

    /// Applies `convert` to the value, if there is one, and reports its error. `kind` says what
    /// is wanted, as in "expected a whole number".
    pub(super) fn read<T>(
        self,
        kind: &str,
        convert: impl FnOnce(&Self, &DeValue<'a>, &str) -> Result<T, Diagnostic>,
    ) -> Reading<'a, T> {
        let state = match self.entry.map(|(_, value)| convert(&self, value.get_ref(), kind)) {
            None => State::Absent,
            Some(Ok(value)) => State::Given(value),
            Some(Err(error)) => {
                self.log.report(error);
                State::Wrong
            }
        };
        Reading { state, wanted: format!("`{}`, {kind}", self.key), field: self }
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

#[derive(Debug)]
enum State<T> {
    Absent,
    Wrong,
    Given(T),
}

/// What became of a key. Each way to go on gives `None` when an error was reported.
#[derive(Debug)]
pub(in crate::scenario) struct Reading<'a, T> {
    state: State<T>,
    wanted: String,
    field: Field<'a>,
}

impl<T> Reading<'_, T> {
    /// The value; its lack is an error of the table.
    pub(in crate::scenario) fn required(self) -> Option<T> {
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

    /// The value, or `default` where the key is left out.
    pub(in crate::scenario) fn or(self, default: T) -> Option<T> {
        self.optional().map(|given| given.unwrap_or(default))
    }

    /// The value, or `Some(None)` where the key is left out.
    #[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
    pub(in crate::scenario) fn optional(self) -> Option<Option<T>> {
        match self.state {
            State::Given(value) => Some(Some(value)),
            State::Wrong => None,
            State::Absent => Some(None),
        }
    }
}

impl<'a> Reading<'a, Table<'a>> {
    /// The table, or an empty one where it is left out.
    pub(in crate::scenario) fn or_empty(self) -> Option<Table<'a>> {
        match self.state {
            State::Given(table) => Some(table),
            State::Wrong => None,
            State::Absent => {
                let title = format!("[{}]", self.field.path);
                Some(self.field.inner(None, self.field.table_span.clone(), title))
            }
        }
    }
}
