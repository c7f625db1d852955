//! TOML text → table with positions, and what is wrong with its syntax.

use std::collections::BTreeSet;
use std::ops::Range;

use toml::de::{DeTable, Error};

use crate::input::diagnostics::Diagnostic;

/// Reads as much of a TOML text as can be understood, with an error for the rest.
pub(super) fn parse(text: &str) -> (DeTable<'_>, Vec<Diagnostic>) {
    let (table, errors) = DeTable::parse_recoverable(text);
    (table.into_inner(), errors.iter().map(|error| explain(text, error)).collect())
}

/// The tables and keys of a text without their positions.
pub(super) fn written(text: &str) -> Result<toml::Table, Diagnostic> {
    text.parse().map_err(|error| explain(text, &error))
}

/// The parser's words come as "what is wrong, expected this".
fn explain(text: &str, error: &Error) -> Diagnostic {
    let span = error.span().unwrap_or(0..0);
    let (problem, expected) =
        error.message().split_once(", expected ").unwrap_or((error.message(), ""));
    let label = match (problem, expected) {
        ("string values must be quoted", _) => quoted(text, &span),
        ("duplicate key", _) => "expected each key and each table once".to_owned(),
        (_, "") => "expected valid TOML".to_owned(),
        _ => format!("expected {expected}"),
    };
    Diagnostic::new(span, format!("this is not valid TOML: {problem}"), label)
}

fn quoted(text: &str, span: &Range<usize>) -> String {
    match text.get(span.clone()) {
        Some(bare) if !bare.contains(['"', '\\', '\n']) => format!("expected \"{}\"", bare.trim()),
        _ => "expected quotes".to_owned(),
    }
}

/// Of the errors in the values of a text whose syntax is wrong too, those that stand in lines
/// without a syntax error: the others may be its effect.
pub(super) fn apart_from(
    text: &str,
    syntax: &[Diagnostic],
    errors: Vec<Diagnostic>,
) -> impl Iterator<Item = Diagnostic> {
    let feeds: Vec<_> = text.match_indices('\n').map(|(offset, _)| offset).collect();
    let line = move |error: &Diagnostic| feeds.partition_point(|feed| *feed < error.span.start);
    let broken: BTreeSet<_> = syntax.iter().map(&line).collect();
    errors.into_iter().filter(move |error| !broken.contains(&line(error)))
}
