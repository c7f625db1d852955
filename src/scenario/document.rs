//! TOML text → table with positions, and what is wrong with its syntax.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue, Error};

use crate::input::diagnostics::Diagnostic;
use crate::input::quantity;

/// Reads as much of a TOML text as can be understood, with an error for the rest.
pub(super) fn parse(text: &str) -> (DeTable<'_>, Vec<Diagnostic>) {
    // Such as a summary of results: one error instead of one a line.
    let start = text.len() - text.trim_start().len();
    if text[start..].starts_with('{') {
        let what = "this is not valid TOML but looks like JSON".to_owned();
        let error = Diagnostic::new(start..start + 1, what, "expected a scenario".to_owned());
        return (DeTable::new(), vec![error]);
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut errors: Vec<_> = errors.iter().map(|error| explain(text, error)).collect();
    // All other keys that seem to be doubled are an effect of it.
    if errors.iter().any(is_single_point) {
        errors.retain(is_single_point);
    }
    (table.into_inner(), errors)
}

/// What is said of an operating point that replaces the one before.
const TWO_BRACKETS: &str = "expected [[operating_point]], with two brackets";

fn is_single_point(error: &Diagnostic) -> bool {
    error.label == TWO_BRACKETS
}

/// All values of a text by their places: `converter.tank.turns_ratio`. Of several tables of one name each has
/// its `name` in the place, or else its number.
pub(super) fn written(text: &str, table: &DeTable<'_>) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for (key, value) in table {
        write_down(key.get_ref().to_string(), value, text, &mut found);
    }
    found
}

fn write_down(
    place: String,
    value: &Spanned<DeValue<'_>>,
    text: &str,
    found: &mut BTreeMap<String, String>,
) {
    match value.get_ref() {
        DeValue::Table(entries) => {
            for (key, value) in entries {
                write_down(format!("{place}.{}", key.get_ref()), value, text, found);
            }
        }
        DeValue::Array(items) => {
            for (n, item) in items.iter().enumerate() {
                let name = item.get_ref().get("name").and_then(|name| name.get_ref().as_str());
                let label = name.map_or_else(|| (n + 1).to_string(), str::to_owned);
                write_down(format!("{place}.{label}"), item, text, found);
            }
        }
        DeValue::String(own) => {
            found.insert(place, own.to_string());
        }
        _ => {
            found.insert(place, text[value.span()].to_owned());
        }
    }
}

/// The parser's words come as "what is wrong, expected this".
fn explain(text: &str, error: &Error) -> Diagnostic {
    let span = error.span().unwrap_or(0..0);
    let (problem, expected) =
        error.message().split_once(", expected ").unwrap_or((error.message(), ""));
    let label = match (problem, expected) {
        ("string values must be quoted", _) => quoted(text, &span),
        ("duplicate key", _) if line_at(text, span.start).starts_with("[operating_point]") => {
            TWO_BRACKETS.to_owned()
        }
        ("duplicate key", _) => "expected each key and each table once".to_owned(),
        _ if let Some((number, tail)) = around_comma(text, span.start) => {
            if quantity::is_group_of_three(&number, &tail) {
                format!("expected {number}{tail} or {number}.{tail}")
            } else {
                format!("expected a decimal point: {number}.{tail}")
            }
        }
        (_, "") => "expected valid TOML".to_owned(),
        _ => format!("expected {expected}"),
    };
    Diagnostic::new(span, format!("this is not valid TOML: {problem}"), label)
}

/// The line in which a place lies.
fn line_at(text: &str, place: usize) -> &str {
    let begin = text.get(..place).and_then(|before| before.rfind('\n')).map_or(0, |feed| feed + 1);
    text.get(begin..).and_then(|rest| rest.lines().next()).unwrap_or_default()
}

/// What stands on either side of the comma in the number that is the value of a line; none where it has none.
fn around_comma(text: &str, place: usize) -> Option<(String, String)> {
    let value = line_at(text, place).split('#').next()?.split_once('=')?.1.trim();
    let (whole, fraction) = value.split_once(',')?;
    let is_number =
        |digits: &str| !digits.is_empty() && digits.bytes().all(|own| own.is_ascii_digit());
    let is_told = is_number(whole.trim_start_matches(['+', '-'])) && is_number(fraction);
    is_told.then(|| (whole.to_owned(), fraction.to_owned()))
}

fn quoted(text: &str, span: &Range<usize>) -> String {
    match text.get(span.clone()) {
        Some(bare) if bare.trim().is_empty() => "expected a value".to_owned(),
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
