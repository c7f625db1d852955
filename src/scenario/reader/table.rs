//! A table that is being read.

use std::ops::Range;

use toml::de::DeTable;

use super::description::joined;
use super::unknown::UnknownKey;
use super::{ANY_PARAMETER, Field, KeyRule, Log, listed};
use crate::converter::Parameter;
use crate::input::diagnostics::Diagnostic;

/// A table that is being read.
#[derive(Debug)]
pub(in crate::scenario) struct Table<'a> {
    /// `None` reads like an empty table.
    pub(super) entries: Option<&'a DeTable<'a>>,
    /// Its header, to point at.
    pub(super) span: Range<usize>,
    /// The path of its header, `converter.tank`; empty for the whole file.
    pub(super) path: String,
    /// The same path in descriptions, with [`ANY_PARAMETER`] for the key of a parameter.
    pub(super) described: String,
    /// What messages call it, `[converter.tank]`.
    pub(super) title: String,
    /// What its keys describe, where the header alone does not say it.
    pub(super) subject: Option<String>,
    pub(super) asked: Vec<&'static str>,
    pub(super) log: &'a Log,
}

impl<'a> Table<'a> {
    /// The outermost table of a file.
    pub(in crate::scenario) fn root(entries: &'a DeTable<'a>, log: &'a Log) -> Self {
        Self {
            entries: Some(entries),
            span: 0..0,
            path: String::new(),
            described: String::new(),
            title: "the scenario".to_owned(),
            subject: None,
            asked: Vec::new(),
            log,
        }
    }

    /// The same table, whose keys are spoken of as "the band of `subject`".
    pub(in crate::scenario) fn about(mut self, subject: String) -> Self {
        self.subject = Some(subject);
        self
    }

    /// The header.
    pub(in crate::scenario) fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Asks for a key, which from now on is a known one; `meaning` tells it to the user.
    pub(in crate::scenario) fn key(
        &mut self,
        key: &'static str,
        meaning: &'static str,
    ) -> Field<'a> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        Field {
            key,
            described_key: key,
            meaning,
            entry: self.entries.and_then(|entries| entries.get_key_value(key)),
            name: self.name_of(key),
            table: self.title.clone(),
            path: joined(&self.path, key),
            described_table: self.described.clone(),
            table_span: self.span(),
            log: self.log,
        }
    }

    /// Asks for the key of a parameter, in a table where each parameter may have one of the same
    /// meaning.
    pub(in crate::scenario) fn key_of(
        &mut self,
        parameter: Parameter,
        meaning: &'static str,
    ) -> Field<'a> {
        Field { described_key: ANY_PARAMETER, ..self.key(parameter.key(), meaning) }
    }

    /// Notes down that exactly one of two keys is to be given: the caller checks it.
    pub(in crate::scenario) fn exactly_one(&self, keys: [&'static str; 2]) {
        self.log.asked.rule(KeyRule::ExactlyOne { table: self.described.clone(), keys });
    }

    /// Notes down that a key goes only with some values of another one: the caller checks it.
    pub(in crate::scenario) fn only_with(
        &self,
        key: &'static str,
        other: &'static str,
        values: Vec<&'static str>,
    ) {
        let table = self.described.clone();
        self.log.asked.rule(KeyRule::OnlyWith { table, key, other, values });
    }

    /// Notes down that some values of another key need this one: the caller checks it.
    pub(in crate::scenario) fn needed_with(
        &self,
        key: &'static str,
        other: &'static str,
        values: Vec<&'static str>,
    ) {
        let table = self.described.clone();
        self.log.asked.rule(KeyRule::NeededWith { table, key, other, values });
    }

    /// Notes down that a key is to be given, or both of two others: the caller checks it.
    pub(in crate::scenario) fn one_or_both(&self, key: &'static str, others: [&'static str; 2]) {
        let table = self.described.clone();
        self.log.asked.rule(KeyRule::OneOrBoth { table, key, others });
    }

    /// Notes down that not both of two keys are to be given: the caller checks it.
    pub(in crate::scenario) fn not_both(&self, keys: [&'static str; 2]) {
        self.log.asked.rule(KeyRule::NotBoth { table: self.described.clone(), keys });
    }

    /// Whether an error was reported so far.
    pub(in crate::scenario) fn has_errors(&self) -> bool {
        self.log.has_errors()
    }

    /// Reports an error.
    pub(in crate::scenario) fn report(&self, error: Diagnostic) {
        self.log.report(error);
    }

    /// Reports an error at `place`, or at the table's header where there is no such place.
    pub(in crate::scenario) fn report_at(
        &self,
        place: Option<Range<usize>>,
        message: String,
        expected: &str,
    ) {
        self.report(Diagnostic::new(place.unwrap_or_else(|| self.span()), message, expected));
    }

    /// Reports what the table lacks.
    pub(in crate::scenario) fn report_missing(&self, message: String, expected: &str) {
        self.report_missing_at(None, message, expected);
    }

    /// Reports what the table lacks for what stands at `place`; at the table's header where there is no such
    /// place.
    pub(in crate::scenario) fn report_missing_at(
        &self,
        place: Option<Range<usize>>,
        message: String,
        expected: &str,
    ) {
        let place = place.unwrap_or_else(|| self.span());
        self.log.report_if_complete(Diagnostic::new(place, message, expected));
    }

    /// Where a key of a table within this one stands, the tables on the way first.
    pub(in crate::scenario) fn place_of(&self, path: &[&str]) -> Option<Range<usize>> {
        let (last, tables) = path.split_last()?;
        let find = |entries: &'a DeTable<'a>, name: &str| {
            entries.iter().find(|(key, _)| key.get_ref().as_ref() == name)
        };
        let within = tables.iter().try_fold(self.entries?, |entries, name| {
            let (_, value) = find(entries, name)?;
            value.get_ref().as_table()
        });
        find(within?, last).map(|(key, _)| key.span())
    }

    /// Reports the keys that nobody asked for.
    pub(in crate::scenario) fn finish(self) {
        for (key, value) in self.entries.into_iter().flatten() {
            if self.asked.contains(&key.get_ref().as_ref()) {
                continue;
            }
            let what = if value.get_ref().is_table() { "table" } else { "key" };
            let message = format!("unknown {what} `{}` in {}", key.get_ref(), self.title);
            let label = format!("expected {}", listed(self.asked.iter().map(|k| format!("`{k}`"))));
            self.log.report_unknown(UnknownKey {
                key: key.get_ref().to_string(),
                known: self.asked.clone(),
                error: Diagnostic::new(key.span(), message, label),
            });
        }
    }

    fn name_of(&self, key: &str) -> String {
        match &self.subject {
            Some(subject) => format!("the {} of {subject}", key.replace('_', " ")),
            None => format!("`{key}`"),
        }
    }
}
