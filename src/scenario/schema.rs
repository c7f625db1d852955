//! The JSON Schema of scenario files, for editors and other programs (draft 2020-12 of JSON Schema:
//! json-schema.org).

use std::ops::Bound;

use serde_json::{Map, Value, json};

use super::description::describe;
use super::letters::all_letters;
use super::reader::{
    ANY_PARAMETER, Bounds, Description, KeyDescription, KeyRule, Presence, ValueKind,
};
use crate::input::quantity::{Dimension, MAGNITUDES};
use crate::printable;

/// The schema of scenario files.
pub fn scenario_schema() -> Value {
    let all = describe();
    let mut schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Scenario of fairphase",
        "description": "A converter, its operating points and tolerances, and what it must meet. \
                        The values are those of the TOML file.",
    });
    let mut shared = Map::new();
    for key in all.keys.iter().filter(|key| key.key == ANY_PARAMETER) {
        shared.insert(key.path(), value(&all, key));
    }
    extend(&mut schema, table(&all, ""));
    schema["$defs"] = Value::Object(shared);
    schema
}

/// The schema of a table.
fn table(all: &Description, path: &str) -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for key in all.keys_of_table(path) {
        for name in key.keys() {
            let schema = match key.key {
                ANY_PARAMETER => json!({ "$ref": format!("#/$defs/{}", key.path()) }),
                _ => value(all, key),
            };
            properties.insert(name.to_owned(), schema);
        }
        if key.presence == Presence::Required && key.key != ANY_PARAMETER {
            required.push(key.key);
        }
    }
    let mut schema = json!({
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    });
    let rules: Vec<Value> = all.rules.iter().filter_map(|rule| condition(rule, path)).collect();
    if !rules.is_empty() {
        schema["allOf"] = rules.into();
    }
    schema
}

/// What a rule demands of a table; none where it is about another one.
fn condition(rule: &KeyRule, path: &str) -> Option<Value> {
    let (table, condition) = match rule {
        KeyRule::ExactlyOne { table, keys } => {
            (table, json!({ "oneOf": keys.map(|key| json!({ "required": [key] })) }))
        }
        KeyRule::OnlyWith { table, key, other, values } => {
            let then = json!({ "properties": { *other: { "enum": values } } });
            (table, json!({ "if": { "required": [key] }, "then": then }))
        }
        KeyRule::NeededWith { table, key, other, values } => {
            let has_value =
                json!({ "required": [other], "properties": { *other: { "enum": values } } });
            (table, json!({ "if": has_value, "then": { "required": [key] } }))
        }
        KeyRule::OneOrBoth { table, key, others } => {
            (table, json!({ "anyOf": [{ "required": [key] }, { "required": others }] }))
        }
        KeyRule::NotBoth { table, keys } => (table, json!({ "not": { "required": keys } })),
    };
    (table == path).then_some(condition)
}

/// The schema of a value, with its meaning.
fn value(all: &Description, key: &KeyDescription) -> Value {
    let mut schema = json!({ "description": description(key) });
    if let Presence::Default(default) = &key.presence {
        schema["default"] = from_toml(default);
    } else if let Some(example) = &key.example {
        schema["examples"] = json!([from_toml(example)]);
    }
    let kind = match &key.kind {
        ValueKind::Quantity { dimension, bounds } => quantity(*dimension, *bounds),
        ValueKind::Quantities { dimension, bounds } => {
            json!({ "type": "array", "minItems": 1, "items": quantity(*dimension, *bounds) })
        }
        ValueKind::Band { dimension, bounds, ends, has_letters } => {
            let two = json!({
                "type": "array", "minItems": 2, "maxItems": 2,
                "items": quantity(*dimension, *ends),
            });
            let mut forms = vec![quantity(*dimension, *bounds), two];
            if *has_letters {
                let letters: Vec<_> = all_letters().map(String::from).collect();
                forms.push(json!({ "enum": letters }));
            }
            json!({ "anyOf": forms })
        }
        ValueKind::Number { bounds } => number(*bounds),
        ValueKind::Integer(range) => {
            json!({ "type": "integer", "minimum": range.start(), "maximum": range.end() })
        }
        ValueKind::Boolean => json!({ "type": "boolean" }),
        ValueKind::Text => json!({ "type": "string", "pattern": line_of_text() }),
        ValueKind::Choice(words) => json!({ "type": "string", "enum": words }),
        ValueKind::Pair(words) => json!({
            "type": "array",
            "minItems": 2,
            "maxItems": 2,
            "uniqueItems": true,
            "items": { "type": "string", "enum": words },
        }),
        ValueKind::Table => table(all, &key.path()),
        ValueKind::Tables => {
            json!({ "type": "array", "minItems": 1, "items": table(all, &key.path()) })
        }
    };
    extend(&mut schema, kind);
    schema
}

/// Not blank, and without the characters that [`printable`] writes out.
fn line_of_text() -> String {
    // Patterns have no escape for characters above U+FFFF that all readers know: these stand there.
    let written = |c: char| match u32::from(c) {
        code @ ..=0xffff => format!("\\u{code:04x}"),
        _ => c.to_string(),
    };
    let ranges = printable::STEERING
        .iter()
        .flat_map(|range| [written(*range.start()), "-".to_owned(), written(*range.end())]);
    let steering: String = ranges.collect();
    format!("^[^{steering}]*[^\\s{steering}][^{steering}]*$")
}

/// A text of number, prefix and unit. What lies above a bound of percentages (100 %) it cannot tell.
fn quantity(dimension: Dimension, bounds: Bounds) -> Value {
    let number = match bounds.low {
        Bound::Excluded(low) if low >= 0.0 => {
            "\\+?(0*[1-9][0-9]*(\\.[0-9]+)?|[0-9]*\\.0*[1-9][0-9]*)"
        }
        Bound::Included(low) if low >= 0.0 => "\\+?([0-9]+(\\.[0-9]+)?|\\.[0-9]+)",
        _ => "[+-]?([0-9]+(\\.[0-9]+)?|\\.[0-9]+)",
    };
    let prefixes: Vec<_> = dimension.prefixes().iter().map(|(prefix, ..)| *prefix).collect();
    let (prefixes, units) = (prefixes.join("|"), dimension.symbols().join("|"));
    let exponent = "([eE][+-]?[0-9]+)?";
    json!({
        "type": "string",
        "pattern": format!("^\\s*{number}{exponent}\\s*({prefixes})({units})\\s*$"),
    })
}

fn number(bounds: Bounds) -> Value {
    let mut schema = json!({ "type": "number" });
    match bounds.low {
        Bound::Included(low) => schema["minimum"] = json!(low),
        Bound::Excluded(low) => schema["exclusiveMinimum"] = json!(low),
        Bound::Unbounded => schema["minimum"] = json!(-MAGNITUDES.end()),
    }
    match bounds.high {
        Bound::Included(high) => schema["maximum"] = json!(high),
        Bound::Excluded(high) => schema["exclusiveMaximum"] = json!(high),
        Bound::Unbounded => schema["maximum"] = json!(MAGNITUDES.end()),
    }
    schema
}

/// The meaning in sentences: what it is, its range, and what holds where it is left out.
fn description(key: &KeyDescription) -> String {
    let expected = match &key.kind {
        ValueKind::Quantity { dimension, bounds }
        | ValueKind::Quantities { dimension, bounds }
        | ValueKind::Band { dimension, bounds, .. } => {
            format!(" Expects {} {}.", dimension.noun(), bounds.words)
        }
        _ => String::new(),
    };
    let left_out = match key.presence {
        Presence::Optional(words) => format!(" Left out: {words}."),
        Presence::Required | Presence::Default(_) => String::new(),
    };
    key.sentence() + &expected + &left_out
}

fn from_toml(text: &str) -> Value {
    let parsed: Option<toml::Table> = format!("value = {text}").parse().ok();
    let value = parsed.and_then(|mut table| table.remove("value"));
    value.and_then(|value| serde_json::to_value(value).ok()).unwrap_or_default()
}

/// Adds the members of one object to another.
fn extend(schema: &mut Value, more: Value) {
    if let (Value::Object(schema), Value::Object(more)) = (schema, more) {
        schema.extend(more);
    }
}
