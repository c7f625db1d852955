//! Keys whose values are tables.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::description::joined;
use super::field::State;
use super::{Field, Presence, Reading, Table, ValueKind, type_name};
use crate::input::diagnostics::Diagnostic;

impl<'a> Field<'a> {
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
        let toml = Box::new(|_: &Table<'_>| "{}".to_owned());
        Reading { state, wanted: kind, kind: ValueKind::Table, toml, field: self }
    }

    /// The tables of an array of tables, all those that are tables; one at least is needed.
    /// `presence` is for descriptions: the caller asks only where the key is given or required.
    pub(in crate::scenario) fn tables(self, presence: Presence) -> Vec<Table<'a>> {
        self.describe(ValueKind::Tables, presence);
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
        Table {
            entries,
            span,
            path: self.path.clone(),
            described: joined(&self.described_table, self.described_key),
            title,
            subject: None,
            asked: Vec::new(),
            log: self.log,
        }
    }
}

impl<'a> Reading<'a, Table<'a>> {
    /// The table, or an empty one where it is left out.
    pub(in crate::scenario) fn or_empty(self, left_out: &'static str) -> Option<Table<'a>> {
        self.field.describe(ValueKind::Table, Presence::Optional(left_out));
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
