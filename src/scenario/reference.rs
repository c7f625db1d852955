//! The reference of scenario files: every table and key, in Markdown.

use super::description::describe;
use super::reader::{ANY_PARAMETER, Description, KeyDescription, Presence, ValueKind};

/// A section for every table, with its keys.
pub fn scenario_reference() -> String {
    let all = describe();
    let mut text = "### At the top of the file\n\n".to_owned();
    text += &keys(&all, "");
    sections(&all, "", &mut text);
    text
}

/// The sections of the tables in a table, each followed by those of the tables in it.
fn sections(all: &Description, path: &str, text: &mut String) {
    for key in all.keys_of_table(path).filter(|key| is_table(key)) {
        let path = key.path();
        let is_family =
            all.keys_of_table(&path).all(|key| key.key == ANY_PARAMETER && is_table(key));
        if !is_family {
            let title = match key.kind {
                ValueKind::Tables => format!("[[{path}]]"),
                _ => format!("[{path}]"),
            };
            *text += &format!("\n### `{title}`\n\n{}\n\n{}", about(key), keys(all, &path));
        }
        sections(all, &path, text);
    }
}

fn is_table(key: &KeyDescription) -> bool {
    matches!(key.kind, ValueKind::Table | ValueKind::Tables)
}

/// What a table is for, as a sentence.
fn about(key: &KeyDescription) -> String {
    let mut letters = key.meaning.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    let meaning: String = first.chain(letters).collect();
    match &key.presence {
        Presence::Required => format!("{meaning}. Required."),
        Presence::Optional(words) => format!("{meaning}. Left out: {words}."),
        Presence::Default(default) => format!("{meaning}. Left out: `{default}`."),
    }
}

/// The keys of a table that are no tables themselves.
fn keys(all: &Description, path: &str) -> String {
    let rows = all.keys_of_table(path).filter(|key| !is_table(key)).map(|key| {
        let left_out = match &key.presence {
            Presence::Required => "required".to_owned(),
            Presence::Default(default) => format!("`{default}`"),
            Presence::Optional(words) => (*words).to_owned(),
        };
        format!("| `{}` | {} | {left_out} | {} |\n", key.key, expected(&key.kind), key.meaning)
    });
    let rows: String = rows.collect();
    if rows.is_empty() {
        return "Holds tables only.\n".to_owned();
    }
    format!("| key | value | left out | meaning |\n|---|---|---|---|\n{rows}")
}

/// What a value must be.
fn expected(kind: &ValueKind) -> String {
    let quoted = |words: &[&str]| {
        words.iter().map(|word| format!("`\"{word}\"`")).collect::<Vec<_>>().join(", ")
    };
    match kind {
        ValueKind::Quantity { dimension, bounds } => {
            format!("{} {}, such as `\"{}\"`", dimension.noun(), bounds.words, dimension.example())
        }
        ValueKind::Quantities { dimension, bounds } => {
            let example = dimension.example();
            format!("array, each {} {}: `[\"{example}\"]`", dimension.noun(), bounds.words)
        }
        ValueKind::Number { bounds, example } => {
            format!("a number {}, such as `{example}`", bounds.words)
        }
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
