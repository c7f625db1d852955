//! The reference of scenario files: every table and key, in Markdown.

use super::description::describe;
use super::reader::{ANY_PARAMETER, Description, KeyDescription, Presence, ValueKind};

/// A section for every table, with its keys.
pub fn scenario_reference() -> String {
    let all = describe();
    let top = keys(&all, "");
    format!("### At the top of the file\n\n{top}{}", sections(&all, ""))
}

/// The sections of the tables in a table, each followed by those of the tables in it.
fn sections(all: &Description, path: &str) -> String {
    let tables = all.keys_of_table(path).filter(|key| is_table(key));
    tables.map(|key| section(all, key) + &sections(all, &key.path())).collect()
}

/// The section of a table; empty where it only holds tables of the parameters.
fn section(all: &Description, table: &KeyDescription) -> String {
    let path = table.path();
    if all.keys_of_table(&path).all(|key| key.key == ANY_PARAMETER && is_table(key)) {
        return String::new();
    }
    let title = match table.kind {
        ValueKind::Tables => format!("[[{path}]]"),
        _ => format!("[{path}]"),
    };
    let left_out = match &table.presence {
        Presence::Required => "Required.".to_owned(),
        Presence::Optional(words) => format!("Left out: {words}."),
        Presence::Default(default) => format!("Left out: `{default}`."),
    };
    let meaning = table.sentence();
    format!("\n### `{title}`\n\n{meaning} {left_out}\n\n{}", keys(all, &path))
}

fn is_table(key: &KeyDescription) -> bool {
    matches!(key.kind, ValueKind::Table | ValueKind::Tables)
}

/// The keys of a table that are no tables themselves.
fn keys(all: &Description, path: &str) -> String {
    let rows = all.keys_of_table(path).filter(|key| !is_table(key)).map(|key| {
        let left_out = match &key.presence {
            Presence::Required => "required".to_owned(),
            Presence::Default(default) => format!("`{default}`"),
            Presence::Optional(words) => (*words).to_owned(),
        };
        format!("| `{}` | {} | {left_out} | {} |\n", key.key, expected(key), key.meaning)
    });
    let rows: String = rows.collect();
    if rows.is_empty() {
        return "Holds tables only.\n".to_owned();
    }
    format!("| key | value | left out | meaning |\n|---|---|---|---|\n{rows}")
}

/// What a value must be.
fn expected(key: &KeyDescription) -> String {
    let quoted = |words: &[&str]| {
        words.iter().map(|word| format!("`\"{word}\"`")).collect::<Vec<_>>().join(", ")
    };
    let such_as = |words: String| match &key.example {
        Some(example) => format!("{words}, such as `{example}`"),
        None => words,
    };
    match &key.kind {
        ValueKind::Quantity { dimension, bounds } => {
            such_as(format!("{} {}", dimension.noun(), bounds.words))
        }
        ValueKind::Quantities { dimension, bounds } => {
            format!("array, each {} {}", dimension.noun(), bounds.words)
        }
        ValueKind::Band { dimension, bounds, has_letters, .. } => {
            let letter = if *has_letters { ", a letter of IEC 60062" } else { "" };
            format!("{} {}{letter}, or an array of two ends", dimension.noun(), bounds.words)
        }
        ValueKind::Number { bounds } => such_as(format!("a number {}", bounds.words)),
        ValueKind::Integer(range) if *range.end() == u64::MAX => {
            format!("a whole number of {} or more", range.start())
        }
        ValueKind::Integer(range) => {
            format!("a whole number from {} to {}", range.start(), range.end())
        }
        ValueKind::Text => "a line of text".to_owned(),
        ValueKind::Choice(words) => quoted(words),
        ValueKind::Pair(words) => format!("array of two of {}", quoted(words)),
        ValueKind::Table | ValueKind::Tables => String::new(),
    }
}
