//! The kinds of value that a key may have.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeValue;

use super::field::{State, Wanted};
use super::{Bounds, Field, Reading, ValueKind, listed, nearest};
use crate::input::quantity::{self, Quantity};
use crate::input::whole;
use crate::printable;

impl<'a> Field<'a> {
    /// A quantity with its unit.
    pub(in crate::scenario) fn quantity<Q: Quantity>(self, bounds: Bounds) -> Reading<'a, Q> {
        let dimension = Q::DIMENSION;
        let (noun, example) = (dimension.noun(), dimension.example());
        let wanted = Wanted {
            words: format!("{noun} such as \"{example}\""),
            kind: ValueKind::Quantity { dimension, bounds },
            toml: Box::new(|value: &Q| quantity::written(*value)),
        };
        self.read(wanted, |field, value, kind| {
            let text = match value {
                DeValue::String(text) => text,
                DeValue::Integer(_) | DeValue::Float(_) => {
                    let bare = is_finite(value);
                    let problem = if bare { "is a bare number" } else { "is not a finite number" };
                    return Err(field.wrong(problem, &format!("a quantity such as \"{example}\"")));
                }
                _ => return Err(field.wrong_type(value, kind)),
            };
            let quantity = quantity::parse::<Q>(text).map_err(|mistake| {
                field
                    .wrong(&mistake.to_string(), &mistake.expected(dimension))
                    .with_help(mistake.help())
            })?;
            if !bounds.hold(quantity.value()) {
                let problem = format!("is {}", text.trim());
                return Err(field.wrong(&problem, &format!("{noun} {}", bounds.words)));
            }
            Ok(quantity)
        })
    }

    /// An array of quantities, one at least.
    pub(in crate::scenario) fn quantities<Q: Quantity>(
        self,
        bounds: Bounds,
    ) -> Reading<'a, Vec<Q>> {
        let dimension = Q::DIMENSION;
        let wanted = format!("an array of quantities such as [\"{}\"]", dimension.example());
        let state = match self.entry.map(|(_, value)| value.get_ref()) {
            None => State::Absent,
            Some(DeValue::Array(items)) if items.is_empty() => {
                self.log.report(self.wrong("is empty", &wanted));
                State::Wrong
            }
            Some(DeValue::Array(items)) => {
                // All items are read before one of them ends it, so that all errors are found.
                let read: Vec<Option<Q>> =
                    items.iter().map(|item| self.quantity_in(item, bounds)).collect();
                read.into_iter().collect::<Option<_>>().map_or(State::Wrong, State::Given)
            }
            Some(other) => {
                self.log.report(self.wrong_type(other, &wanted));
                State::Wrong
            }
        };
        let kind = ValueKind::Quantities { dimension, bounds };
        let toml = Box::new(|values: &Vec<Q>| {
            let items: Vec<_> = values.iter().map(|value| quantity::written(*value)).collect();
            format!("[{}]", items.join(", "))
        });
        Reading { state, wanted, kind, toml, field: self }
    }

    pub(super) fn quantity_in<Q: Quantity>(
        &self,
        item: &'a Spanned<DeValue<'a>>,
        bounds: Bounds,
    ) -> Option<Q> {
        let name = format!("an item of {}", self.name);
        let entry = self.entry.map(|(key, _)| (key, item));
        match (Field { entry, name, ..self.clone() }).quantity(bounds).state {
            State::Given(quantity) => Some(quantity),
            State::Absent | State::Wrong => None,
        }
    }

    /// A bare number, whole or not.
    pub(in crate::scenario) fn number(self, bounds: Bounds, example: &str) -> Reading<'a, f64> {
        let wanted = Wanted {
            words: format!("a number {}, such as {example}", bounds.words),
            kind: ValueKind::Number { bounds },
            toml: Box::new(f64::to_string),
        };
        self.read(wanted, |field, value, kind| {
            let number = match value {
                DeValue::Integer(whole) => i64::from_str_radix(whole.as_str(), whole.radix())
                    .map_or(f64::INFINITY, |whole| whole as f64),
                DeValue::Float(float) => float.as_str().parse().unwrap_or(f64::NAN),
                _ => return Err(field.wrong_type(value, kind)),
            };
            if !is_finite(value) {
                return Err(field.wrong("is not a finite number", kind));
            }
            let number = quantity::in_range(number)
                .map_err(|mistake| field.wrong(&mistake.to_string(), kind))?;
            if bounds.hold(number) {
                Ok(number)
            } else {
                Err(field.wrong(&format!("is {number}"), kind))
            }
        })
    }

    /// A whole number.
    pub(in crate::scenario) fn integer(self, range: &RangeInclusive<u64>) -> Reading<'a, u64> {
        let wanted = Wanted {
            words: format!("a whole number from {} to {}", range.start(), range.end()),
            kind: ValueKind::Integer(range.clone()),
            toml: Box::new(u64::to_string),
        };
        self.read(wanted, |field, value, kind| {
            let (number, shown) = match value {
                DeValue::Integer(whole) => {
                    let number = u64::from_str_radix(whole.as_str(), whole.radix()).ok();
                    (number, whole.to_string())
                }
                // TOML calls 1e5 a float.
                DeValue::Float(float) => match whole::parse(float.as_str()) {
                    Some(number) => (Some(number), float.to_string()),
                    None => return Err(field.wrong_type(value, kind)),
                },
                _ => return Err(field.wrong_type(value, kind)),
            };
            let number = number.filter(|number| range.contains(number));
            number.ok_or_else(|| field.wrong(&format!("is {shown}"), kind))
        })
    }

    /// One line of text that is not blank, without characters that steer what is shown.
    pub(in crate::scenario) fn text(self) -> Reading<'a, String> {
        let wanted = Wanted {
            words: "a line of text in quotes".to_owned(),
            kind: ValueKind::Text,
            toml: Box::new(|text: &String| format!("\"{text}\"")),
        };
        self.read(wanted, |field, value, kind| {
            let DeValue::String(text) = value else {
                return Err(field.wrong_type(value, kind));
            };
            if text.trim().is_empty() {
                return Err(field.wrong("is empty", kind));
            }
            if let Some(hidden) = text.chars().find(|c| printable::steers(*c)) {
                let problem = format!("holds the character {}", printable::code(hidden));
                return Err(field.wrong(&problem, "text without characters that do not show"));
            }
            Ok(text.trim().to_owned())
        })
    }

    /// One of a few words.
    pub(in crate::scenario) fn choice<T: Copy + 'a>(
        self,
        choices: impl IntoIterator<Item = T>,
        name: fn(T) -> &'static str,
    ) -> Reading<'a, T> {
        let choices: Vec<T> = choices.into_iter().collect();
        let words: Vec<_> = choices.iter().map(|choice| name(*choice)).collect();
        let wanted = Wanted {
            words: listed(words.iter().map(|word| format!("\"{word}\""))),
            kind: ValueKind::Choice(words.clone()),
            toml: Box::new(move |choice: &T| format!("\"{}\"", name(*choice))),
        };
        self.read(wanted, |field, value, kind| {
            let DeValue::String(text) = value else {
                return Err(field.wrong_type(value, kind));
            };
            let chosen = choices.iter().find(|choice| name(**choice) == text);
            chosen.copied().ok_or_else(|| {
                let near = nearest(text, words.iter().copied());
                field
                    .wrong(&format!("is \"{text}\""), kind)
                    .with_help(near.map(|near| format!("did you mean \"{near}\"?")))
            })
        })
    }
}

fn is_finite(value: &DeValue<'_>) -> bool {
    let DeValue::Float(float) = value else { return true };
    float.as_str().parse::<f64>().is_ok_and(f64::is_finite)
}
