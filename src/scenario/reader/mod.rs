//! A typed reader of TOML tables that gathers every error instead of stopping at the first.
//!
//! A key is asked for once, with its meaning: `table.key("band", "half width of the band")`, then
//! `.quantity::<Ratio>(BAND).required()`. The result is `None` when the value is wrong or missing,
//! which is then in the [`Log`]. The log also notes down what was asked for: the [`Description`],
//! from which the schema and the reference of scenario files are made.

mod band;
mod description;
mod field;
mod log;
mod pair;
mod table;
mod tables;
mod unknown;
mod values;

use toml::de::DeValue;

pub(super) use self::description::{
    ANY_PARAMETER, Bounds, Description, KeyDescription, KeyRule, NOT_NEGATIVE, POSITIVE, Presence,
    ValueKind,
};
pub(super) use self::field::{Field, Reading};
pub(super) use self::log::Log;
pub(super) use self::table::Table;

fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "an array",
        DeValue::Table(_) => "a table",
    }
}

/// "a, b or c"
pub(in crate::scenario) fn listed(words: impl Iterator<Item = String>) -> String {
    let words: Vec<_> = words.collect();
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => "nothing".to_owned(),
    }
}

/// The word that was probably meant: at most a third of its letters differ.
pub(crate) fn nearest<'w>(typed: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let distance = |word: &str| strsim::damerau_levenshtein(typed, word);
    words
        .map(|word| (distance(word), word))
        .filter(|(distance, word)| *distance <= word.len().div_ceil(3))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, word)| word)
}
