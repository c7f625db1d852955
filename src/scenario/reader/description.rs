//! What the reader asks of a scenario file: noted down key by key while it reads, so that schema
//! and reference cannot differ from what is read.

use std::cell::RefCell;
use std::ops::{Bound, RangeInclusive};

use crate::converter::Parameter;
use crate::input::quantity::Dimension;

/// Stands for the key of any parameter.
pub(in crate::scenario) const ANY_PARAMETER: &str = "X";

/// A condition on a number and its words: "above zero".
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::scenario) struct Bounds {
    pub(in crate::scenario) words: &'static str,
    pub(in crate::scenario) low: Bound<f64>,
    pub(in crate::scenario) high: Bound<f64>,
}

impl Bounds {
    /// Whether a number keeps to them.
    pub(in crate::scenario) fn hold(self, x: f64) -> bool {
        let above = match self.low {
            Bound::Included(low) => x >= low,
            Bound::Excluded(low) => x > low,
            Bound::Unbounded => true,
        };
        let below = match self.high {
            Bound::Included(high) => x <= high,
            Bound::Excluded(high) => x < high,
            Bound::Unbounded => true,
        };
        above && below
    }
}

/// Above zero.
pub(in crate::scenario) const POSITIVE: Bounds =
    Bounds { words: "above zero", low: Bound::Excluded(0.0), high: Bound::Unbounded };
/// Zero or more.
pub(in crate::scenario) const NOT_NEGATIVE: Bounds =
    Bounds { words: "of zero or more", low: Bound::Included(0.0), high: Bound::Unbounded };

/// What the value of a key must be.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::scenario) enum ValueKind {
    /// A text of number, SI prefix and unit.
    Quantity { dimension: Dimension, bounds: Bounds },
    /// An array of such texts, one at least.
    Quantities { dimension: Dimension, bounds: Bounds },
    /// A tolerance band: a half width, where it may be a letter of IEC 60062, or an array of two ends.
    Band { dimension: Dimension, bounds: Bounds, ends: Bounds, has_letters: bool },
    /// A bare number.
    Number { bounds: Bounds },
    /// A whole number.
    Integer(RangeInclusive<u64>),
    /// `true` or `false`.
    Boolean,
    /// A line of text.
    Text,
    /// One of these words.
    Choice(Vec<&'static str>),
    /// An array of two of these words.
    Pair(Vec<&'static str>),
    /// A table.
    Table,
    /// An array of tables, one at least.
    Tables,
}

/// Whether a key may be left out.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::scenario) enum Presence {
    /// It may not.
    Required,
    /// It may; this value then stands for it, written as TOML.
    Default(String),
    /// It may; the words say what that means.
    Optional(&'static str),
}

/// A key of a scenario file, as the reader asks for it.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::scenario) struct KeyDescription {
    /// The path of its table, `converter.tank`; empty for the whole file.
    pub(in crate::scenario) table: String,
    /// The key; [`ANY_PARAMETER`] for the key of any parameter.
    pub(in crate::scenario) key: &'static str,
    /// What it means.
    pub(in crate::scenario) meaning: &'static str,
    /// What its value must be.
    pub(in crate::scenario) kind: ValueKind,
    /// Whether it may be left out.
    pub(in crate::scenario) presence: Presence,
    /// The value that the file gives, as TOML, where it is a text or a number.
    pub(in crate::scenario) example: Option<String>,
}

impl KeyDescription {
    /// The path of the table that the value is, if it is one.
    pub(in crate::scenario) fn path(&self) -> String {
        joined(&self.table, self.key)
    }

    /// Its meaning as a sentence.
    pub(in crate::scenario) fn sentence(&self) -> String {
        let mut letters = self.meaning.chars();
        let first = letters.next().into_iter().flat_map(char::to_uppercase);
        first.chain(letters).chain(['.']).collect()
    }

    /// The keys that it stands for.
    pub(in crate::scenario) fn keys(&self) -> Vec<&'static str> {
        match self.key {
            ANY_PARAMETER => Parameter::ALL.map(Parameter::key).into(),
            key => vec![key],
        }
    }
}

/// A condition on several keys of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::scenario) enum KeyRule {
    /// Exactly one of two keys is given.
    ExactlyOne { table: String, keys: [&'static str; 2] },
    /// A key is given only where another one has one of these values.
    OnlyWith { table: String, key: &'static str, other: &'static str, values: Vec<&'static str> },
    /// A key must be given where another one has one of these values.
    NeededWith { table: String, key: &'static str, other: &'static str, values: Vec<&'static str> },
    /// A key is given, or both of two others.
    OneOrBoth { table: String, key: &'static str, others: [&'static str; 2] },
    /// Not both of two keys are given.
    NotBoth { table: String, keys: [&'static str; 2] },
}

/// What the reader asked for so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::scenario) struct Description {
    /// The keys, in the order in which they were asked for, each once.
    pub(in crate::scenario) keys: Vec<KeyDescription>,
    /// The rules, each once.
    pub(in crate::scenario) rules: Vec<KeyRule>,
}

impl Description {
    /// The keys of a table.
    pub(in crate::scenario) fn keys_of_table(
        &self,
        table: &str,
    ) -> impl Iterator<Item = &KeyDescription> {
        self.keys.iter().filter(move |key| key.table == table)
    }
}

/// Notes down what is asked for.
#[derive(Debug, Default)]
pub(super) struct Recorder(RefCell<Description>);

impl Recorder {
    pub(super) fn key(&self, key: KeyDescription) {
        let mut all = self.0.borrow_mut();
        if !all.keys.iter().any(|known| (&known.table, known.key) == (&key.table, key.key)) {
            all.keys.push(key);
        }
    }

    pub(super) fn rule(&self, rule: KeyRule) {
        let mut all = self.0.borrow_mut();
        if !all.rules.contains(&rule) {
            all.rules.push(rule);
        }
    }

    pub(super) fn into_description(self) -> Description {
        self.0.into_inner()
    }
}

/// The path of a key in a table.
pub(super) fn joined(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}
